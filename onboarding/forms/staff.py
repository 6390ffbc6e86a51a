"""What staff type about consents, addresses not to write to, and wordings."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from onboarding.models import ConsentState, Evidence, Purpose, Wording


class ConsentForm(forms.Form):
    """What an owner said, and how it was said. Nothing is chosen beforehand: each answer is a person's own."""

    purpose = forms.ChoiceField(label=_("What for"), choices=Purpose, widget=forms.RadioSelect)
    state = forms.ChoiceField(
        label=_("They said"),
        choices=[
            (ConsentState.GIVEN, _("Yes")),
            (ConsentState.REFUSED, _("No")),
            (ConsentState.WITHDRAWN, _("No longer: withdrawn")),
            (ConsentState.REQUESTED, _("Nothing yet: asked only")),
        ],
        widget=forms.RadioSelect,
    )
    how = forms.ChoiceField(
        label=_("How"),
        choices=[
            (Evidence.STAFF_STATEMENT, _("Spoken")),
            (Evidence.PAPER_REFERENCE, _("On paper, with a reference")),
            (Evidence.SIGNATURE, _("Signed: photo of the signature")),
        ],
        widget=forms.RadioSelect,
    )
    reference = forms.CharField(
        label=_("Reference"), max_length=200, required=False, help_text=_("Where the paper is found, or what was said.")
    )
    file = forms.FileField(label=_("Photo of the signature"), required=False)


class EraseForm(forms.Form):
    """An administrator is sure that a person's data may go."""

    sure = forms.BooleanField(label=_("I know that this cannot be undone, and that the person may be erased."))


class SuppressForm(forms.Form):
    """An address not to write to."""

    address = forms.CharField(label=_("E-mail address"), max_length=254, widget=forms.EmailInput())


class WordingForm(forms.Form):
    """The next version of a wording, with what it tells besides its text."""

    text = forms.CharField(label=_("Text"), widget=forms.Textarea(attrs={"rows": 6}), max_length=4000)
    controller = forms.CharField(label=_("Who asks"), max_length=200)
    contact = forms.CharField(label=_("How to reach them"), max_length=200, required=False)
    recipients = forms.CharField(
        label=_("Who receives the data"), max_length=500, required=False, help_text=_("One a line; empty: nobody else.")
    )
    kinds = forms.CharField(label=_("Kinds of data"), max_length=1000, help_text=_("One a line."))
    processing = forms.CharField(label=_("What is done with it"), max_length=1000, help_text=_("One a line."))
    storage = forms.CharField(label=_("Where it is kept"), max_length=300)
    retention = forms.CharField(label=_("How long"), max_length=300)
    jurisdiction = forms.CharField(label=_("Law of (country code)"), max_length=20)
    withdrawal = forms.CharField(label=_("How to withdraw"), max_length=300)
    valid_months = forms.IntegerField(
        label=_("Months that a yes lasts"), min_value=0, max_value=240, help_text=_("0: until it is withdrawn.")
    )
    LISTS = ("recipients", "kinds", "processing")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.LISTS:
            self.fields[name].widget = forms.Textarea(attrs={"rows": 3})

    @classmethod
    def showing(cls, wording: Wording | None) -> "WordingForm":
        """The form filled with the version in use."""
        if wording is None:
            return cls()
        kept = {**wording.particulars, "kinds": wording.particulars.get("data")}
        told = {name: kept.get(name, "") for name in cls.base_fields if name != "text"}
        for name in cls.LISTS:
            told[name] = "\n".join(told[name] or [])
        return cls(initial={"text": wording.text, **told})

    @property
    def particulars(self) -> dict[str, Any]:
        """What the wording tells besides its text, as it is stored."""
        told = {name: value for name, value in self.cleaned_data.items() if name != "text"}
        for name in self.LISTS:
            told[name] = [line.strip() for line in told[name].splitlines() if line.strip()]
        told["data"] = told.pop("kinds")
        return told
