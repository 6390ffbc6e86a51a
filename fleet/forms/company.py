"""What administrators decide for the company."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.countries import countries
from fleet.models import Company, CompanyPolicy
from fleet.operations.policy import DECISIONS, PARTICULARS


class PolicyForm(forms.ModelForm):  # type: ignore[type-arg]  # generic for the type checker only
    """The company's particulars and its policy, on one page."""

    mostly_optional = True
    name = forms.CharField(label=_("Company name"), max_length=120)
    reply_email = forms.EmailField(
        label=_("Reply address"), max_length=254, required=False, help_text=_("Where owners’ answers to our mail go.")
    )
    phone = forms.CharField(label=_("Telephone"), max_length=40, required=False)
    phone_hours = forms.CharField(
        label=_("When the telephone is answered"),
        max_length=80,
        required=False,
        help_text=_("In the owners’ words, such as Monday to Friday, 8:30 to 18:00."),
    )
    address = forms.CharField(label=_("Postal address"), max_length=300, required=False)
    country = forms.ChoiceField(label=_("Country"), choices=countries)

    class Meta:
        model = CompanyPolicy
        fields = DECISIONS
        labels = {
            "field_sight": _("What field members see"),
            "ready_before_invite": _("Invite only when every handover check is done"),
            "retention_months": _("Months that evidence is kept after a site is retired"),
            "quiet_from": _("No invitations from"),
            "quiet_until": _("No invitations until"),
            "daily_mail_limit": _("Mails a day at most"),
            "invitation_days": _("Days that an invitation lasts"),
            "first_reminder_days": _("First reminder after days"),
            "second_reminder_days": _("Second reminder after days"),
            "default_time_zone": _("Time zone of sites without coordinates"),
        }
        widgets = {
            "field_sight": forms.RadioSelect,
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    COMPANY = ("name", "reply_email", "phone", "phone_hours", "address", "country")
    SIGHT = ("field_sight",)
    MAIL = (
        "ready_before_invite", "quiet_from", "quiet_until", "daily_mail_limit", "invitation_days",
        "first_reminder_days", "second_reminder_days",
    )  # fmt: skip
    KEEPING = ("retention_months", "default_time_zone")

    def __init__(self, *args: Any, company: Company, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.update({name: getattr(company, name) for name in PARTICULARS})

    def _post_clean(self) -> None:
        """The act checks the decisions as a whole; the form only reads them."""

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields in groups, each with its heading."""
        headings = (
            (_("The company"), self.COMPANY),
            (_("Who sees what"), self.SIGHT),
            (_("Invitations and mail"), self.MAIL),
            (_("Keeping"), self.KEEPING),
        )
        return [(str(heading), [self[name] for name in names]) for heading, names in headings]


class DomainForm(forms.Form):
    """A domain whose links identify devices."""

    domain = forms.CharField(
        label=_("Domain name"),
        max_length=260,
        help_text=_("Such as id.example.com. Links on labels are read, never opened."),
        widget=forms.TextInput(attrs={"autocapitalize": "off", "autocomplete": "off", "spellcheck": "false"}),
    )
