"""Inviting members, joining, letting go; and API tokens."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Role, Scope
from fleet.moments import only_meant


class InviteMemberForm(forms.Form):
    """The offer of a membership."""

    email = forms.CharField(
        label=_("E-mail address"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    name = forms.CharField(label=_("Name"), max_length=120, required=False)
    role = forms.ChoiceField(label=_("Role"), choices=Role.choices, widget=forms.RadioSelect, required=True)


class RoleForm(forms.Form):
    """Another role for a member."""

    role = forms.ChoiceField(label=_("Role"), choices=Role.choices)


class LetGoForm(forms.Form):
    """Who takes over the sites where a leaving member is expected."""

    hand_to = forms.ModelChoiceField(
        label=_("Hand their sites to"),
        queryset=Member.objects.none(),
        required=False,
        to_field_name="public_id",
        empty_label=_("nobody: their assignments end"),
    )

    def __init__(self, *args: Any, leaving: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Member.objects.filter(company_id=leaving.company_id, active=True).exclude(pk=leaving.pk)
        field = self.fields["hand_to"]
        field.queryset = others.select_related("user").order_by("user__name")  # type: ignore[attr-defined]  # a ModelChoiceField
        field.label_from_instance = _member_words  # type: ignore[attr-defined]  # a ModelChoiceField


class JoinForm(forms.Form):
    """A newcomer's name and first password."""

    name = forms.CharField(label=_("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    password = forms.CharField(
        label=_("Choose a password"),
        strip=False,
        help_text=_("At least 15 characters; a few words make a good one. Pasting is fine."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


class TokenForm(forms.Form):
    """A new API token."""

    name = forms.CharField(label=_("What it is for"), max_length=80)
    scopes = forms.MultipleChoiceField(
        label=_("What it may do"), choices=Scope.choices, widget=forms.CheckboxSelectMultiple
    )
    until = forms.DateField(
        validators=[only_meant],
        label=_("Last day it works"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


def _member_words(member: Member) -> str:
    return f"{member.user.get_full_name()}, {member.get_role_display()}"
