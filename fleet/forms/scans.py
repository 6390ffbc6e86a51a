"""What a person hands in for one label: a photo, or the text that it says."""

import json
from dataclasses import replace
from typing import Any
from uuid import UUID, uuid4, uuid5

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.template.defaultfilters import filesizeformat
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.labels.optical import ImageRefused, read_image
from fleet.labels.reading import LONGEST_PAYLOAD, Refusal
from fleet.labels.secrets import lines_without_secrets
from fleet.models import Company, DeviceModel, Kind, Member, Site
from fleet.operations.captures import Capture, read_codes, without_secrets

MOST_CODES = 12

Codes = tuple[tuple[str, str], ...]


class LabelForm(forms.Form):
    """One label, as a photo or as text. ``codes`` are its payloads with their symbology identifiers."""

    mostly_optional = True
    record = forms.UUIDField(widget=forms.HiddenInput, required=False)
    photo = forms.FileField(
        label=gettext_lazy("Photo of the label"),
        required=False,
        help_text=gettext_lazy("Fill the picture with the label; every code on it is read as one device."),
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    text = forms.CharField(
        label=gettext_lazy("Or what the label says"),
        required=False,
        strip=False,
        help_text=gettext_lazy("Type the serial number, or paste what a scanner read. One label at a time."),
        widget=forms.Textarea(
            attrs={
                "rows": 2,
                "autocomplete": "off",
                "autocapitalize": "off",
                "autocorrect": "off",
                "spellcheck": "false",
            }
        ),
    )

    def __init__(self, *args: Any, company: Company, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.company = company
        self.initial.setdefault("record", uuid4())

    def clean_photo(self) -> UploadedFile | None:
        """A picture with at least one code in it."""
        photo: UploadedFile | None = self.cleaned_data["photo"]
        if photo is None:
            return None
        if (photo.size or 0) > settings.UPLOAD_MAX_BYTES:
            raise forms.ValidationError(
                _("This file has %(size)s; at most %(most)s are taken. Nothing was kept. Take a smaller photo.")
                % {"size": filesizeformat(photo.size or 0), "most": filesizeformat(settings.UPLOAD_MAX_BYTES)}
            )
        self.photo_codes = _codes_of_photo(photo.read())
        return photo

    def clean_text(self) -> str:
        """Text that no label can exceed is refused before it is read."""
        text = str(self.cleaned_data["text"])
        if len(text.encode("utf-8", "replace")) > LONGEST_PAYLOAD:
            raise forms.ValidationError(
                _("This is longer than any code can be. Paste what one label says, not a list. Nothing was kept.")
            )
        return text

    def clean(self) -> dict[str, Any]:
        """Exactly one of photo and text."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        has_photo, has_text = bool(cleaned.get("photo")), bool(str(cleaned.get("text", "")).strip())
        if has_photo and has_text:
            raise forms.ValidationError(
                _("A photo and a text were both given, and they may be two labels. Send one of them.")
            )
        if not has_photo and not has_text and not self.errors:
            raise forms.ValidationError(_("Nothing was handed in. Take a photo of the label, or type what it says."))
        lines = [line for line in str(cleaned.get("text", "")).splitlines() if line.strip()]
        if len(lines) > MOST_CODES:
            raise forms.ValidationError(
                {"text": _("You pasted %(number)d lines. One label at a time, please; nothing was kept.")
                 % {"number": len(lines)}}
            )  # fmt: skip
        return cleaned

    @property
    def codes(self) -> Codes:
        """The label's codes. Pasted lines count as several codes of one label where they mean nothing as one text."""
        if self.cleaned_data.get("photo"):
            return self.photo_codes
        text = without_secrets(str(self.cleaned_data["text"]).strip("\r\n"))
        lines = lines_without_secrets(text)
        if len(lines) > 1 and isinstance(read_codes(self.company, ((text, ""),)), Refusal):
            return tuple((line, "") for line in lines)
        return ((text, ""),)

    @property
    def source(self) -> str:
        """How the label was read."""
        return "photo" if self.cleaned_data.get("photo") else "typed"

    def capture(self, site: Site) -> Capture:
        """The capture of this label at a site, now."""
        (raw, symbology), *more = self.codes
        return Capture(
            id=self.cleaned_data["record"] or uuid4(),
            site_code=site.code,
            raw=raw,
            format=symbology,
            more=tuple(more),
            scanned_at=timezone.now(),
            source=self.source,
        )


class SwapForm(LabelForm):
    """The label of the device that comes in; ``kept`` holds it again where a person must confirm what it says.

    ``device`` is then the known device that it means; empty where it is a new one.
    """

    kept = forms.CharField(widget=forms.HiddenInput, required=False)
    device = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def clean(self) -> dict[str, Any]:
        """Kept codes stand for a photo or text that was sent before."""
        if self.cleaned_data.get("kept"):
            self.kept_source, self.kept_codes = _kept_label(self.cleaned_data["kept"])
            return self.cleaned_data
        return super().clean()

    @property
    def codes(self) -> Codes:
        """The label's codes, or those that are confirmed now."""
        return self.kept_codes if self.cleaned_data.get("kept") else super().codes

    @property
    def source(self) -> str:
        """How the label was read, at first."""
        return self.kept_source if self.cleaned_data.get("kept") else super().source

    def answer(self, site: Site) -> Capture:
        """The capture of this label at the site of the swap; of a kept one, what a person decided about it."""
        capture = self.capture(site)
        if not self.cleaned_data.get("kept"):
            return capture
        return replace(capture, confirmed=True, meant_device=self.cleaned_data.get("device"))


class ByHandForm(forms.Form):
    """A device whose label cannot be scanned: a person states what it is."""

    record = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=[("", gettext_lazy("choose one")), *Kind.choices])
    model = forms.ModelChoiceField(
        label=gettext_lazy("Model"),
        queryset=DeviceModel.objects.none(),
        required=False,
        to_field_name="public_id",
        empty_label=gettext_lazy("not known"),
    )
    serial = forms.CharField(
        label=gettext_lazy("Serial number, exactly as printed"),
        max_length=64,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}),
    )
    position = forms.CharField(label=gettext_lazy("Where it stands"), max_length=80, required=False)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("record", uuid4())
        models = DeviceModel.objects.filter(company_id=member.company_id).select_related("maker")
        self.fields["model"].queryset = models.order_by("kind", "maker__name", "name")  # type: ignore[attr-defined]  # a ModelChoiceField

    def capture(self, site: Site) -> Capture:
        """The statement as a typed capture, now."""
        return Capture(
            id=self.cleaned_data["record"],
            site_code=site.code,
            raw=self.cleaned_data["serial"],
            scanned_at=timezone.now(),
            source="typed",
        )


def kept_text(form: LabelForm) -> str:
    """The label of a form as the text of a hidden field."""
    return json.dumps([form.source, form.codes])


def confirmation_id(record: UUID, choice: str) -> UUID:
    """The id of a confirmed capture: the same for the same choice, so that a repeated press links once."""
    return uuid5(record, f"confirmed:{choice}")


def _codes_of_photo(content: bytes) -> Codes:
    try:
        found = read_image(content)
    except ImageRefused as refused:
        raise forms.ValidationError(_(refused.message)) from refused
    if not found:
        raise forms.ValidationError(
            _("No code was found in this photo; it was not kept. Go closer, avoid glare, or type what the label says.")
        )
    return tuple((without_secrets(code.payload, code.symbology), code.symbology) for code in found[:MOST_CODES])


def _kept_label(text: str) -> tuple[str, Codes]:
    lost = forms.ValidationError(_("The label was not kept any more. Scan it once more."))
    try:
        source, kept = json.loads(text)
        codes = tuple((str(raw), str(symbology)) for raw, symbology in kept)
    except (ValueError, TypeError) as error:
        raise lost from error
    if source not in ("photo", "typed") or not 1 <= len(codes) <= MOST_CODES:
        raise lost
    return source, codes
