"""What can happen to a system."""

from registry.atmosphere import GasEffect, events, feeds
from registry.kinds import by_answers
from registry.kinds.meaning import MarkShape, PipeEvidence, StripMark, Water
from registry.kinds.parts import (
    AREAS,
    DRAIN_STEPS,
    GAS_PIPE,
    OWNERS_LEAVE,
    PLANNED,
    REPLACED,
    RESTORATION,
    SPOT,
    WET_PIPE,
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

DRAINED = quantity(
    "drained_m3",
    _("Water that was drained"),
    "volume",
    help=_("By a bucket or by the time it ran. Leave it empty when nobody measured it."),
)
GAS_BEFORE = choice(
    "gas_before",
    _("Gas in the pipe before filling"),
    ("nitrogen", _("Nitrogen")),
    ("air", _("Air")),
    ("unknown", _("Not known")),
)
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
    ),
    ("draining", "nitrogen", "cylinders"),
    gas=GasEffect(air=events.drain_down, moves=events.drained_under_cover),
    water=Water.EMPTIES,
    protection=verdicts.drain_down,
    mark=StripMark(MarkShape.BREACH, "D"),
)

TRIP = Kind(
    "event.trip",
    _("Valve trip"),
    _("The dry, preaction or deluge valve opened and water entered the pipe."),
    (
        choice(
            "cause",
            _("Cause"),
            ("test", _("Trip test")),
            ("false", _("False trip")),
            ("operation", _("Operation in a fire")),
            ("unknown", _("Not known")),
        ),
        tri("drained_after", _("Were the low points drained afterwards?")),
        choice(
            "scope",
            _("How much water entered"),
            ("partial", _("Partial trip: tens of litres, with the supply valve throttled")),
            ("full", _("Full trip: water ran into the pipe")),
            ("unknown", _("Not known")),
            required=False,
            help=_("Left empty, it counts as a full trip."),
        ),
        DRAINED,
        choice(
            "cover",
            _("What followed the water out"),
            ("nitrogen", _("Nitrogen, kept flowing until it was out")),
            ("air", _("Air")),
            ("unknown", _("Not known")),
            required=False,
        ),
        choice(
            "recharge",
            _("Recharged with"),
            ("nitrogen", _("Nitrogen")),
            ("air", _("Air")),
            ("not_yet", _("Not recharged yet")),
            ("unknown", _("Not known")),
            required=False,
        ),
        AREAS,
    ),
    ("draining",),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=events.trip, moves=events.recharged_after_trip),
    water=Water.FILLS,
    protection=verdicts.trip,
    mark=StripMark(MarkShape.BREACH, "T"),
)

HEAD_BREAK = Kind(
    "event.head_break",
    _("Head break"),
    _("A sprinkler operated or was knocked off."),
    (
        Field("count", _("Number of sprinklers"), "integer", is_required=True, low=1, high=10000),
        SPOT,
        AREAS,
    ),
    ("draining",),
    gas=GasEffect(air=events.head_break),
    water=Water.OPENS,
    protection=verdicts.head_break,
    mark=StripMark(MarkShape.BREACH, "H"),
)

FIRE = Kind(
    "event.fire",
    _("Fire"),
    _("The system operated in a fire."),
    (SPOT, AREAS),
    ("draining",),
    gas=GasEffect(air=events.fire),
    water=Water.OPENS,
    protection=verdicts.fire,
    mark=StripMark(MarkShape.BREACH, "F"),
)

OUT_OF_SERVICE = choice(
    "out_of_service",
    _("Is protection out of service for it?"),
    ("yes", _("Yes: a valve is closed, or the pipe is drained")),
    ("no", _("No: it stands as before")),
    ("unknown", _("Not known")),
    required=False,
    help=_("Left empty, it counts as not known."),
)
LEAK = Kind(
    "event.leak",
    _("Leak"),
    _("Water or gas came out where it should not."),
    (
        choice(
            "form",
            _("What leaked"),
            ("pinhole", _("Pinhole in pipe")),
            ("joint", _("Joint or fitting")),
            ("valve", _("Valve or trim")),
            ("unknown", _("Not known")),
        ),
        choice(
            "through",
            _("What came out"),
            ("water", _("Water")),
            ("gas", _("Gas")),
            ("unknown", _("Not known")),
        ),
        tri("air_entered", _("Did air get into the pipe?")),
        REPLACED,
        Field(
            "run_role",
            _("Pipe that leaked"),
            "choice",
            choices=(
                ("riser", _("Riser")),
                ("feed_main", _("Feed main")),
                ("cross_main", _("Cross main")),
                ("branch_line", _("Branch line")),
                ("other", _("Other")),
            ),
        ),
        SPOT,
        OUT_OF_SERVICE,
        AREAS,
    ),
    ("draining",),
    gas=GasEffect(air=events.leak),
    water=by_answers.water_after_leak,
    protection=verdicts.leak,
    mark=StripMark(MarkShape.BREACH, "L"),
    evidence=PipeEvidence.LEAK,
)

