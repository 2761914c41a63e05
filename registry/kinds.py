"""What can be written into a ledger: every kind of record as data, with just the fields it needs.

Forms, checks, pages, exports and the contributor guide are all made from this table. Codes are
stored and chained by hash, so a code never changes once it is in use.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

TRI = (("yes", "Yes"), ("no", "No"), ("unknown", "Not known"))


@dataclass(frozen=True)
class Field:
    """One answer of a record; quantities are SI, with the unit in the name."""

    name: str
    label: str
    type: str  # quantity, percent, number, integer, choice, tri, text, date
    dimension: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    is_required: bool = False
    low: float | None = None
    high: float | None = None
    help: str = ""


@dataclass(frozen=True)
class Kind:
    code: str
    label: str
    group: str
    help: str = ""
    fields: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    is_entered_by_hand: bool = True
    system_kinds: tuple[str, ...] = ()  # empty: every kind of system

    def field(self, name: str) -> Field | None:
        return next((field for field in self.fields if field.name == name), None)


def tri(name: str, label: str, help: str = "") -> Field:
    return Field(name, label, "tri", choices=TRI, is_required=True, help=help)


def choice(
    name: str, label: str, *choices: tuple[str, str], required: bool = True, help=""
) -> Field:
    return Field(name, label, "choice", choices=choices, is_required=required, help=help)


def pressure(name: str, label: str, required: bool = False, help: str = "") -> Field:
    return Field(name, label, "quantity", "pressure", is_required=required, low=0.0, help=help)


def percent(name: str, label: str, required: bool = False, help: str = "") -> Field:
    return Field(name, label, "percent", is_required=required, low=0.0, high=100.0, help=help)


def text(name: str, label: str, required: bool = False, help: str = "") -> Field:
    return Field(name, label, "text", is_required=required, help=help)


def quantity(
    name: str, label: str, dimension: str, required: bool = False, help: str = "", low: float = 0.0
) -> Field:
    return Field(name, label, "quantity", dimension, is_required=required, low=low, help=help)


WHERE = text("where", "Where", help="The vent, drain or gauge, as marked on the drawing.")
PIPE_TEMPERATURE = quantity("temperature_k", "Pipe temperature", "temperature", low=200.0)
DRAIN_STEPS = (
    tri("nitrogen_before_opening", "Was nitrogen connected before any drain was opened?"),
    tri("regulator_above_system", "Was the regulator set above system pressure?"),
    tri("flow_until_empty", "Did nitrogen flow until all the water was out?"),
    tri("one_drain_at_a_time", "Was only one drain open at a time?"),
)
REPLACED = percent(
    "replaced_percent",
    "Share of the gas replaced by air",
    help="Leave empty when it is not known; 0 when no air came in.",
)
WATER = ("wet", "antifreeze")
GAS = ("dry", "preaction")

EVENTS = (
    Kind(
        "event.drain_down",
        "Drain-down",
        "event",
        "Water was drained. The four answers decide whether the nitrogen stayed in.",
        (
            *DRAIN_STEPS,
            choice("extent", "How much was drained", ("whole", "Whole system"), ("part", "Part")),
            pressure("regulator_gauge_pa", "Regulator set-point"),
            pressure("system_gauge_pa", "System pressure before"),
        ),
        ("draining", "nitrogen", "cylinders"),
    ),
    Kind(
        "event.trip",
        "Valve trip",
        "event",
        "The dry, preaction or deluge valve opened and water entered the pipe.",
        (
            choice(
                "cause",
                "Cause",
                ("test", "Trip test"),
                ("false", "False trip"),
                ("operation", "Operation in a fire"),
                ("unknown", "Not known"),
            ),
            tri("drained_after", "Were the low points drained afterwards?"),
        ),
        ("draining",),
        system_kinds=(*GAS, "deluge"),
    ),
    Kind(
        "event.head_break",
        "Head break",
        "event",
        "A sprinkler operated or was knocked off.",
        (
            Field("count", "Number of sprinklers", "integer", is_required=True, low=1, high=10000),
            WHERE,
        ),
        ("draining",),
    ),
    Kind("event.fire", "Fire", "event", "The system operated in a fire.", (WHERE,), ("draining",)),
    Kind(
        "event.leak",
        "Leak",
        "event",
        "Water or gas came out where it should not.",
        (
            choice(
                "form",
                "What leaked",
                ("pinhole", "Pinhole in pipe"),
                ("joint", "Joint or fitting"),
                ("valve", "Valve or trim"),
                ("unknown", "Not known"),
            ),
            choice(
                "through",
                "What came out",
                ("water", "Water"),
                ("gas", "Gas"),
                ("unknown", "Not known"),
            ),
            tri("air_entered", "Did air get into the pipe?"),
            REPLACED,
            Field(
                "run_role",
                "Pipe that leaked",
                "choice",
                choices=(
                    ("riser", "Riser"),
                    ("feed_main", "Feed main"),
                    ("cross_main", "Cross main"),
                    ("branch_line", "Branch line"),
                    ("other", "Other"),
                ),
            ),
            WHERE,
        ),
        ("draining",),
    ),
    Kind(
        "event.repair",
        "Repair or alteration",
        "event",
        "Pipe or fittings were opened, replaced or added.",
        (
            tri("pipe_opened", "Was the pipe opened to the room?"),
            tri("under_nitrogen", "Was nitrogen kept flowing while it was open?"),
            REPLACED,
            text("work", "What was done", required=True),
        ),
        ("draining", "nitrogen"),
    ),
    Kind(
        "event.water_fill",
        "Water fill",
        "event",
        "The system was filled with water.",
        (
            choice(
                "gas_before",
                "Gas in the pipe before filling",
                ("nitrogen", "Nitrogen"),
                ("air", "Air"),
                ("unknown", "Not known"),
            ),
            Field(
                "dissolved_oxygen_mg_l",
                "Dissolved oxygen of the water",
                "number",
                low=0.0,
                high=30.0,
                help="mg/L, when it was measured.",
            ),
        ),
    ),
    Kind(
        "event.test_flow",
        "Water test flow",
        "event",
        "Water was run through the system for a test.",
        (
            quantity("water_m3", "Water that flowed", "volume"),
            choice(
                "through",
                "Through",
                ("main_drain", "Main drain"),
                ("inspector_test", "Inspector's test connection"),
                ("other", "Other"),
            ),
        ),
        system_kinds=WATER,
    ),
    Kind(
        "event.gas_loss",
        "Loss of gas pressure",
        "event",
        "Gas pressure fell, or the low-pressure signal came.",
        (
            pressure("from_gauge_pa", "Pressure before"),
            pressure("to_gauge_pa", "Lowest pressure", required=True),
            tri("air_entered", "Did air get into the pipe?"),
            REPLACED,
        ),
        system_kinds=(*GAS, "deluge"),
    ),
    Kind(
        "event.air_makeup",
        "Air make-up",
        "event",
        "Air from a compressor was put into gas-filled pipe.",
        (
            quantity("rise_pa", "Total pressure made up with air", "pressure_difference"),
            REPLACED,
            choice(
                "now",
                "Compressor now",
                ("off", "Shut off"),
                ("on", "Still connected"),
                ("unknown", "Not known"),
            ),
        ),
        system_kinds=GAS,
    ),
    Kind(
        "event.impairment_start",
        "Impairment begins",
        "event",
        "Protection is out of service, wholly or in part.",
        (
            text("areas", "Areas without protection", required=True),
            text("reason", "Reason"),
            text("coordinator", "Impairment coordinator"),
            text("told", "Who was told", help="Authority, fire department, insurer and so on."),
            text("tag", "Where the impairment tag hangs"),
            text("measures", "Fire watch or other measure"),
        ),
        ("draining",),
    ),
    Kind(
        "event.impairment_end",
        "Impairment ends",
        "event",
        "Protection is restored.",
        (
            tri("tested", "Was the restored system tested?"),
            tri("notified", "Was everybody told?"),
            text("checks", "What was checked before protection counted as restored"),
        ),
    ),
    Kind(
        "event.observation",
        "Observation",
        "event",
        "Anything worth keeping; changes no state.",
        (text("text", "What was seen", required=True),),
    ),
)

READINGS = (
    Kind(
        "reading.gas",
        "Gas reading",
        "reading",
        "Nitrogen in the pipe. Most meters read oxygen and show 100 less that, argon included.",
        (
            percent("n2_percent", "Nitrogen", required=True),
            WHERE,
            text("analyser", "Gas analyser"),
            Field("analyser_calibrated_on", "Analyser calibrated", "date"),
            pressure("pressure_gauge_pa", "Pressure in the pipe"),
        ),
        ("nitrogen",),
    ),
    Kind(
        "reading.pressure",
        "Pressure reading",
        "reading",
        fields=(pressure("pressure_gauge_pa", "Pressure", required=True), PIPE_TEMPERATURE, WHERE),
    ),
    Kind(
        "reading.wall",
        "Wall thickness (UT)",
        "reading",
        "Thinnest wall found by ultrasonic testing at one place.",
        (
            quantity("wall_mm", "Wall", "wall", required=True),
            choice(
                "run_role",
                "Pipe",
                ("riser", "Riser"),
                ("feed_main", "Feed main"),
                ("cross_main", "Cross main"),
                ("branch_line", "Branch line"),
            ),
            text("nominal_size", "Nominal size", required=True),
            WHERE,
            quantity("error_mm", "Reading error (one standard deviation)", "wall"),
        ),
    ),
    Kind(
        "reading.coupon",
        "Corrosion coupon",
        "reading",
        fields=(
            quantity("mass_loss_kg", "Mass lost", "mass", required=True),
            quantity("area_m2", "Exposed area", "area", required=True),
            quantity("exposed_s", "Time exposed", "duration", required=True),
            choice("material", "Material", ("black_steel", "Black steel"), ("zinc", "Zinc")),
            WHERE,
        ),
    ),
    Kind(
        "reading.water",
        "Water sample",
        "reading",
        fields=(
            Field("ph", "pH", "number", low=0.0, high=14.0),
            Field("dissolved_oxygen_mg_l", "Dissolved oxygen, mg/L", "number", low=0.0, high=60.0),
            Field("chloride_mg_l", "Chloride, mg/L", "number", low=0.0, high=50000.0),
            Field("iron_mg_l", "Iron, mg/L", "number", low=0.0, high=50000.0),
            text("bacteria", "Bacteria count, with method and unit"),
            WHERE,
        ),
    ),
    Kind(
        "reading.obstruction",
        "Obstruction finding",
        "reading",
        "What was found inside the pipe.",
        (
            choice(
                "finding",
                "Found",
                ("clear", "Clear"),
                ("slime", "Slime or sludge"),
                ("scale", "Scale or tubercles"),
                ("debris", "Foreign material"),
            ),
            percent("blocked_percent", "Share of the bore blocked"),
            WHERE,
        ),
    ),
    Kind(
        "reading.leak_down",
        "Leak-down test",
        "reading",
        "Gas pressure at the start and the end, with the pipe temperature at both.",
        (
            pressure("start_gauge_pa", "Pressure at the start", required=True),
            pressure("end_gauge_pa", "Pressure at the end", required=True),
            quantity("duration_s", "Duration", "duration", required=True),
            quantity(
                "start_temperature_k", "Pipe temperature at the start", "temperature", low=200.0
            ),
            quantity("end_temperature_k", "Pipe temperature at the end", "temperature", low=200.0),
        ),
    ),
)


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

REGISTER = (
    Kind("register.system", "System entered", "register", is_entered_by_hand=False),
    Kind("register.amended", "Register facts changed", "register", is_entered_by_hand=False),
    Kind("register.pipe", "Pipe run entered", "register", is_entered_by_hand=False),
    Kind(
        "register.assumption",
        "Assumption of the corrosion model changed",
        "register",
        "A number the model assumes, set for this system alone; the note says why.",
        (
            text("key", "Assumption", required=True),
            text("unit", "Unit"),
            Field("value", "Value", "number", help="Empty: back to the model's own."),
            Field("before", "Before", "number"),
        ),
        is_entered_by_hand=False,
    ),
    Kind(
        "register.withdrawn",
        "Withdrawn: entered by mistake",
        "register",
        fields=(text("reason", "Reason", required=True),),
        is_entered_by_hand=False,
    ),
)

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

KINDS: dict[str, Kind] = {
    kind.code: kind for kind in (*EVENTS, *READINGS, *STEPS, *INSPECTIONS, *REGISTER)
}


class DetailsError(ValueError):
    """Details that a kind cannot hold.

    `problems` maps the field to what is wrong and what would be right.
    """

    def __init__(self, problems: Mapping[str, str]):
        self.problems = dict(problems)
        super().__init__("; ".join(f"{name}: {problem}" for name, problem in problems.items()))


def _problem(field: Field, value: Any) -> str | None:
    if field.type in ("choice", "tri"):
        allowed = [code for code, _ in field.choices]
        return None if value in allowed else f"“{value}” is not one of {', '.join(allowed)}."
    if field.type in ("quantity", "percent", "number", "integer"):
        return _number_problem(field, value)
    return None if isinstance(value, str) else f"{value!r} is not text."


def _number_problem(field: Field, value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        return f"{value!r} is not a number."
    if field.type == "integer" and not isinstance(value, int):
        return f"{value!r} is not a whole number."
    if field.low is not None and value < field.low:
        return f"{value:g} is below {field.low:g}, the least that is possible."
    if value > (field.high if field.high is not None else 1e12):
        return f"{value:g} is above {field.high or 1e12:g}, the most that is possible."
    return None


def check_details(kind: Kind, details: Mapping[str, Any]) -> dict[str, Any]:
    """The details without empty answers; raises DetailsError naming each field that is wrong."""
    given = {name: value for name, value in details.items() if value not in (None, "")}
    if kind.group == "register" and not kind.fields:
        return given
    problems = {
        name: f"{kind.label} has no such field; it has {', '.join(_names(kind.fields)) or 'none'}."
        for name in given
        if kind.field(name) is None
    }
    for field in kind.fields:
        if field.name not in given:
            if field.is_required:
                problems[field.name] = f"{field.label}: needed for {kind.label.lower()}."
        elif problem := _problem(field, given[field.name]):
            problems[field.name] = problem
    if problems:
        raise DetailsError(problems)
    return given


def _names(fields: Iterable[Field]) -> list[str]:
    return [field.name for field in fields]


def entered_by_hand(system_kind: str) -> list[Kind]:
    """The kinds a person can choose from for a system of this kind."""
    return [
        kind
        for kind in KINDS.values()
        if kind.is_entered_by_hand and (not kind.system_kinds or system_kind in kind.system_kinds)
    ]
