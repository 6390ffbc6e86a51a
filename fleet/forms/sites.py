"""Registering and editing a site."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import Site
from fleet.moments import only_meant
from fleet.operations.sites import FACT_NAMES, SiteFacts


class SiteForm(forms.ModelForm):  # type: ignore[type-arg]  # generic for the type checker only
    """The facts of a site, with the version that they were read at."""

    mostly_optional = True
    version = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1)
    ADDRESS = ("street", "house_number", "postcode", "town", "region", "country", "name")
    PLACE = ("latitude", "longitude")
    INSTALLATION = (
        "use",
        "installed_on",
        "installed_kwp",
        "storage_kwh",
        "inverter_ac_kw",
        "phases",
        "export_limit_kw",
        "grid_rule",
    )

    class Meta:
        model = Site
        fields = FACT_NAMES
        widgets = {
            "installed_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "note": forms.Textarea(attrs={"rows": 4}),
            "street": forms.TextInput(attrs={"autocomplete": "off"}),
            "country": forms.TextInput(attrs={"maxlength": 2, "autocapitalize": "characters"}),
        }
        help_texts = {
            "country": _("Two letters, such as PT or ES."),
            "latitude": _("Degrees north, such as 37.0194. With the longitude it settles the time zone."),
            "longitude": _("Degrees east, west is negative, such as -7.9304."),
            "installed_on": "",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        phases = self.fields["phases"]
        phases.choices = [("", _("not said")), *Site._meta.get_field("phases").choices]  # type: ignore[attr-defined,misc]  # has choices
        self.fields["installed_on"].validators.append(only_meant)
        for name in ("latitude", "longitude"):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "decimal"})
        for name in ("installed_kwp", "storage_kwh", "inverter_ac_kw", "export_limit_kw"):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def clean_country(self) -> str:
        """Two capital letters."""
        country = str(self.cleaned_data["country"]).strip().upper()
        if len(country) != 2 or not (country.isascii() and country.isalpha()):
            raise forms.ValidationError(_("A country is two letters, such as PT."))
        return country

    def _post_clean(self) -> None:
        """The act checks the facts as a whole; the form only reads them."""

    @property
    def facts(self) -> SiteFacts:
        """The facts that were typed."""
        return SiteFacts(**{name: self.cleaned_data[name] for name in FACT_NAMES})

    def rows(self, names: tuple[str, ...]) -> list[forms.BoundField]:
        """The bound fields with these names, in order."""
        return [self[name] for name in names]

    @property
    def address_fields(self) -> list[forms.BoundField]:
        """Where the site is, in words."""
        return self.rows(self.ADDRESS)

    @property
    def place_fields(self) -> list[forms.BoundField]:
        """Where the site is, in degrees."""
        return self.rows(self.PLACE)

    @property
    def installation_fields(self) -> list[forms.BoundField]:
        """What was installed."""
        return self.rows(self.INSTALLATION)
