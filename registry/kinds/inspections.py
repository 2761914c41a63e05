"""Recurring work, done or not."""

from registry.kinds.parts import PIPE_TEMPERATURE, Field, Kind, choice, pressure, quantity, text

ITEM = text("item", "Item of the library", required=True)
ITEM_TITLE = text("title", "Work", required=True)
DUE_ON = Field("due_on", "Due day", "date", is_required=True)
ASKED_BY = text("asked_by", "Asked for by")
INSPECTIONS = (
    Kind(
        "inspection.completed",
        "Inspection, test or maintenance done",
        "inspection",
        "Recurring work that was done, with what was found; the classes are those of NFPA 25.",
        (
            ITEM,
            ITEM_TITLE,
            DUE_ON,
            choice(
                "timing", "In time", ("early", "Early"), ("on_time", "On time"), ("late", "Late")
            ),
            Field("days", "Days early or late", "integer", low=0, high=100000),
            ASKED_BY,
            choice(
                "found",
                "What was found",
                ("none", "Nothing wrong"),
                ("noncritical", "Noncritical deficiency"),
                ("critical", "Critical deficiency"),
                ("impairment", "Impairment"),
            ),
            text("impairments", "Impairments"),
            text("critical", "Critical deficiencies"),
            text("noncritical", "Noncritical deficiencies"),
            pressure("static_gauge_pa", "Pressure with the drain shut"),
            pressure("residual_gauge_pa", "Pressure with the drain fully open"),
            pressure("start_gauge_pa", "Pressure at the start"),
            pressure("end_gauge_pa", "Pressure at the end"),
            quantity("duration_s", "Duration", "duration"),
            PIPE_TEMPERATURE,
            quantity("trip_time_s", "Time until the valve tripped", "duration"),
            quantity("delivery_time_s", "Time until water reached the test connection", "duration"),
            Field("tested", "Sprinklers tested", "integer", low=1, high=100000),
            Field("failed", "Sprinklers that failed", "integer", low=0, high=100000),
            text("readings", "Other readings"),
            text("verdict", "Held against its limit"),
            text("files", "Photos and documents", help="Name and SHA-256 digest of each."),
        ),
        is_entered_by_hand=False,
    ),
    Kind(
        "inspection.skipped",
        "Inspection, test or maintenance skipped",
        "inspection",
        "Recurring work that was let go, and why.",
        (ITEM, ITEM_TITLE, DUE_ON, ASKED_BY, text("reason", "Why it was skipped", required=True)),
        is_entered_by_hand=False,
    ),
)
