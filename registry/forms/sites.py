import zoneinfo
from itertools import groupby
from typing import Any, cast

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.fields import QuantityField
from registry.forms.days import DayInput
from registry.forms.units_and_errors import speak, untouched
from registry.models import Building, ServiceContract, Site, User
from registry.services import site_digest
from registry.services.access.known import known_contractors
from registry.words.spoken import Spoken


def zone_choices() -> list[tuple[str, Any]]:
    """Every place of the time zone list, grouped by region, with UTC first."""
    places = sorted(
        name
        for name in zoneinfo.available_timezones()
        if "/" in name and not name.startswith(("Etc/", "posix/", "right/", "SystemV/"))
    )
    regions = groupby(places, key=lambda name: name.split("/")[0])
    groups = [(region, [(name, _place(name)) for name in names]) for region, names in regions]
    return [("UTC", "UTC"), *groups]


def _place(zone: str) -> str:
    place = zone.split("/", 1)[1].replace("_", " ").replace("/", ", ")
    return f"{place} ({zone})"


class SiteForm(forms.ModelForm):
    seen = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
    time_zone = forms.ChoiceField(
        label=_("Time zone"), help_text=_("Records and due dates go by the clock there.")
    )
    altitude_m = QuantityField(
        dimension="altitude",
        label=_("Height above sea level"),
        help_text=_("It sets the air pressure that gas calculations start from."),
    )
    water_temperature_k = QuantityField(
        dimension="temperature",
        minimum=273.15,
        maximum=313.15,
        label=_("Temperature of the supply water"),
    )
    measured_dissolved_oxygen_mg_l = QuantityField(
        dimension="concentration",
        maximum=30.0,
        required=False,
        label=_("Measured dissolved oxygen of the supply"),
        help_text=_("Leave empty to take what water of that temperature holds."),
    )

    class Meta:
        model = Site
        fields = [
            "name", "address", "time_zone", "altitude_m", "water_temperature_k",
            "measured_dissolved_oxygen_mg_l",
        ]  # fmt: skip
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, data=None, *, instance: Site, user: User):
        super().__init__(data, instance=instance)
        cast(forms.ChoiceField, self.fields["time_zone"]).choices = zone_choices()
        speak(self, user)
        if instance.pk:
            self.initial["seen"] = site_digest(instance)
        else:
            self.initial.pop("altitude_m")  # no site is at sea level because nobody asked

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        others = Site.objects.filter(owner=self.instance.owner).exclude(pk=self.instance.pk)
        if others.filter(name=name).exists():
            raise forms.ValidationError(
                gettext("{owner} already has a site “{name}”.").format(
                    owner=self.instance.owner, name=name
                )
            )
        return name

    def look_again(self, site: Site) -> None:
        """The person now knows that it was changed, so that the next saving may overwrite it."""
        self.data = {name: self.data[name] for name in self.data} | {"seen": site_digest(site)}

    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.Meta.fields} | untouched(self)


class BuildingForm(forms.ModelForm):
    class Meta:
        model = Building
        fields = ["name", "access_note"]
        help_texts = {"access_note": _("Where the riser is, who has the key.")}

    def __init__(self, data=None, *, instance: Building):
        super().__init__(data, instance=instance)

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        others = self.instance.site.buildings.exclude(pk=self.instance.pk)
        if others.filter(name=name).exists():
            raise forms.ValidationError(
                gettext("{site} already has a building “{name}”.").format(
                    site=self.instance.site, name=name
                )
            )
        return name


class ContractForm(forms.ModelForm):
    """Who serves a site, and from when to when; an open end means until further notice."""

    class Meta:
        model = ServiceContract
        fields = ["contractor", "starts_on", "ends_on"]
        labels = {"starts_on": _("From"), "ends_on": _("To")}
        help_texts = {"ends_on": _("The last day. Leave empty until further notice.")}
        widgets = {name: DayInput() for name in ("starts_on", "ends_on")}

    def __init__(self, data=None, *, instance: ServiceContract, user: User):
        """Those that the owner knows; another one comes by invitation."""
        super().__init__(data, instance=instance)
        contractor = cast(forms.ModelChoiceField, self.fields["contractor"])
        contractor.queryset = known_contractors(instance.site.owner, user)
        contractor.help_text = _(
            "Those that serve you already, or accepted your invitation. The page of people invites "
            "another."
        )

    def clean(self) -> dict[str, Any]:
        starts, ends = (self.cleaned_data.get(name) for name in ("starts_on", "ends_on"))
        if starts and ends and ends < starts:
            self.add_error(
                "ends_on",
                gettext("It begins on {starts:%-d %B %Y}, which is later.").format(
                    starts=Spoken(starts)
                ),
            )
        return self.cleaned_data
