"""What happens to a system unasked: a trip, a break, a fire, a leak, frost."""

from registry.atmosphere import GasEffect, events
from registry.kinds import by_answers
from registry.kinds.meaning import MarkShape, PipeEvidence, StripMark, Water
from registry.kinds.parts import (
    AREAS,
    DRAINED,
    GAS_PIPE,
    REPLACED,
    SPOT,
    WHILE_OUT,
    Field,
    Kind,
    choice,
    tri,
)
from registry.protection import verdicts
from registry.translation import _

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
        *WHILE_OUT,
    ),
    ("draining",),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=events.trip, moves=events.recharged_after_trip),
    water=Water.FILLS,
    protection=verdicts.trip,
    mark=StripMark(MarkShape.BREACH, "T"),
    is_logged_at_riser=True,
)

HEAD_BREAK = Kind(
    "event.head_break",
    _("Head break"),
    _("A sprinkler operated or was knocked off."),
    (
        Field("count", _("Number of sprinklers"), "integer", is_required=True, low=1, high=10000),
        SPOT,
        AREAS,
        *WHILE_OUT,
    ),
    ("draining",),
    gas=GasEffect(air=events.head_break),
    water=Water.OPENS,
    protection=verdicts.head_break,
    mark=StripMark(MarkShape.BREACH, "H"),
    is_logged_at_riser=True,
)

FIRE = Kind(
    "event.fire",
    _("Fire"),
    _("The system operated in a fire."),
    (SPOT, AREAS, *WHILE_OUT),
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
        *WHILE_OUT,
    ),
    ("draining",),
    gas=GasEffect(air=events.leak),
    water=by_answers.water_after_leak,
    protection=verdicts.leak,
    mark=StripMark(MarkShape.BREACH, "L"),
    evidence=PipeEvidence.LEAK,
    is_logged_at_riser=True,
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
        *WHILE_OUT,
    ),
    ("draining",),
    gas=GasEffect(air=events.freeze),
    water=by_answers.water_after_freeze,
    protection=verdicts.freeze,
    mark=StripMark(MarkShape.BREACH, "Z"),
)

INCIDENTS = (TRIP, HEAD_BREAK, FIRE, LEAK, FREEZE)
