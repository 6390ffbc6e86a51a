"""The emergency file of a field page, and one record out of it that a person takes over."""

import json
from dataclasses import dataclass
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.models import Member
from fleet.moments import read_moment
from fleet.operations.captures import without_secrets
from fleet.operations.field_seals import SealBroken, open_seal

FORMAT = "rooftally-field-records"
PLAIN, SEALED = 1, 2
MOST_RECORDS = 2000


@dataclass(frozen=True)
class FiledRecord:
    """One record of the file: ``source`` is its JSON as it was saved, the rest is for people to look at."""

    source: str
    kind: str
    site: str
    text: str
    made_at: Any


class FieldFileForm(forms.Form):
    """Takes the file; after a clean, ``records`` and ``holder`` say what is in it.

    Version 1 holds the records as they are; version 2 holds those that a phone sealed when its member left.
    """

    file = forms.FileField(label=gettext_lazy("File from the phone"), widget=forms.FileInput(attrs={"accept": ".json"}))
    records: list[FiledRecord]
    holder: str

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._member = member

    def clean_file(self) -> UploadedFile:
        """The file, if it is one that a field page saved, whole and not too large."""
        upload: UploadedFile = self.cleaned_data["file"]
        if (upload.size or 0) > settings.UPLOAD_MAX_BYTES:
            raise forms.ValidationError(_("This file is larger than a field page saves. Nothing was taken from it."))
        try:
            document = json.loads(upload.read())
            holder, records = self._records(document)
            known = document["format"] == FORMAT and isinstance(records, list)
        except SealBroken as broken:
            raise forms.ValidationError(
                _("This file was sealed for a member of another company, or it was altered. Nothing was taken from it.")
            ) from broken
        except (ValueError, KeyError, TypeError, RecursionError):
            known = False
        if not known or len(records) > MOST_RECORDS or not all(isinstance(record, dict) for record in records):
            raise forms.ValidationError(
                _("This is no file of a field page, or it broke off on the way. Nothing was taken; save it again.")
            )
        self.records = [_filed(record) for record in records]
        self.holder = str(holder)[:120]
        return upload

    def _records(self, document: dict[str, Any]) -> tuple[Any, Any]:
        if document["version"] == SEALED:
            member, records = open_seal(
                actor=self._member, holder=document["holder"]["member"], parcels=document["sealed"]
            )
            return member.user.get_full_name(), records
        return (document["holder"]["name"], document["records"]) if document["version"] == PLAIN else ("", None)


def read_filed(source: str) -> Any:
    """The record as the file had it, with a scan marked as confirmed by the person who takes it; None if broken."""
    try:
        record = json.loads(source)
    except (ValueError, RecursionError):
        return None
    if isinstance(record, dict) and record.get("kind") == "scan" and isinstance(record.get("content"), dict):
        record["content"]["confirmed"] = True
    return record


def _filed(record: dict[str, Any]) -> FiledRecord:
    content = record.get("content")
    content = _without_secrets(content) if isinstance(content, dict) else {}
    record = {**record, "content": content}
    text = next((content[name] for name in ("raw", "title", "purpose", "name") if content.get(name)), "")
    made_at = record.get("made_at")
    moment = read_moment(made_at) if isinstance(made_at, str) else None
    return FiledRecord(
        json.dumps(record), str(record.get("kind"))[:12], str(record.get("site", ""))[:12], str(text)[:200], moment
    )


def _without_secrets(content: dict[str, Any]) -> dict[str, Any]:
    """The content as the page and its hidden fields may hold it, whatever an older phone wrote into the file."""
    clean = {**content, "raw": without_secrets(content["raw"])} if isinstance(content.get("raw"), str) else content
    more = content.get("more")
    if not isinstance(more, list):
        return clean
    codes = [[without_secrets(code[0]), *code[1:]] if _is_code(code) else code for code in more]
    return {**clean, "more": codes}


def _is_code(code: Any) -> bool:
    return isinstance(code, list) and bool(code) and isinstance(code[0], str)
