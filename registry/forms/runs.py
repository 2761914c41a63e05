"""Forms of an inerting run: its plan, and one step of it."""

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext

from registry.corrosion.cylinders import cylinder_sizes
from registry.fields import QuantityField
from registry.forms.doubts import DoubtingForm, PlanningForm, known_of
from registry.forms.moments import LocalMomentField, held_field
from registry.forms.records import MAKERS, DayInput
from registry.forms.units_and_errors import speak
from registry.kinds import KINDS, Field
from registry.models import Fitting, InertingRun, Record, System, User
from registry.plausibility.table import CALIBRATION, NITROGEN, PLANNED, REGULATOR
from registry.quantities import PSI, format_quantity
from registry.runs.planning import opening_answers
from registry.runs.steps import CHECKED, FILLED, FINAL_PURGE, PURGED, READ, RunStep
from registry.translation import _, in_english
from registry.words.told.retelling import retold

SAME_MINUTE = timedelta(minutes=1)
AT_ZERO = "at_zero"
UNCHECKED, AIR_CHECK = "unchecked", "air_o2_percent"
ASIDE = ("cylinders", "cylinder_before_gauge_pa", "cylinder_after_gauge_pa", "gas_used_m3")
WRITTEN_BY_THE_BOOK = ("fill", "questioned")
ASKED_OF_A_PLAN = {
    "fill_pressure_gauge_pa": REGULATOR,  # what the regulator is set to
    "start_n2_percent": NITROGEN,
    "analyser_calibrated_on": CALIBRATION,
}
PLACES = {
    FILLED: (Fitting.Kind.INJECTION_PORT, Fitting.Kind.GAUGE),
    READ: (Fitting.Kind.REMOTE_POINT, Fitting.Kind.VENT, Fitting.Kind.LOW_POINT_DRAIN),
    PURGED: (Fitting.Kind.AUXILIARY_DRAIN, Fitting.Kind.LOW_POINT_DRAIN),
    FINAL_PURGE: (Fitting.Kind.AUXILIARY_DRAIN, Fitting.Kind.MAIN_DRAIN),
}


def quantity(dimension: str, label: str, **options: Any) -> QuantityField:
    return QuantityField(dimension=dimension, label=label, **options)


def typed_text(value: float | None, dimension: str, units: str) -> str:
    """As a person would type it: the field itself says that a pressure is gauge."""
    with in_english():  # it goes into a field, and is read from there again
        text = "" if value is None else format_quantity(value, dimension, units)
    return text.removesuffix(" gauge")


def sizes_of_cylinders() -> list[tuple[str, str]]:
    return [(size.key, retold(size.label)) for size in cylinder_sizes().values()]


def texts(form: forms.Form, values: dict[str, float | None], units: str) -> dict[str, Any]:
    """Values as a person of these units would type them into the quantities of a form."""
    return {
        name: typed_text(values[name], field.dimension, units)
        for name, field in form.fields.items()
        if isinstance(field, QuantityField) and name in values
    }


