"""The parts a kind of record is made of."""

from dataclasses import dataclass

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
    is_ahead: bool = False  # a date not before the day of the record


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
    is_for_managers: bool = False  # of the owner, and for nobody else to write
    moment: str = "When it happened"

    def field(self, name: str) -> Field | None:
        return next((field for field in self.fields if field.name == name), None)


def tri(name: str, label: str, help: str = "") -> Field:
    return Field(name, label, "tri", choices=TRI, is_required=True, help=help)


def choice(
    name: str, label: str, *choices: tuple[str, str], required: bool = True, help: str = ""
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
SPOT = text("where", "Where", help="Bay, aisle or room, and the pipe as on the drawing.")
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
