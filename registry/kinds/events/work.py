"""Work for which pipe, a valve or a vent is opened."""

from registry.atmosphere import GasEffect, events, maintenance
from registry.kinds import by_answers
from registry.kinds.meaning import MarkShape, StripMark, Water
from registry.kinds.parts import (
    AREAS,
    DRAINED,
    GAS_PIPE,
    OWNERS_LEAVE,
    PLANNED,
    REPLACED,
    SPOT,
    UNDER_NITROGEN,
    WET_PIPE,
    WHILE_OUT,
    Field,
    Kind,
    choice,
    quantity,
    text,
    tri,
)
from registry.protection import verdicts
from registry.translation import _

REPAIR = Kind(
    "event.repair",
    _("Repair or alteration"),
    _("Pipe or fittings were opened, replaced or added."),
    (
        tri("pipe_opened", _("Was the pipe opened to the room?")),
        UNDER_NITROGEN,
        REPLACED,
        text("work", _("What was done"), required=True),
        AREAS,
        PLANNED,
        *OWNERS_LEAVE,
        *WHILE_OUT,
    ),
    ("draining", "nitrogen"),
    gas=GasEffect(air=events.repair, moves=events.opened_without_drain_down),
    water=by_answers.water_after_repair,
    protection=verdicts.repair,
    mark=StripMark(MarkShape.WORK, "R"),
    is_logged_at_riser=True,
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
        *WHILE_OUT,
    ),
    gas=GasEffect(air=events.vent_work),
    protection=verdicts.vent_work,
    mark=StripMark(MarkShape.WORK, "W"),
    system_kinds=WET_PIPE,
)

HEAD_REPLACED = Kind(
    "event.head_replaced",
    _("Sprinkler replaced or taken as a sample"),
    _("A sprinkler was taken out on purpose. One that broke is logged as a head break."),
    (
        Field("count", _("Number of openings"), "integer", is_required=True, low=1, high=10000),
        choice(
            "how",
            _("How the pipe was emptied for it"),
            ("zone", _("Its zone was shut off, and only that was opened")),
            ("whole", _("The whole system was drained")),
            ("gas_only", _("Gas-filled pipe: the gas was let out")),
            ("unknown", _("Not known")),
        ),
        UNDER_NITROGEN,
        quantity("zone_m3", _("Pipe in the zone that was shut off"), "volume"),
        quantity("duration_s", _("Time it stood open"), "duration"),
        REPLACED,
        SPOT,
        AREAS,
        PLANNED,
        *WHILE_OUT,
    ),
    ("draining", "nitrogen", "pressure"),
    gas=GasEffect(air=maintenance.head_replaced, moves=maintenance.opened_without_drain_down),
    water=Water.OPENS,
    protection=verdicts.head_replaced,
    mark=StripMark(MarkShape.WORK, "K"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
)

VALVE_OPENED = Kind(
    "event.valve_opened",
    _("Alarm or dry valve opened for inspection"),
    _("The cover of the valve was taken off, as for the internal inspection every five years."),
    (
        UNDER_NITROGEN,
        DRAINED,
        REPLACED,
        AREAS,
        PLANNED,
        *OWNERS_LEAVE,
        *WHILE_OUT,
    ),
    ("draining", "nitrogen", "pressure"),
    gas=GasEffect(air=maintenance.valve_opened),
    water=Water.OPENS,
    protection=verdicts.valve_opened,
    mark=StripMark(MarkShape.WORK, "O"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
)

WORK = (REPAIR, HEAD_REPLACED, VALVE_OPENED, VENT_WORK)