class PlanForm(PlanningForm):
    """Always bound, so that a plan stands beside it from the first look."""

    volume_m3 = quantity("volume", _("Inside volume of the pipe"), minimum=0.001)
    fill_pressure_gauge_pa = quantity("pressure", _("Fill pressure"), minimum=PSI)
    feed_n2_percent = quantity("percent", _("Nitrogen in the feed gas"), minimum=79.05)
    start_n2_percent = quantity("percent", _("Nitrogen in the pipe now"), minimum=0)
    target_n2_percent = quantity("percent", _("Accept at"), minimum=80, maximum=99.99)
    temperature_k = quantity("temperature", _("Pipe temperature"), minimum=233.15, maximum=333.15)
    cylinder = forms.ChoiceField(label=_("Cylinder"), choices=sizes_of_cylinders)
    reserve_pressure_gauge_pa = quantity("pressure", _("Pressure left in a cylinder"), minimum=0)
    regulator_flow_m3_s = quantity("gas_flow", _("Flow of the regulator"), required=False)
    room_volume_m3 = quantity("volume", _("Room the gas is vented into"), required=False)
    air_flow_m3_s = quantity("gas_flow", _("Fresh air into that room"), required=False)
    generator_flow_m3_s = quantity("gas_flow", _("Flow of the nitrogen generator"), required=False)
    analyser = forms.CharField(label=_("Gas analyser"), max_length=120, required=False)
    analyser_calibrated_on = forms.DateField(
        label=_("Analyser calibrated"), required=False, widget=DayInput
    )

    def __init__(
        self, data: Mapping[str, Any], *, system: System, user: User, oxygen: float | None
    ):
        super().__init__()
        self.system = system
        self.fields["opened_at"] = LocalMomentField(
            zone=system.site.zone,
            label=gettext("Run begins"),
            required=False,
            help_text=gettext("Empty means now. By the clock at {name}.").format(
                name=system.site.name
            ),
        )
        if system.gas_supply != System.GasSupply.GENERATOR:
            del self.fields["generator_flow_m3_s"]
        if system.is_incomplete and not system.volume_override_m3:
            self.fields["despite_missing_pipe"] = forms.BooleanField(
                label=gettext("Plan with the pipe that is in the register"),
                help_text=system.incomplete_words,
                error_messages={
                    "required": gettext("The register lacks pipe: settle its rows, or say so here.")
                },
            )
        self.analysers = list(_in_place(system, Fitting.Kind.ANALYSER))
        self._advise()
        speak(self, user, system.site)
        self._measure_rooms_without_gallons()
        self.is_bound = True
        opening = self._opening(user, oxygen)
        self.take(opening, data, ASKED_OF_A_PLAN, known_of(system), user.display_units)

    def _advise(self) -> None:
        volume = self.system.volume()
        helps = {
            "volume_m3": gettext("From the register: {basis}, {note}.").format(
                basis=volume.basis, note=volume.note or gettext("no note")
            )
            if volume.is_known
            else gettext("The register holds no pipe yet; write a measured or estimated volume."),
            "feed_n2_percent": gettext("As the label of the cylinder says."),
            "target_n2_percent": gettext("The owner's policy."),
            "analyser": gettext(
                "One that is fitted, or the one in your bag with its serial number."
            ),
            "room_volume_m3": gettext(
                "For the oxygen in the air you breathe; leave empty outdoors."
            ),
        }
        for name, words in helps.items():
            self.fields[name].help_text = words
        self.fields["analyser"].widget.attrs["list"] = "analysers"

    def _measure_rooms_without_gallons(self) -> None:
        room = self.fields["room_volume_m3"]
        if isinstance(room, QuantityField):
            room.default_unit = None
        room.widget.attrs["placeholder"] = gettext("for example {units}").format(
            units={"us": "1060 ft3", "si": "30 m3"}[room.units]
        )
        room.widget.attrs.pop("data-unit")

    def _opening(self, user: User, oxygen: float | None) -> dict[str, Any]:
        opening = opening_answers(self.system, oxygen=oxygen)
        opening["reserve_pressure_gauge_pa"] = 200 * PSI
        answers = texts(self, opening, user.display_units) | {"cylinder": "large"}
        return answers | ({"analyser": str(self.analysers[0])} if self.analysers else {})

    def clean(self) -> dict[str, Any]:
        super().clean()
        answers = self.cleaned_data
        self._check_cylinder(answers)
        calibrated = answers.get("analyser_calibrated_on")
        fitted = next((a for a in self.analysers if str(a) == answers.get("analyser")), None)
        if not calibrated and fitted:
            answers["analyser_calibrated_on"] = fitted.calibrated_on
        if calibrated and calibrated > timezone.localdate(timezone=self.system.site.zone):
            self.add_error("analyser_calibrated_on", gettext("This day is still to come."))
        return answers

    def _check_cylinder(self, answers: dict[str, Any]) -> None:
        """Gas flows downhill only: into the pipe, and out of the cylinder down to its reserve."""
        size = cylinder_sizes().get(answers.get("cylinder", ""))
        for name in ("fill_pressure_gauge_pa", "reserve_pressure_gauge_pa"):
            pressure = answers.get(name)
            if size and pressure is not None and pressure >= size.full_pressure_gauge_pa:
                self.add_error(
                    name,
                    gettext("A full cylinder holds less: {lower}.").format(
                        lower=retold(size.label).lower()
                    ),
                )

    @property
    def carried(self) -> list[tuple[str, str]]:
        """The answers as typed, for the form that starts the run they plan."""
        return [(name, self.data.get(name, "")) for name in self.fields] + self.kept


