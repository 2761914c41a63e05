"""What can happen to a system."""

from registry.atmosphere import GasEffect, events, feeds
from registry.kinds import by_answers
from registry.kinds.meaning import MarkShape, PipeEvidence, Protection, StripMark, Water
from registry.kinds.parts import (
    DRAIN_STEPS,
    GAS_PIPE,
    REPLACED,
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
        pressure("regulator_gauge_pa", _("Regulator set-point")),
        pressure("system_gauge_pa", _("System pressure before")),
    ),
    ("draining", "nitrogen", "cylinders"),
    gas=GasEffect(air=events.drain_down),
    water=Water.EMPTIES,
    protection=Protection.IMPAIRED,
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
    ),
    ("draining",),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=events.trip),
    water=Water.FILLS,
    protection=Protection.IMPAIRED,
    mark=StripMark(MarkShape.BREACH, "T"),
)

HEAD_BREAK = Kind(
    "event.head_break",
    _("Head break"),
    _("A sprinkler operated or was knocked off."),
    (
        Field("count", _("Number of sprinklers"), "integer", is_required=True, low=1, high=10000),
        SPOT,
    ),
    ("draining",),
    gas=GasEffect(air=events.head_break),
    water=Water.OPENS,
    protection=Protection.IMPAIRED,
    mark=StripMark(MarkShape.BREACH, "H"),
)

FIRE = Kind(
    "event.fire",
    _("Fire"),
    _("The system operated in a fire."),
    (SPOT,),
    ("draining",),
    gas=GasEffect(air=events.fire),
    water=Water.OPENS,
    protection=Protection.IMPAIRED,
    mark=StripMark(MarkShape.BREACH, "F"),
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
    ),
    ("draining",),
    gas=GasEffect(air=events.leak),
    water=by_answers.water_after_leak,
    protection=Protection.NOT_KNOWN,
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
    ),
    ("draining", "nitrogen"),
    gas=GasEffect(air=events.repair),
    water=by_answers.water_after_repair,
    protection=by_answers.protection_after_repair,
    mark=StripMark(MarkShape.WORK, "R"),
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
    gas=GasEffect(air=events.water_fill),
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
    ),
    ("draining", "pressure"),
    gas=GasEffect(air=events.hydrostatic_test),
    water=Water.FILLS,
    protection=Protection.IMPAIRED,
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
    protection=Protection.NOT_KNOWN,
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
    ),
    ("draining",),
    protection=Protection.IMPAIRED,
    mark=StripMark(MarkShape.WORK, "I"),
)

IMPAIRMENT_END = Kind(
    "event.impairment_end",
    _("Impairment ends"),
    _("Protection is restored."),
    (
        tri("tested", _("Was the restored system tested?")),
        tri("notified", _("Was everybody told?")),
        text("checks", _("What was checked before protection counted as restored")),
    ),
    protection=Protection.RESTORED,
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
    OBSERVATION,
)
