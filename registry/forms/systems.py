from datetime import date
from typing import Any, cast

from django import forms
from django.utils import timezone
from django.utils.translation import gettext

from registry.fields import QuantityField
from registry.forms.days import DayInput, InstalledField
from registry.forms.units_and_errors import speak, untouched
from registry.models import Fitting, System, User
from registry.quantities import PSI, format_quantity
from registry.translation import _
from registry.words.spoken import Spoken

SYSTEM_PRESSURES = {"us": "120 psi", "si": "8.3 bar"}


def pressure_field(label: str, *, required: bool = False, help_text: str = "") -> QuantityField:
    return QuantityField(
        dimension="pressure",
        minimum=0.0,
        label=label,
        required=required,
        help_text=help_text,
        examples=SYSTEM_PRESSURES,
    )


class SystemForm(forms.ModelForm):
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)
    installed = InstalledField()
    design_pressure_gauge_pa = pressure_field(_("Design pressure"))
    rated_pressure_gauge_pa = pressure_field(
        _("Rated working pressure of the weakest component"),
        required=True,
    )
    service_pressure_gauge_pa = pressure_field(_("Service pressure in service"))
    supply_n2_percent = QuantityField(
        dimension="percent",
        minimum=79.05,
        maximum=100.0,
        required=False,
        label=_("Nitrogen the supply delivers"),
    )
    generator_flow_m3_s = QuantityField(
        dimension="gas_flow",
        required=False,
        label=_("Nitrogen the generator sweeps through an open vent"),
        help_text=_(
            "Leave empty where nothing is vented; recovery is then worked out from leakage."
        ),
    )
    volume_override_m3 = QuantityField(
        dimension="volume",
        required=False,
        label=_("Measured volume"),
        help_text=_("Leave empty to have it worked out from the pipe runs."),
    )

    class Meta:
        model = System
        fields = [
            "tag", "building", "kind", "hazard", "design_pressure_gauge_pa",
            "rated_pressure_gauge_pa", "service_pressure_gauge_pa", "gas_supply",
            "supply_n2_percent", "generator_flow_m3_s", "consequence_class", "volume_override_m3",
            "volume_override_note", "leaks_known_since",
        ]  # fmt: skip
        labels = {
            "tag": _("Tag"),
            "gas_supply": _("Gas supply"),
            "consequence_class": _("Consequence of a failure, 1 to 5"),
        }
        help_texts = {"tag": _("As on the drawing and at the riser; one of each tag at a site.")}

    leaks_known_since = forms.DateField(
        required=False,
        widget=DayInput(),
        label=_("Leaks known since"),
        help_text=_(
            "The day from which every leak would be on record here. Leave it empty where that is "
            "the day the book began for this system: years before it then count neither for nor "
            "against the pipe."
        ),
    )

    field_order = ["tag", "building", "kind", "hazard", "installed"]

    def __init__(self, data=None, *, instance: System, user: User):
        super().__init__(data, instance=instance)
        building = cast(forms.ModelChoiceField, self.fields["building"])
        building.queryset = instance.site.buildings.all()
        building.empty_label = gettext("No building named")
        kind = cast(forms.ChoiceField, self.fields["kind"])
        kind.choices = [("", gettext("Choose the kind")), *System.Kind.choices]
        if instance.pk:
            self.initial["seen"] = instance.next_sequence
            self.initial["installed"] = (instance.installed_on, instance.installed_precision)
        speak(self, user, instance.site)
        usual = format_quantity(175 * PSI, "pressure", user.display_units)
        self.fields["rated_pressure_gauge_pa"].help_text = gettext(
            "Nitrogen is never put in above it. Usually {usual}; read it off the components."
        ).format(usual=usual)

    def clean_tag(self) -> str:
        tag = self.cleaned_data["tag"]
        others = self.instance.site.systems.exclude(pk=self.instance.pk)
        if others.filter(tag=tag).exists():
            raise forms.ValidationError(
                gettext("{site} already has a system “{tag}”. Give this one another tag.").format(
                    site=self.instance.site, tag=tag
                )
            )
        return tag

    def clean_volume_override_m3(self) -> float | None:
        volume = self.cleaned_data["volume_override_m3"]
        if volume == 0:
            raise forms.ValidationError(
                gettext("A measured volume is above zero; leave it empty if none.")
            )
        return volume

    def clean_leaks_known_since(self) -> date | None:
        day: date | None = self.cleaned_data["leaks_known_since"]
        if day and day > timezone.localdate():
            raise forms.ValidationError(
                gettext("{day:%-d %B %Y} is still to come; write a day that has been.").format(
                    day=Spoken(day)
                )
            )
        return day

    def look_again(self, system: System) -> None:
        """The person is now shown what the book holds, so that the next saving may overwrite it."""
        self.data = {name: self.data[name] for name in self.data} | {"seen": system.next_sequence}

    def facts(self) -> dict[str, Any]:
        installed_on, precision = self.cleaned_data["installed"]
        facts = {name: self.cleaned_data[name] for name in self.Meta.fields} | untouched(self)
        return facts | {"installed_on": installed_on, "installed_precision": precision}


class FittingForm(forms.ModelForm):
    class Meta:
        model = Fitting
        fields = [
            "kind", "label", "order", "location", "serial", "fitted_on", "calibrated_on",
            "removed_on",
        ]  # fmt: skip
        widgets = {name: DayInput() for name in ("fitted_on", "calibrated_on", "removed_on")}

    def clean(self) -> dict[str, Any]:
        fitted, removed = (self.cleaned_data.get(name) for name in ("fitted_on", "removed_on"))
        if fitted and removed and removed < fitted:
            self.add_error(
                "removed_on",
                gettext("It was fitted on {fitted:%-d %B %Y}, which is later.").format(
                    fitted=Spoken(fitted)
                ),
            )
        return self.cleaned_data