class StepForm(DoubtingForm):
    """One step of a run. The time is now, or typed, or now less what the phone held it back."""

    client_key = forms.UUIDField(widget=forms.HiddenInput)
    token = forms.CharField(widget=forms.HiddenInput)
    held_ms = held_field()

    def __init__(
        self,
        data=None,
        *,
        run: InertingRun,
        step: RunStep,
        user: User,
        last: Record | None = None,
        is_blank: bool = False,
        read_at: Collection[str] = (),
    ):
        super().__init__(data)
        self.run, self.step, self.last = run, step, last
        self._take_zero()
        self.initial = {} if is_blank else {"client_key": uuid4(), "token": step.token}
        self.initial |= _usual_pressure(run, step) if is_blank else _usual(run, step, read_at)
        for field in KINDS[step.kind].fields:
            if field.name not in WRITTEN_BY_THE_BOOK:
                self.fields[field.name] = _field(field, is_explained=step.kind == CHECKED)
        self.fields["occurred_at"] = LocalMomentField(
            zone=run.system.site.zone,
            label=gettext("When"),
            required=False,
            help_text=gettext("Empty means now; write an earlier time if you log this afterwards."),
        )
        speak(self, user, run.system.site)
        known = known_of(run.system)
        if step.kind == FILLED:
            known[PLANNED] = run.fill_pressure_gauge_pa
        self.doubt_about(KINDS[step.kind].fields, known, user.display_units)
        if self.is_check:
            self._ask_for_the_check()
        self._fit_the_phone()

    def _ask_for_the_check(self) -> None:
        """A check is logged with what it showed, or it is said that none was made."""
        air = self.fields[AIR_CHECK]
        air.required = UNCHECKED not in self.data
        air.error_messages["required"] = gettext(
            "Write what it shows in fresh air, or say below that no check was made."
        )

    @property
    def is_to_zero(self) -> bool:
        """Whether one tap says that the gauge reads zero, which no form says by itself."""
        return self.step.kind in (PURGED, FINAL_PURGE)

    def _take_zero(self) -> None:
        if AT_ZERO in self.data and self.is_to_zero and not self.data.get("pressure_gauge_pa"):
            data = cast(QueryDict, self.data).copy()
            data["pressure_gauge_pa"] = "0 psi"
            self.data = data

    def read(self, name: str) -> Any:
        """One answer as it stands, while the others are still being typed; None if unreadable."""
        try:
            return self.fields[name].clean(self[name].data)
        except forms.ValidationError:
            return None

    @property
    def is_check(self) -> bool:
        return self.step.kind == CHECKED

    def clean(self) -> dict[str, Any]:
        answers = super().clean()
        if self.is_check:
            self._clean_check(answers)
        if AT_ZERO in self.data and answers.get("pressure_gauge_pa"):
            self.add_error(
                "pressure_gauge_pa",
                gettext("A pressure is typed here, and the button says zero: clear it, or log it."),
            )
        return answers

    def _clean_check(self, answers: dict[str, Any]) -> None:
        is_read = answers.get(AIR_CHECK) is not None
        if UNCHECKED in self.data and is_read:
            self.add_error(
                AIR_CHECK,
                gettext("A reading is typed here, and the button says none was made: choose one."),
            )
        calibrated = answers.get("analyser_calibrated_on")
        if calibrated and calibrated > self._today():
            self.add_error("analyser_calibrated_on", gettext("This day is still to come."))

    def _today(self) -> date:
        return timezone.localdate(timezone=self.run.system.site.zone)

    def _fit_the_phone(self) -> None:
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.widget.attrs["inputmode"] = "decimal"
        if "where" in self.fields:
            self.fields["where"].widget.attrs["list"] = "places"

    @property
    def answers(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name in self._names and name not in ASIDE]

    @property
    def aside(self) -> list[forms.BoundField]:
        """What is worth keeping and seldom asked: folded away, so that the usual step is short."""
        return [self[name] for name in self.fields if name in ASIDE]

    @property
    def is_aside_open(self) -> bool:
        return any(field.errors or field.value() for field in self.aside)

    @property
    def _names(self) -> list[str]:
        return [field.name for field in KINDS[self.step.kind].fields]

    @property
    def typed_fields(self) -> list[forms.BoundField]:
        """What the person answered, without the time and the key, which a second entry has anew."""
        return [
            field for field in self if field.name not in ("held_ms", "occurred_at", "client_key")
        ]

    @property
    def details(self) -> dict[str, Any]:
        given = {name: self.cleaned_data[name] for name in self._names if name in self.cleaned_data}
        details = {
            name: answer.isoformat() if isinstance(answer, date) else answer
            for name, answer in given.items()
            if answer not in (None, "")
        }
        return details | ({"questioned": self.questioned} if self.questioned else {})

    def occurred_at(self, now: datetime) -> datetime:
        typed = self.cleaned_data["occurred_at"]
        held = timedelta(milliseconds=self.cleaned_data["held_ms"] or 0)
        when = typed or now - held
        before = self.last.occurred_at if self.last else None
        # A typed time has no seconds and a phone's clock ticks apart: within a minute is in order.
        return before if before and before - SAME_MINUTE < when < before else when

    def facts(self, now: datetime) -> dict[str, Any]:
        """What the run's service needs to know."""
        return {
            "step": self.step,
            "details": self.details,
            "occurred_at": self.occurred_at(now),
            "client_key": self.cleaned_data["client_key"],
        }


