"""Forms of the drain-down helper: what it needs for a plan, and the four answers afterwards."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.fields import QuantityField
from registry.forms.doubts import PlanningForm, known_of
from registry.forms.records import RecordForm
from registry.forms.runs import texts
from registry.forms.units_and_errors import speak
from registry.kinds.events import DRAIN_DOWN
from registry.models import System, User
from registry.plausibility.table import PRESSURE, TEMPERATURE

USUAL_TEMPERATURE_K = 293.15
ASKED_OF_A_COVER = {"system_gauge_pa": PRESSURE, "temperature_k": TEMPERATURE}


class CoverForm(PlanningForm):
    """What the register knows, and what was typed over it.

    Bound, so that the plan stands there at once; but nobody is told of an error before typing.
    """

    system_gauge_pa = QuantityField(
        dimension="pressure",
        label=_("System pressure now"),
        minimum=0,
        help_text=_("By the gauge."),
    )
    volume_m3 = QuantityField(
        dimension="volume",
        label=_("Pipe that is emptied"),
        minimum=0.001,
        help_text=_("The whole system, or the part that is shut off and drained."),
    )
    temperature_k = QuantityField(
        dimension="temperature", label=_("Pipe temperature"), minimum=233.15, maximum=333.15
    )

    def __init__(self, data: Mapping[str, Any], *, system: System, user: User):
        super().__init__(auto_id="plan_%s")  # the page holds the form of the event as well
        speak(self, user, system.site)
        known = {
            "system_gauge_pa": system.service_pressure_gauge_pa,
            "volume_m3": system.volume().m3 or None,
            "temperature_k": USUAL_TEMPERATURE_K,
        }
        known = {name: value for name, value in known.items() if value is not None}
        self.initial = known
        self.is_bound = bool(data) or len(known) == len(self.fields)
        opening = texts(self, known, user.display_units)
        self.take(opening, data, ASKED_OF_A_COVER, known_of(system), user.display_units)

    @property
    def missing(self) -> list[forms.BoundField]:
        """What the plan waits for before anything was typed."""
        return [field for field in self if field.name not in self.initial and not self.is_bound]


class DrainDownForm(RecordForm):
    """The event as the ledger holds it; the helper hands on what it worked out."""

    def __init__(
        self, data=None, files=None, *, system: System, user: User, planned: dict[str, Any]
    ):
        super().__init__(data, files, kind=DRAIN_DOWN, system=system, user=user)
        self.initial = {**self.initial, "extent": "whole", **planned}
