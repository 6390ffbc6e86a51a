"""Registering and editing a site."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.coordinates import LONGEST, BadPlace, Place, read_place
from fleet.countries import countries
from fleet.models import Site
from fleet.moments import only_meant
from fleet.operations.sites import FACT_NAMES, SiteFacts

PLACE_PROBLEMS = {
    "no_coordinates": _(
        "No coordinates were found in this. Open the place in the map, copy its address or its coordinates, and paste "
        "them; nothing is opened here."
    ),
    "out_of_range": _("These are no coordinates: north ends at 90 degrees, east at 180."),
    "unclear": _("This can be read in two ways. Write both numbers, such as 37.0194, -7.9304."),
}


class SiteForm(forms.ModelForm):  # type: ignore[type-arg]  # generic for the type checker only
    """The facts of a site, with the version that they were read at."""

    mostly_optional = True
    version = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1)
    ADDRESS = ("street", "house_number", "postcode", "town", "region", "country", "name")
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

    place = forms.CharField(
        label=_("Coordinates or a map link"),
        required=False,
        max_length=LONGEST,
        help_text=_("Such as 37.0194, -7.9304, or a link copied from a map. They settle the time zone."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "data-place": ""}),
    )

    class Meta:
        model = Site
        fields = [name for name in FACT_NAMES if name not in ("latitude", "longitude")]
        widgets = {
            "installed_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "note": forms.Textarea(attrs={"rows": 4}),
            "street": forms.TextInput(attrs={"autocomplete": "off"}),
        }
        labels = {"name": _("Name of the site")}  # the owner's name is asked on the same page
        help_texts = {
            "installed_on": "",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        phases = self.fields["phases"]
        phases.choices = [("", _("not said")), *Site._meta.get_field("phases").choices]  # type: ignore[attr-defined,misc]  # has choices
        self.fields["installed_on"].validators.append(only_meant)
        self.fields["country"] = forms.ChoiceField(label=_("Country"), choices=countries)
        if self.instance.latitude is not None and self.instance.longitude is not None:
            self.initial.setdefault("place", str(Place(self.instance.latitude, self.instance.longitude)))
        for name in ("installed_kwp", "storage_kwh", "inverter_ac_kw", "export_limit_kw"):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def clean_place(self) -> Place | None:
        """The place that was typed or pasted."""
        text = self.cleaned_data["place"].strip()
        if not text:
            return None
        try:
            return read_place(text)
        except BadPlace as refused:
            raise forms.ValidationError(PLACE_PROBLEMS[refused.reason]) from refused

    def _post_clean(self) -> None:
        """The act checks the facts as a whole; the form only reads them."""

    @property
    def facts(self) -> SiteFacts:
        """The facts that were typed."""
        place: Place | None = self.cleaned_data["place"]
        return SiteFacts(
            **{name: self.cleaned_data[name] for name in FACT_NAMES if name not in ("latitude", "longitude")},
            latitude=place.latitude if place else None,
            longitude=place.longitude if place else None,
        )

    def rows(self, names: tuple[str, ...]) -> list[forms.BoundField]:
        """The bound fields with these names, in order."""
        return [self[name] for name in names]

    @property
    def address_fields(self) -> list[forms.BoundField]:
        """Where the site is, in words."""
        return self.rows(self.ADDRESS)

    @property
    def has_installation_errors(self) -> bool:
        """Whether something about the installation cannot be used."""
        return any(name in self.errors for name in self.INSTALLATION)

    @property
    def installation_fields(self) -> list[forms.BoundField]:
        """What was installed."""
        return self.rows(self.INSTALLATION)
