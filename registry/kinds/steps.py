"""The steps of an inerting run, logged by its page."""

from registry.atmosphere import GasEffect, runs
from registry.atmosphere.gas_effects import NO_EFFECT
from registry.kinds.meaning import MarkShape, StripMark, Water
from registry.kinds.parts import (
    OWNERS_LEAVE,
    QUESTIONED,
    RESTORATION,
    WHERE,
    WHILE_OUT,
    Field,
    Kind,
    choice,
    percent,
    pressure,
    quantity,
    text,
)
from registry.protection import verdicts
from registry.protection.effects import Judge as ProtectionJudge
from registry.translation import _


def _step(
    code: str,
    label: str,
    *fields: Field,
    gas: GasEffect = NO_EFFECT,
    water: Water = Water.NONE,
    protection: ProtectionJudge | None = None,
    mark: StripMark | None = None,
    shows_gas: bool = False,
    is_taken_back_by_hand: bool = False,
) -> Kind:
    return Kind(
        code,
        label,
        fields=fields,
        gas=gas,
        water=water,
        protection=protection,
        mark=mark,
        shows_gas=shows_gas,
        is_taken_back_by_hand=is_taken_back_by_hand,
        is_entered_by_hand=False,
    )


MOST_POINTS = 20
FILL = Field("fill", _("Fill"), "integer", is_required=True, low=1, high=50)
STARTED = _step(
    "inerting.started",
    _("Inerting run begins"),
    percent("start_n2_percent", _("Nitrogen at the start"), required=True),
    percent("feed_n2_percent", _("Nitrogen of the feed"), required=True),
    percent("target_n2_percent", _("Accept at"), required=True),
    pressure("fill_gauge_pa", _("Planned fill pressure"), required=True),
    text("analyser", _("Gas analyser")),
    Field("analyser_calibrated_on", _("Analyser calibrated"), "date"),
    text("plan_sha256", _("SHA-256 of the plan")),
    Field("points", _("Points to be read at target"), "integer", low=1, high=MOST_POINTS),
    quantity("wait_s", _("Wait between fill and reading"), "duration"),
    quantity("hold_s", _("Pressure to be held for"), "duration"),
    quantity("hold_fall_pa", _("With a fall of at most"), "pressure_difference"),
    *OWNERS_LEAVE,
    *WHILE_OUT,
    gas=GasEffect(
        moves=runs.started, turned=("aerated", "Drained: aerated until the run is accepted.")
    ),
    water=Water.EMPTIES_FOR_RUN,
    protection=verdicts.run_started,
)

CHECKED = _step(
    "inerting.checked",
    _("Analyser checked"),
    percent(
        "air_o2_percent",
        _("Oxygen it shows in fresh air"),
        help=_("Outdoors, when the number stands still: 20.9 %, give or take 0.5."),
    ),
    text("analyser", _("Gas analyser"), help=_("Make, or name, and serial number.")),
    Field("analyser_calibrated_on", _("Analyser calibrated"), "date"),
    percent(
        "zero_o2_percent",
        _("Oxygen it shows in pure nitrogen"),
        help=_("From the cylinder: 0.0 to 0.3 %. Near 98 % nitrogen this proves more than air."),
    ),
)

FILLED = _step(
    "inerting.filled",
    _("Filled with nitrogen"),
    FILL,
    pressure("pressure_gauge_pa", _("Pressure reached"), required=True),
    WHERE,
    text("cylinders", _("Cylinders used"), help=_("Their numbers, as stamped on the shoulder.")),
    pressure("cylinder_before_gauge_pa", _("Cylinder pressure before")),
    pressure("cylinder_after_gauge_pa", _("Cylinder pressure after")),
    quantity("gas_used_m3", _("Gas used"), "volume"),
    gas=GasEffect(moves=runs.filled),
)

READ = _step(
    "inerting.read",
    _("Reading"),
    FILL,
    percent("n2_percent", _("Nitrogen"), required=True),
    WHERE,
    QUESTIONED,
    gas=GasEffect(moves=runs.read, is_reading=True),
    shows_gas=True,
)

HELD = _step(
    "inerting.held",
    _("Pressure held"),
    FILL,
    pressure("start_gauge_pa", _("Pressure at the start"), required=True),
    pressure("end_gauge_pa", _("Pressure at the end"), required=True),
    quantity("duration_s", _("Held for"), "duration", required=True),
    quantity("start_temperature_k", _("Pipe temperature at the start"), "temperature", low=200.0),
    quantity("end_temperature_k", _("Pipe temperature at the end"), "temperature", low=200.0),
)

PURGED = _step(
    "inerting.purged",
    _("Purged"),
    FILL,
    pressure("pressure_gauge_pa", _("Pressure left"), required=True),
    WHERE,
    gas=GasEffect(moves=runs.purged),
)

ACCEPTED = _step(
    "inerting.accepted",
    _("Reading accepted"),
    FILL,
    percent("n2_percent", _("Nitrogen"), required=True),
    percent("target_n2_percent", _("Target"), required=True),
    gas=GasEffect(moves=runs.accepted),
    mark=StripMark(MarkShape.INERTING, "N"),
    shows_gas=True,
)

FINAL_PURGE = _step(
    "inerting.final_purge",
    _("Final purge to zero"),
    pressure("pressure_gauge_pa", _("Pressure left"), required=True),
    WHERE,
)

WATER_FILLED = _step(
    "inerting.water_filled",
    _("Filled with water"),
    pressure("pressure_gauge_pa", _("Water pressure")),
    water=Water.REFILLS_AFTER_RUN,
)

RETURNED = _step(
    "inerting.returned",
    _("Returned to service"),
    *RESTORATION,
    choice(
        "ends",
        _("What this restores"),
        ("own", _("What this run took out of service")),
        ("all", _("All of it: every other impairment has ended, and its tag is off")),
        required=False,
    ),
    water=Water.REFILLS_AFTER_RUN,
    protection=verdicts.run_returned,
)

STOPPED = _step(
    "inerting.stopped",
    _("Run stopped"),
    text("reason", _("Reason"), required=True),
    text("left_as", _("How the system was left"), required=True),
    gas=GasEffect(moves=runs.stopped),
    water=Water.LEAVES_AFTER_RUN,
    protection=verdicts.run_stopped,
    mark=StripMark(MarkShape.WORK, "S"),
)

PHOTO = _step(
    "inerting.photo",
    _("Photo"),
    choice(
        "of",
        _("What it shows"),
        ("gauge", _("Gauge")),
        ("meter", _("Gas meter")),
        ("tag", _("Tag")),
        ("other", _("Something else")),
    ),
    text("says", _("What should be seen on it")),
    is_taken_back_by_hand=True,
)

SIGNED = _step(
    "inerting.signed",
    _("Hand-over signed"),
    text("name", _("Name"), required=True),
    text("role", _("For whom, or as what")),
    choice(
        "way",
        _("How it was signed"),
        ("screen", _("On this screen")),
        ("paper", _("On paper")),
    ),
    text("exceptions", _("Said with it")),
    is_taken_back_by_hand=True,
)

STEPS = (
    STARTED,
    CHECKED,
    FILLED,
    READ,
    HELD,
    PURGED,
    ACCEPTED,
    FINAL_PURGE,
    WATER_FILLED,
    RETURNED,
    STOPPED,
    PHOTO,
    SIGNED,
)
