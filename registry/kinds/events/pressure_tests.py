"""Pipe put under pressure on purpose."""

from registry.atmosphere import GasEffect, events, maintenance
from registry.kinds.meaning import MarkShape, StripMark, Water
from registry.kinds.parts import (
    AREAS,
    GAS_PIPE,
    OWNERS_LEAVE,
    WET_PIPE,
    WHILE_OUT,
    Kind,
    choice,
    pressure,
    quantity,
    text,
    tri,
)
from registry.protection import verdicts
from registry.translation import _

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
        *WHILE_OUT,
    ),
    ("draining", "pressure"),
    gas=GasEffect(air=events.hydrostatic_test),
    water=Water.FILLS,
    protection=verdicts.hydrostatic_test,
    mark=StripMark(MarkShape.WORK, "P"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
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
        *WHILE_OUT,
    ),
    ("nitrogen", "pressure"),
    gas=GasEffect(air=events.pneumatic_test),
    protection=verdicts.pneumatic_test,
    mark=StripMark(MarkShape.WORK, "Q"),
    system_kinds=GAS_PIPE,
)

SUPPLY_TEST = Kind(
    "event.supply_test",
    _("Test of supply pipe alone"),
    _("Pipe ahead of a check valve was tested: no water should pass into the system."),
    (
        choice(
            "part",
            _("What was tested"),
            ("fire_department_connection", _("Pipe from the fire department connection")),
            ("backflow", _("Forward flow through the backflow preventer's test header")),
        ),
        tri("check_held", _("Did the check valve hold?")),
        pressure("pressure_gauge_pa", _("Test pressure")),
        quantity("duration_s", _("Time under pressure"), "duration"),
    ),
    ("pressure",),
    gas=GasEffect(air=maintenance.supply_test),
)

PRESSURE_TESTS = (HYDROSTATIC_TEST, PNEUMATIC_TEST, SUPPLY_TEST)
