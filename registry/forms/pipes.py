from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.corrosion.dimensions import schedules
from registry.fields import NominalSizeField, QuantityField
from registry.forms.days import InstalledField
from registry.forms.units_and_errors import speak, untouched
from registry.models import PipeRun, System, User
from registry.quantities import DN_BY_SIZE, format_quantity


def made_in() -> str:
    """The schedules that the pipe table holds, by material."""
    materials = {"steel": "black_steel", "stainless": "stainless_steel"}
    materials |= {"copper": "copper", "CPVC": "cpvc"}
    return "; ".join(
        f"{word}: {', '.join(schedules(material))}" for word, material in materials.items()
    )


class PipeRunForm(forms.Form):
    """A run of one size and material; with `original`, a correction that begins as it was."""

    role = forms.ChoiceField(label=_("Part of the system"), choices=PipeRun.Role.choices)
    material = forms.ChoiceField(choices=PipeRun.Material.choices)
    nominal_size = NominalSizeField(label=_("Nominal size"), max_length=20)
    schedule = forms.CharField(
        label=_("Schedule or type"),
        max_length=12,
        required=False,
        help_text=format_lazy(
            _("The pipe table holds {made_in}. Leave empty when the wall is given."),
            made_in=made_in(),
        ),
    )
    wall_mm = QuantityField(
        dimension="wall",
        label=_("Given wall"),
        required=False,
        help_text=_("Only when it is not the wall of the schedule; it then counts instead."),
    )
    length_m = QuantityField(dimension="length", label=_("Length"))
    joint = forms.ChoiceField(label=_("Joints"), choices=PipeRun.Joint.choices)
    installed = InstalledField(
        required=False, help_text=_("Leave empty when it came with the system.")
    )

    def __init__(self, data=None, *, system: System, user: User, original: PipeRun | None = None):
        super().__init__(data, initial=_initial(original) if original else None)
        speak(self, user, system.site)

    def clean_length_m(self) -> float:
        length = self.cleaned_data["length_m"]
        if length == 0:
            raise forms.ValidationError(gettext("A run has a length above zero."))
        return length

    def clean(self) -> dict[str, Any]:
        has_wall = self.cleaned_data.get("wall_mm") or "wall_mm" in self.errors
        if not has_wall and not self.cleaned_data.get("schedule"):
            self.add_error("schedule", gettext("Give the schedule, or below it the wall."))
        return self.cleaned_data

    def facts(self) -> dict[str, Any]:
        facts = {name: value for name, value in self.cleaned_data.items() if name != "installed"}
        installed_on, precision = self.cleaned_data["installed"] or (None, None)
        installed = {"installed_on": installed_on, "installed_precision": precision}
        return facts | untouched(self) | installed


def _initial(run: PipeRun) -> dict[str, Any]:
    names = ("role", "material", "nominal_size", "schedule", "length_m", "joint")
    initial = {name: getattr(run, name) for name in names}
    if run.wall_basis == PipeRun.WallBasis.GIVEN:
        initial["wall_mm"] = run.wall_mm
    return initial | {"installed": (run.installed_on, run.installed_precision)}


def run_words(run: PipeRun, units: str) -> str:
    """What the book made of a run that was typed, for the message after saving."""
    shown = {
        "wall": format_quantity(run.wall_mm, "wall", units),
        "bore": format_quantity(run.inside_diameter_mm, "wall", units),
        "length": format_quantity(run.length_m, "length", units),
        "volume": format_quantity(run.volume_m3, "volume", units),
    }
    source = (
        "given" if run.wall_basis == PipeRun.WallBasis.GIVEN else gettext("from the pipe table")
    )
    return (
        f"{run.get_role_display()} {run.nominal_size} (DN{DN_BY_SIZE[run.nominal_size]}), "
        f"{shown['length']}: wall {shown['wall']} {source}, bore {shown['bore']}, "
        f"holds {shown['volume']}."
    )