REPAIR = Kind(
    "event.repair",
    _("Repair or alteration"),
    _("Pipe or fittings were opened, replaced or added."),
    (
        tri("pipe_opened", _("Was the pipe opened to the room?")),
        tri("under_nitrogen", _("Was nitrogen kept flowing while it was open?")),
        REPLACED,
        text("work", _("What was done"), required=True),
        AREAS,
        PLANNED,
        *OWNERS_LEAVE,
    ),
    ("draining", "nitrogen"),
    gas=GasEffect(air=events.repair, moves=events.opened_without_drain_down),
    water=by_answers.water_after_repair,
    protection=verdicts.repair,
    mark=StripMark(MarkShape.WORK, "R"),
)

WATER_FILL = Kind(
    "event.water_fill",
    _("Water fill"),
    _("The system was filled with water."),
    (
        GAS_BEFORE,
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

HYDROSTATIC_TEST = Kind(
    "event.hydrostatic_test",
    _("Hydrostatic test with water"),
    _("The pipe was filled with water and held under pressure, as after new work."),
    (
        choice(
            "gas_before",
            _("Gas in the pipe before it was filled"),
            ("nitrogen", _("Nitrogen")),
            ("air", _("Air")),
            ("unknown", _("Not known")),
        ),
        choice(
            "drained",
            _("How it was drained afterwards"),
            ("not_drained", _("Not at all: it stayed full")),
            ("under_nitrogen", _("With nitrogen flowing until it was empty")),
            ("to_air", _("Without nitrogen")),
            ("unknown", _("Not known")),
        ),
        tri("held", _("Did the pressure hold?")),
        pressure("pressure_gauge_pa", _("Test pressure")),
        quantity("duration_s", _("Time under pressure"), "duration"),
        text("part", _("Part that was tested")),
        AREAS,
        *OWNERS_LEAVE,
    ),
    ("draining", "pressure"),
    gas=GasEffect(air=events.hydrostatic_test),
    water=Water.FILLS,
    protection=verdicts.hydrostatic_test,
    mark=StripMark(MarkShape.WORK, "P"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
)

GAS_LOSS = Kind(
    "event.gas_loss",
    _("Loss of gas pressure"),
    _("Gas pressure fell, or the low-pressure signal came."),
    (
        pressure("from_gauge_pa", _("Pressure before")),
        pressure("to_gauge_pa", _("Lowest pressure"), required=True),
        tri("air_entered", _("Did air get into the pipe?")),
        REPLACED,
    ),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=events.gas_loss),
    protection=verdicts.gas_loss,
    mark=StripMark(MarkShape.BREACH, "G"),
)

AIR_MAKEUP = Kind(
    "event.air_makeup",
    _("Air make-up"),
    _("Air from a compressor was put into gas-filled pipe."),
    (
        quantity("rise_pa", _("Total pressure made up with air"), "pressure_difference"),
        REPLACED,
        choice(
            "now",
            _("Compressor now"),
            ("off", _("Shut off")),
            ("on", _("Still connected")),
            ("unknown", _("Not known")),
        ),
    ),
    system_kinds=GAS_PIPE,
    gas=GasEffect(air=events.air_makeup, feed=feeds.after_makeup),
    mark=StripMark(MarkShape.BREACH, "A"),
)

IMPAIRMENT_START = Kind(
    "event.impairment_start",
    _("Impairment begins"),
    _("Protection is out of service, wholly or in part."),
    (
        text("areas", _("Areas without protection"), required=True),
        text("reason", _("Reason")),
        text("coordinator", _("Impairment coordinator")),
        text("told", _("Who was told"), help=_("Authority, fire department, insurer and so on.")),
        text("tag", _("Where the impairment tag hangs")),
        text("measures", _("Fire watch or other measure")),
        Field(
            "expected_end_on",
            _("Expected to be restored by"),
            "date",
            help=_("The last day; leave it empty where nobody can say."),
            is_ahead=True,
        ),
        PLANNED,
        *OWNERS_LEAVE,
    ),
    ("draining",),
    protection=verdicts.impairment_start,
    mark=StripMark(MarkShape.WORK, "I"),
)

IMPAIRMENT_END = Kind(
    "event.impairment_end",
    _("Protection restored"),
    _(
        "Protection is back, or was found in service. A “no” or “not known” keeps it out of "
        "service. One impairment, one tag, one end."
    ),
    (
        *RESTORATION,
        text(
            "ends",
            _("Which impairment has ended"),
            help=_("The number of the record that began it, or “all”. Empty where one is open."),
        ),
        text("checks", _("What was checked, with the figures of the drain test")),
        text("told_by", _("Who was told, by whom and when")),
    ),
    protection=verdicts.impairment_end,
)

VALVE_CLOSED = Kind(
    "event.valve_closed",
    _("Control valve closed"),
    _("A control valve was closed, or found closed: nothing below it is protected."),
    (
        text("valve", _("Which valve"), required=True, help=_("As its tag says.")),
        AREAS,
        PLANNED,
        text("reason", _("Why")),
        *OWNERS_LEAVE,
    ),
    ("draining",),
    protection=verdicts.valve_closed,
    mark=StripMark(MarkShape.WORK, "V"),
)

FREEZE = Kind(
    "event.freeze",
    _("Freeze"),
    _("Water froze in the pipe. The plug lets nothing in; what bursts does, when it thaws."),
    (
        choice(
            "found",
            _("How it was found"),
            ("frozen", _("Frozen, and nothing has burst")),
            ("burst", _("Burst")),
            ("unknown", _("Not known")),
        ),
        SPOT,
        AREAS,
    ),
    ("draining",),
    gas=GasEffect(air=events.freeze),
    water=by_answers.water_after_freeze,
    protection=verdicts.freeze,
    mark=StripMark(MarkShape.BREACH, "Z"),
)

PNEUMATIC_TEST = Kind(
    "event.pneumatic_test",
    _("Pneumatic test"),
    _("The pipe was put under pressure with gas and held."),
    (
        choice(
            "gas",
            _("Tested with"),
            ("nitrogen", _("Nitrogen")),
            ("air", _("Air")),
            ("unknown", _("Not known")),
        ),
        pressure("pressure_gauge_pa", _("Test pressure")),
        quantity("duration_s", _("Time under pressure"), "duration"),
        tri("held", _("Did the pressure hold?")),
        AREAS,
        *OWNERS_LEAVE,
    ),
    ("nitrogen", "pressure"),
    gas=GasEffect(air=events.pneumatic_test),
    protection=verdicts.pneumatic_test,
    mark=StripMark(MarkShape.WORK, "Q"),
    system_kinds=GAS_PIPE,
)

GENERATOR_BYPASS = Kind(
    "event.generator_bypass",
    _("Fast fill past the generator"),
    _("Pipe was brought to pressure fast; through the bypass that is air, until it is swept."),
    (
        tri("bypass_used", _("Was it filled with air through the bypass?")),
        tri("closed_after", _("Is the bypass shut again?")),
    ),
    gas=GasEffect(air=events.generator_bypass),
    mark=StripMark(MarkShape.BREACH, "B"),
    system_kinds=GAS_PIPE,
)

VENT_WORK = Kind(
    "event.vent_work",
    _("Work on a vent"),
    _("A vent was serviced or swapped."),
    (
        tri("isolated", _("Was it isolated by its own valve, with the pipe left full?")),
        choice(
            "left_as",
            _("How the vent was left"),
            ("works", _("It works")),
            ("stuck_open", _("Stuck open, or the wrong way round")),
            ("stuck_shut", _("Stuck shut")),
            ("unknown", _("Not known")),
        ),
        SPOT,
        AREAS,
        *OWNERS_LEAVE,
    ),
    gas=GasEffect(air=events.vent_work),
    protection=verdicts.vent_work,
    mark=StripMark(MarkShape.WORK, "W"),
    system_kinds=WET_PIPE,
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

OBSERVATION = Kind(
    "event.observation",
    _("Observation"),
    _("Anything worth keeping; changes no state."),
    (text("text", _("What was seen"), required=True),),
)

EVENTS = (
    DRAIN_DOWN,
    TRIP,
    HEAD_BREAK,
    FIRE,
    LEAK,
    REPAIR,
    WATER_FILL,
    TEST_FLOW,
    HYDROSTATIC_TEST,
    GAS_LOSS,
    AIR_MAKEUP,
    IMPAIRMENT_START,
    IMPAIRMENT_END,
    VALVE_CLOSED,
    FREEZE,
    PNEUMATIC_TEST,
    GENERATOR_BYPASS,
    VENT_WORK,
    ANTIFREEZE_EXCHANGE,
    VALVE_LEAKS_THROUGH,
    OBSERVATION,
)
