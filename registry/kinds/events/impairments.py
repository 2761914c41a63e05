"""Protection out of service, and back."""

from registry.kinds.meaning import MarkShape, StripMark
from registry.kinds.parts import (
    AREAS,
    OWNERS_LEAVE,
    PLANNED,
    RESTORATION,
    WHILE_OUT,
    Field,
    Kind,
    text,
)
from registry.protection import verdicts
from registry.translation import _

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
        *WHILE_OUT,
    ),
    ("draining",),
    protection=verdicts.valve_closed,
    mark=StripMark(MarkShape.WORK, "V"),
    is_logged_at_riser=True,
)

IMPAIRMENT_ANSWERS = Kind(
    "event.impairment_answers",
    _("Answers about an impairment"),
    _("What nobody had said when protection went out, or what has changed while it is out."),
    (
        PLANNED,
        *OWNERS_LEAVE,
        *WHILE_OUT,
        text("told_by", _("Who was told, by whom and when")),
        text(
            "of",
            _("Which impairment"),
            help=_("The number of the record that began it. Empty for all that is out of service."),
        ),
    ),
    protection=verdicts.impairment_answers,
    needs_one_of=(
        PLANNED.name,
        *(field.name for field in (*OWNERS_LEAVE, *WHILE_OUT)),
        "told_by",
    ),
    is_logged_at_riser=True,
)

IMPAIRMENTS = (IMPAIRMENT_START, IMPAIRMENT_END, IMPAIRMENT_ANSWERS, VALVE_CLOSED)
