"""Moments and days as people and programs write them, within the years that every zone and database can hold."""

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _

FIRST_YEAR, LAST_YEAR = 1900, 9998


def read_moment(text: str) -> datetime | None:
    """The moment that ``text`` (ISO 8601 with its zone) names, or None where it names none or one that nobody means."""
    try:
        moment = parse_datetime(text)
    except (ValueError, OverflowError):
        return None
    return moment if moment is not None and timezone.is_aware(moment) and _meant(moment) else None


def read_day(text: str) -> date | None:
    """The day that ``text`` (ISO 8601) names, or None where it names none or one that nobody means."""
    try:
        day = parse_date(text)
    except ValueError:
        return None
    return day if day is not None and _meant(day) else None


def only_meant(day: date) -> None:
    """A validator of form fields: raises ValidationError for years that nobody means."""
    if not _meant(day):
        raise ValidationError(_("This year cannot be meant. Give one from 1900 on, with four digits."), "year")


def _meant(day: date) -> bool:
    return FIRST_YEAR <= day.year <= LAST_YEAR
