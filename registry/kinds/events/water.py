"""Water let out of a system, put into it, or run through it."""

from registry.atmosphere import GasEffect, events, maintenance
from registry.kinds import by_answers
from registry.kinds.meaning import MarkShape, StripMark, Water
from registry.kinds.parts import (
    AREAS,
    DRAIN_STEPS,
    DRAINED,
    GAS_PIPE,
    OWNERS_LEAVE,
    PLANNED,
    SPOT,
    WET_PIPE,
    WHILE_OUT,
    Field,
    Kind,
    choice,
    pressure,
    quantity,
    text,
    tri,
)
from registry.protection import verdicts
from registry.translation import _

DRAIN_DOWN = Kind(
    "event.drain_down",
    _("Drain-down"),
    _("Water was drained. The four answers decide whether the nitrogen stayed in."),
    (
        *DRAIN_STEPS,
        choice(
            "extent",
            _("How much was drained"),
            ("whole", _("Whole system")),
            ("part", _("Part")),
        ),
        DRAINED,
        pressure("regulator_gauge_pa", _("Regulator set-point")),
        pressure("system_gauge_pa", _("System pressure before")),
        AREAS,
        PLANNED,
        *OWNERS_LEAVE,
        *WHILE_OUT,
    ),
    ("draining", "nitrogen", "cylinders"),
    gas=GasEffect(air=events.drain_down, moves=events.drained_under_cover),
    water=Water.EMPTIES,
    protection=verdicts.drain_down,
    mark=StripMark(MarkShape.BREACH, "D"),
    is_logged_at_riser=True,
)

WATER_FILL = Kind(
    "event.water_fill",
    _("Water fill"),
    _("The system was filled with water."),
    (
        choice(
            "gas_before",
            _("Gas in the pipe before filling"),
            ("nitrogen", _("Nitrogen")),
            ("air", _("Air")),
            ("unknown", _("Not known")),
        ),
        Field(
            "dissolved_oxygen_mg_l",
            _("Dissolved oxygen of the water"),
            "number",
            low=0.0,
            high=30.0,
            help=_("mg/L, when it was measured."),
        ),
    ),
    gas=GasEffect(air=events.water_fill, moves=events.filled_with_water),
    water=Water.FILLS,
)

TEST_FLOW = Kind(
    "event.test_flow",
    _("Water test flow"),
    _("Water was run through the system for a test."),
    (
        quantity("water_m3", _("Water that flowed"), "volume"),
        choice(
            "through",
            _("Through"),
            ("main_drain", _("Main drain")),
            ("inspector_test", _("Inspector's test connection")),
            ("other", _("Other")),
        ),
    ),
    system_kinds=WET_PIPE,
    gas=GasEffect(air=events.test_flow),
    water=Water.FLOWS,
)

ANTIFREEZE_EXCHANGE = Kind(
    "event.antifreeze_exchange",
    _("Antifreeze exchanged"),
    _("The solution was drained and filled again. The four answers decide about the nitrogen."),
    (
        *DRAIN_STEPS,
        text("solution", _("Solution, with the concentration that was measured")),
        AREAS,
        *OWNERS_LEAVE,
        *WHILE_OUT,
    ),
    ("draining", "nitrogen"),
    gas=GasEffect(air=events.antifreeze_exchange),
    water=Water.FILLS,
    protection=verdicts.antifreeze_exchange,
    mark=StripMark(MarkShape.WORK, "X"),
    system_kinds=("antifreeze",),
)

VALVE_LEAKS_THROUGH = Kind(
    "event.valve_leaks_through",
    _("Valve leaks water into gas-filled pipe"),
    _("Water climbs past the seat, feeds oxygen and lies in the low points."),
    (
        DRAINED,
        tri("drained_after", _("Were the low points drained afterwards?")),
    ),
    gas=GasEffect(air=events.valve_leaks_through),
    protection=verdicts.valve_leaks_through,
    mark=StripMark(MarkShape.WORK, "Y"),
    system_kinds=GAS_PIPE,
)

FLUSHING = Kind(
    "event.flushing",
    _("Flushing"),
    _("Pipe was opened at its ends and flushed. It loosens scale, and lets air in."),
    (
        choice(
            "method",
            _("Flushed with"),
            ("water", _("Water alone")),
            ("water_and_air", _("Water driven by compressed air")),
            ("unknown", _("Not known")),
        ),
        text("part", _("Part that was flushed")),
        AREAS,
        PLANNED,
        *OWNERS_LEAVE,
        *WHILE_OUT,
    ),
    ("draining", "pressure"),
    gas=GasEffect(air=maintenance.flushing),
    water=Water.OPENS,
    protection=verdicts.flushing,
    mark=StripMark(MarkShape.BREACH, "U"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
)

PUMP_STARTS = Kind(
    "event.pump_starts",
    _("Pressure-maintenance pump ran"),
    _("Each start means that water left the pipe, and that fresh water replaced it."),
    (
        Field("starts", _("Starts"), "integer", is_required=True, low=1, high=1_000_000),
        quantity("duration_s", _("Counted over"), "duration"),
        quantity("water_m3", _("Water it put in"), "volume"),
        tri(
            "more_often",
            _("Does it start more often than it used to?"),
            help=_("More starts than before are a sign of a leak."),
        ),
    ),
    system_kinds=WET_PIPE,
    gas=GasEffect(air=maintenance.pump_starts),
    water=by_answers.flows_where_measured,
)

RELIEF_OPENED = Kind(
    "event.relief_opened",
    _("Relief valve let water out"),
    _("Warm water grew and was let out; as it cools, fresh water follows."),
    (
        quantity("water_m3", _("Water that came out"), "volume"),
        SPOT,
    ),
    system_kinds=WET_PIPE,
    gas=GasEffect(air=maintenance.relief_opened),
    water=by_answers.flows_where_measured,
)

DRUM_DRIP = Kind(
    "event.drum_drip",
    _("Low-point drain operated"),
    _("Water was let out of a drum drip or a low point, and the gas stayed under pressure."),
    (
        tri("both_open", _("Were both of its valves open at once?")),
        DRAINED,
        SPOT,
    ),
    ("pressure",),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=maintenance.drum_drip),
    protection=verdicts.drum_drip,
)

WATER = (
    DRAIN_DOWN,
    WATER_FILL,
    TEST_FLOW,
    FLUSHING,
    ANTIFREEZE_EXCHANGE,
    VALVE_LEAKS_THROUGH,
    DRUM_DRIP,
    PUMP_STARTS,
    RELIEF_OPENED,
)
