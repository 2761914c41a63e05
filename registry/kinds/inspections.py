"""Recurring work, done or not."""

from registry.kinds.parts import (
    FILES,
    PIPE_TEMPERATURE,
    Field,
    Kind,
    choice,
    pressure,
    quantity,
    text,
)
from registry.protection import verdicts
from registry.translation import _

ITEM = text("item", _("Item of the library"), required=True)
ITEM_TITLE = text("title", _("Work"), required=True)
DUE_ON = Field("due_on", _("Due day"), "date", is_required=True)
ASKED_BY = text("asked_by", _("Asked for by"))
INSPECTION_COMPLETED = Kind(
    "inspection.completed",
    _("Inspection, test or maintenance done"),
    _("Recurring work that was done, with what was found; the classes are those of NFPA 25."),
    (
        ITEM,
        ITEM_TITLE,
        DUE_ON,
        choice(
            "timing",
            _("In time"),
            ("early", _("Early")),
            ("on_time", _("On time")),
            ("late", _("Late")),
        ),
        Field("days", _("Days early or late"), "integer", low=0, high=100000),
        ASKED_BY,
        choice(
            "found",
            _("What was found"),
            ("none", _("Nothing wrong")),
            ("noncritical", _("Noncritical deficiency")),
            ("critical", _("Critical deficiency")),
            ("impairment", _("Impairment")),
        ),
        text("impairments", _("Impairments")),
        text("critical", _("Critical deficiencies")),
        text("noncritical", _("Noncritical deficiencies")),
        pressure("static_gauge_pa", _("Pressure with the drain shut")),
        pressure("residual_gauge_pa", _("Pressure with the drain fully open")),
        pressure("start_gauge_pa", _("Pressure at the start")),
        pressure("end_gauge_pa", _("Pressure at the end")),
        quantity("duration_s", _("Duration"), "duration"),
        PIPE_TEMPERATURE,
        quantity("trip_time_s", _("Time until the valve tripped"), "duration"),
        quantity("delivery_time_s", _("Time until water reached the test connection"), "duration"),
        Field("tested", _("Sprinklers tested"), "integer", low=1, high=100000),
        Field("failed", _("Sprinklers that failed"), "integer", low=0, high=100000),
        text("readings", _("Other readings")),
        text("verdict", _("Held against its limit")),
        FILES,
    ),
    is_entered_by_hand=False,
    protection=verdicts.inspection,
)

INSPECTION_SKIPPED = Kind(
    "inspection.skipped",
    _("Inspection, test or maintenance skipped"),
    _("Recurring work that was let go, and why."),
    (
        ITEM,
        ITEM_TITLE,
        DUE_ON,
        ASKED_BY,
        text("reason", _("Why it was skipped"), required=True),
    ),
    is_entered_by_hand=False,
)

INSPECTIONS = (
    INSPECTION_COMPLETED,
    INSPECTION_SKIPPED,
)
