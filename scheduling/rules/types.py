"""What the rules read and what they give back: plain data, no database."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from registry.atmosphere.confirming import Due
from scheduling.rules.slots import Slot

TIME = "time:"


@dataclass(frozen=True, slots=True)
class Party:
    id: int
    name: str


@dataclass(frozen=True, slots=True)
class Cause:
    """A current record; `keys` names it first, then every record that it corrects."""

    record_id: int
    keys: tuple[str, ...]
    label: str
    occurred_at: datetime
    known_at: datetime


@dataclass(frozen=True, slots=True)
class Finding:
    """A current record that may ask for work besides what the atmosphere asks for, or answer it."""

    cause: Cause
    kind: str
    details: Mapping[str, Any]
    first_wall_mm: float | None = None  # of the pipe a wall reading was taken on
    first_delivery_s: float | None = None  # of the first test on record, for a later one


@dataclass(frozen=True, slots=True)
class Delay:
    """What each week until the work is done costs, by the stored assessment named by `key`."""

    points_per_week: float
    key: str


@dataclass(frozen=True, slots=True)
class Tuning:
    """How the owner wants one rule; None: the rule's own number."""

    is_on: bool = True
    days: int | None = None
    points: float | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """Where one system stands: its present state and what put it there, its standing acceptance."""

    now: datetime
    zone: ZoneInfo
    owner: Party
    contractor: Party | None
    state: str  # inert, in_doubt or aerated
    since: datetime  # of the state
    present_since: datetime  # of the present reason for it
    reason: str
    causes: tuple[Cause, ...] = ()
    is_only_wanted: bool = False  # nothing let air in: the causes are wishes of the owner
    wanted_by: date | None = None  # the last day that such a wish named
    is_as_installed: bool = False
    acceptance: Cause | None = None
    dues: tuple[Due, ...] = ()
    findings: tuple[Finding, ...] = ()  # in the order they happened
    has_gas_supply: bool = False
    delay: Delay | None = None
    may_have_it: frozenset[int] = frozenset()  # parties a person may hand work over to
    tuning: Mapping[str, Tuning] = field(default_factory=dict)

    def day(self, when: datetime) -> str:
        return f"{when.astimezone(self.zone):%-d %B %Y}"

    def tuned(self, rule: str) -> Tuning:
        return self.tuning.get(rule, Tuning())

    @property
    def assignee(self) -> Party:
        return self.contractor or self.owner

    @property
    def stays(self) -> str:
        if self.contractor:
            return ""
        return f" No contractor serves the site now, so it stays with {self.owner.name}."


@dataclass(frozen=True, slots=True)
class TaskDraft:
    """A follow-up that should stand open. `keys` are those by which one already raised is known.

    `dating_key` names what the date rests on: while it is the same, a date once given stays.
    """

    rule: str
    kind: str
    title: str
    why: str
    slot: Slot
    assigned_to: int
    keys: tuple[str, ...]
    cause_ids: tuple[int, ...] = ()
    due_because: str = ""
    dating_key: str = ""

    @property
    def is_timed(self) -> bool:
        return self.keys[0].startswith(TIME)


@dataclass(frozen=True, slots=True)
class Rule:
    """`policy_field` names where the owner's policy keeps the days, when it does."""

    code: str
    says: str
    drafts: Callable[[Facts], Iterator[TaskDraft]]
    title: str = ""
    waits_for: str = ""
    days: int | None = None
    points: float | None = None
    policy_field: str = ""
    basis: str = "Common practice, no source."