class CorrectionForm(StepForm):
    """A step of a fill put right; it keeps the time at which it was done."""

    def __init__(self, data=None, *, run: InertingRun, wrong: Record, user: User):
        step = RunStep(wrong.kind, wrong.details["fill"])
        super().__init__(data, run=run, step=step, user=user)
        del self.fields["occurred_at"]
        self.initial |= wrong.details


def places(run: InertingRun, step: RunStep) -> list[str]:
    """Where this step is usually done here: where it was last, then the fittings that serve it."""
    usual = [str(fitting) for fitting in _in_place(run.system, *PLACES.get(step.kind, ()))]
    before = run.records.filter(kind=step.kind).order_by("-sequence").values_list("details")
    told = [details["where"] for (details,) in before if details.get("where")]
    return list(dict.fromkeys(told + usual))


def _usual(run: InertingRun, step: RunStep, read_at: Collection[str]) -> dict[str, Any]:
    """What is most likely the answer, so that the usual step takes one tap. Where further points
    are asked for, `read_at` are those that are done."""
    if step.kind == CHECKED:
        return {
            "analyser": run.analyser,
            "analyser_calibrated_on": run.analyser_calibrated_on,
        }
    known = places(run, step) if step.kind in PLACES else []
    if read_at:
        known = [place for place in known if place not in read_at]
    return _usual_pressure(run, step) | ({"where": known[0]} if known else {})


def _usual_pressure(run: InertingRun, step: RunStep) -> dict[str, Any]:
    if step.kind == FILLED:
        return {"pressure_gauge_pa": run.fill_pressure_gauge_pa}
    return {}  # what a purge left is read off the gauge, and never proposed


def _field(field: Field, *, is_explained: bool = False) -> forms.Field:
    return MAKERS[field.type](
        field,
        label=field.label,
        required=field.is_required or field.type == "tri",
        help_text=field.help if is_explained else "",
    )


def _in_place(system: System, *kinds: str):
    return system.fittings.filter(kind__in=kinds, removed_on__isnull=True)
