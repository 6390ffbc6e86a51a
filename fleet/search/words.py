"""What sources hand to the index: words of a site, each with the field it stands in and the shape it has."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class Field(TextChoices):
    """Where a word stands, as the reader is told."""

    CODE = "code", _("Site code")
    NAME = "name", _("Name")
    ADDRESS = "address", _("Address")
    SERIAL = "serial", _("Serial number")
    MODEL = "model", _("Maker and model")
    MAC = "mac", _("MAC address")
    OWNER = "owner", _("Owner")
    EMAIL = "email", _("E-mail address")
    PHONE = "phone", _("Telephone")
    TAG = "tag", _("Tag")
    REFERENCE = "reference", _("Reference")


class Shape(StrEnum):
    """How a text is looked for."""

    WORDS = "words"
    """Each word from its beginning; a mistyped one is corrected."""
    NUMBERED = "numbered"
    """Words with numbers among them, as in the name of a model: each word, and all that follows from it, joined."""
    SERIAL = "serial"
    """One code: from its beginning or by its last characters, look-alikes and punctuation aside."""
    EMAIL = "email"
    """An e-mail address: from its beginning, from each piece before the @, and from its domain."""
    PHONE = "phone"
    """A telephone number: with or without its country code, or by its last digits."""


class Word(NamedTuple):
    """One text by which a site is found. ``text`` is shown to the reader as it stands; ``past``: it was so once."""

    field: str
    """A value of :class:`Field`."""
    text: str
    shape: Shape = Shape.WORDS
    past: bool = False
