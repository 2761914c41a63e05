"""The steps of an inerting run, logged by its page."""

from registry.kinds.parts import WHERE, Field, Kind, percent, pressure, text, tri


def _step(code: str, label: str, *fields: Field) -> Kind:
    return Kind(code, label, "inerting", fields=fields, is_entered_by_hand=False)


FILL = Field("fill", "Fill", "integer", is_required=True, low=1, high=50)
STEPS = (
    _step(
        "inerting.started",
        "Inerting run begins",
        percent("start_n2_percent", "Nitrogen at the start", required=True),
        percent("feed_n2_percent", "Nitrogen of the feed", required=True),
        percent("target_n2_percent", "Accept at", required=True),
        pressure("fill_gauge_pa", "Planned fill pressure", required=True),
        text("analyser", "Gas analyser"),
        Field("analyser_calibrated_on", "Analyser calibrated", "date"),
        text("plan_sha256", "SHA-256 of the plan"),
    ),
    _step(
        "inerting.filled",
        "Filled with nitrogen",
        FILL,
        pressure("pressure_gauge_pa", "Pressure reached", required=True),
        WHERE,
    ),
    _step(
        "inerting.read",
        "Reading",
        FILL,
        percent("n2_percent", "Nitrogen", required=True),
        WHERE,
        text("questioned", "Questioned because"),
    ),
    _step(
        "inerting.purged",
        "Purged",
        FILL,
        pressure("pressure_gauge_pa", "Pressure left", required=True),
        WHERE,
    ),
    _step(
        "inerting.accepted",
        "Reading accepted",
        FILL,
        percent("n2_percent", "Nitrogen", required=True),
        percent("target_n2_percent", "Target", required=True),
    ),
    _step(
        "inerting.final_purge",
        "Final purge to zero",
        pressure("pressure_gauge_pa", "Pressure left", required=True),
        WHERE,
    ),
    _step(
        "inerting.water_filled",
        "Filled with water",
        pressure("pressure_gauge_pa", "Water pressure"),
    ),
    _step(
        "inerting.returned",
        "Returned to service",
        tri("valves_open", "Control valves open and sealed or supervised?"),
        tri("notified", "Everybody told that protection is restored?"),
    ),
    _step(
        "inerting.stopped",
        "Run stopped",
        text("reason", "Reason", required=True),
        text("left_as", "How the system was left", required=True),
    ),
)
