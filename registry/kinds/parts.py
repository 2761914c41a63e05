"""The parts a kind of record is made of."""

from dataclasses import dataclass

from registry.atmosphere.gas_effects import NO_EFFECT, GasEffect
from registry.atmosphere.types import LedgerItem, SystemFacts
from registry.kinds.meaning import PipeEvidence, StripMark, Water, WaterJudge
from registry.protection.effects import Judge as ProtectionJudge
from registry.protection.types import NOTHING, Verdict
from registry.translation import _

TRI = (("yes", _("Yes")), ("no", _("No")), ("unknown", _("Not known")))


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
    """A kind of record with all that follows from it; nothing about a kind is said elsewhere."""

    code: str
    label: str
    help: str = ""
    fields: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    gas: GasEffect = NO_EFFECT
    water: Water | WaterJudge = Water.NONE
    protection: ProtectionJudge | None = None  # whether the sprinklers would work
    evidence: PipeEvidence | None = None
    mark: StripMark | None = None  # on the strip
    system_kinds: tuple[str, ...] = ()  # empty: every kind of system
    needs_one_of: tuple[str, ...] = ()  # fields of which a record must fill one to say anything
    moment: str = _("When it happened")
    is_entered_by_hand: bool = True
    is_logged_at_riser: bool = False  # beside a run: its form is laid on the phone
    is_taken_back_by_hand: bool = False  # though services alone write it
    is_for_managers: bool = False  # of the owner, and for nobody else to write
    shows_gas: bool = False  # a reading that whoever does the order wants to see
    is_news: bool = True  # follow-ups are raised from it, and other programs are told
    changes_recurring_work: bool = False

    @property
    def group(self) -> str:
        return self.code.partition(".")[0]

    @property
    def bears_on_gas(self) -> bool:
        """Whether the derivation of the atmosphere takes its records."""
        return self.group in ("event", "reading", "inerting") or self.gas != NO_EFFECT

    @property
    def may_be_taken_back(self) -> bool:
        return self.is_entered_by_hand or self.is_taken_back_by_hand

    def suits(self, system_kind: str) -> bool:
        return not self.system_kinds or system_kind in self.system_kinds

    def water_of(self, item: LedgerItem, facts: SystemFacts) -> Water:
        fixed = self.water
        return fixed if isinstance(fixed, Water) else fixed(item, facts)

    def protection_of(self, item: LedgerItem) -> Verdict:
        return self.protection(item) if self.protection else NOTHING

    def field(self, name: str) -> Field | None:
        return next((field for field in (*self.fields, *ON_ANY_RECORD) if field.name == name), None)


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


QUESTIONED = text("questioned", _("Questioned because"))
"""What the book asked about and the person kept or put right; any record may hold it."""

FILES = text("files", _("Photos and documents"), help=_("Name and SHA-256 digest of each."))
"""Written by the book, so that a file put in another's place would not go unseen; any record may
hold it."""

ON_ANY_RECORD = (QUESTIONED, FILES)

WHERE = text("where", _("Where"), help=_("The vent, drain or gauge, as marked on the drawing."))
SPOT = text("where", _("Where"), help=_("Bay, aisle or room, and the pipe as on the drawing."))
PIPE_TEMPERATURE = quantity("temperature_k", _("Pipe temperature"), "temperature", low=200.0)
DRAIN_STEPS = (
    tri("nitrogen_before_opening", _("Was nitrogen connected before any drain was opened?")),
    tri("regulator_above_system", _("Was the regulator set above system pressure?")),
    tri("flow_until_empty", _("Did nitrogen flow until all the water was out?")),
    tri("one_drain_at_a_time", _("Was only one drain open at a time?")),
)
REPLACED = percent(
    "replaced_percent",
    _("Share of the gas replaced by air"),
    help=_("Leave empty when it is not known; 0 when no air came in."),
)
DRAINED = quantity(
    "drained_m3",
    _("Water that was drained"),
    "volume",
    help=_("By a bucket or by the time it ran. Leave it empty when nobody measured it."),
)
UNDER_NITROGEN = tri("under_nitrogen", _("Was nitrogen kept flowing while it was open?"))
RESTORATION = (
    tri(
        "water_filled",
        _("Filled again, with water or with gas at its pressure, as it stands in service?"),
    ),
    tri("valves_open", _("Control valves open and secured?")),
    tri("tested", _("Drain test done, or supply pressure seen, at this riser?")),
    tri("signals_back", _("Alarm and supervision back, and the signals received?")),
    tri("notified", _("Everybody told who was told at the start?")),
)
AREAS = text(
    "areas", _("Areas without protection"), help=_("Leave empty when it is the whole system.")
)
PLANNED = choice(
    "planned",
    _("Planned ahead, or an emergency"),
    ("planned", _("Planned ahead")),
    ("emergency", _("Emergency")),
    required=False,
)
LEAVE = choice(
    "leave",
    _("Did the owner give leave before the valve moved?"),
    ("yes", _("Yes")),
    ("no", _("No")),
    ("unknown", _("Not known")),
    ("emergency", _("An emergency: nobody was asked first")),
    required=False,
    help=_("The impairment coordinator where one is named; with none, the owner."),
)
"""Planned impairments are authorised before the valve moves; an emergency does not wait: NFPA 25
15.5.1 and 15.6, restated by a college's safety office."""

LEAVE_BY = text("leave_by", _("Who gave it"))
OWNERS_LEAVE = (LEAVE, LEAVE_BY)
TOLD_ALL = choice(
    "told_all",
    _("Was everybody told that it is out of service?"),
    *TRI,
    required=False,
    help=_("Authority, fire department, insurer, monitoring company. Empty counts as not known."),
)
FIRE_WATCH = choice(
    "fire_watch",
    _("Is there a fire watch, or an equal measure?"),
    *TRI,
    required=False,
    help=_("Somebody with no other task. Left empty, it counts as not known."),
)
WHILE_OUT = (TOLD_ALL, FIRE_WATCH)
"""Asked of every record that can take protection out of service. NFPA 25 15.5.2 and 15.6.2, from
memory: verify against the adopted edition."""
WET_PIPE = ("wet", "antifreeze")
GAS_PIPE = ("dry", "preaction")
