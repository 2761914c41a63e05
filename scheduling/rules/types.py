"""What the rules read and what they give back: plain data, no database."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from registry.atmosphere.confirming import Due
from registry.kinds import Kind
from scheduling.rules.slots import WorkSlot

TIME = "time:"
USUAL_PRIORITY = 5  # RFC 5545 3.8.1.9: 1 to 4 are high, 5 is the middle

Details = Mapping[str, Any]


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
    details: Details
    first_wall_mm: float | None = None  # of the pipe a wall reading was taken on
    first_delivery_s: float | None = None  # of the first test on record, for a later one


@dataclass(frozen=True, slots=True)
class Outage:
    """An impairment that lasts."""

    cause: Cause
    reason: str
    areas: str
    is_planned: bool


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
    rusts: bool = True  # some of its pipe does, or nobody said of what it is made
    outages: tuple[Outage, ...] = ()  # for which protection is out of service now
    not_restored: str = ""  # why the last restoration, or the end of a run, ended none of them
    before_acceptance: "Facts | None" = None  # of a run accepted and not yet back in service
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
    slot: WorkSlot
    assigned_to: int
    keys: tuple[str, ...]
    cause_ids: tuple[int, ...] = ()
    due_because: str = ""
    dating_key: str = ""

    @property
    def is_timed(self) -> bool:
        return self.keys[0].startswith(TIME)


@dataclass(frozen=True, slots=True)
class Line:
    """A current record of the ledger, as far as it may answer a follow-up."""

    record_id: int
    kind: str
    occurred_at: datetime
    sequence: int
    details: Details = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class LogOffer:
    """A button of the follow-up by which the work is logged: the form of a kind of record, or the
    page of the system that `page` names; with neither it is the inerting run, step by step."""

    label: str
    kind: Kind | None = None
    page: str = ""


def last_answer(answers: Sequence[Line], state: str) -> Line | None:
    return answers[-1] if answers else None


def by_kind(*kinds: Kind) -> Callable[[str, Details], bool]:
    """Any record of these kinds is an answer, whatever its details."""
    codes = frozenset(kind.code for kind in kinds)
    return lambda kind, details: kind in codes


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What a follow-up asks people to do, and all that follows from it.

    `code` is stored with each follow-up. Two rules may ask for the same work.
    """

    code: str
    label: str  # on calendars, and the title of a follow-up whose rule names no other
    answer_kinds: tuple[Kind, ...]  # the kinds of record among which an answer may be
    is_answer: Callable[[str, Details], bool]
    chosen: Callable[[Sequence[Line], str], Line | None] = last_answer  # which of several counts
    caution: str  # in calendars and mail, as whole sentences
    cautions: tuple[str, ...]  # on the page, by their names in `registry.pages.cautions`
    to_load: tuple[str, ...]  # common practice, no source
    log: tuple[LogOffer, ...]  # the likeliest first
    is_inerting_run: bool = False  # carried out as a run, with gas by its plan
    is_about_gas: bool = False  # the state of the gas says why it is no longer needed
    stays_with_owner: bool = False
    is_answered_in_place: bool = False  # by correcting or withdrawing the record that raised it
    is_about_protection: bool = False  # first in every list, and the owner is told as well


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule with all that follows from it. `policy_field` names where the owner's policy keeps
    the days, when it does; `reads` the kinds of record that may raise it beside the atmosphere."""

    code: str
    title: str
    says: str
    waits_for: str
    work: Work
    reads: tuple[Kind, ...] = ()
    priority: int = USUAL_PRIORITY
    days: int | None = None
    points: float | None = None
    policy_field: str = ""
    is_by_policy_days: bool = False  # due on the confirming days of the owner's policy
    basis: str = "Common practice, no source."

    def drafts(self, facts: Facts) -> Iterator[TaskDraft]:
        """The follow-ups that should stand open by this rule."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class GasRule(Rule):
    """A rule on where the atmosphere stands."""

    drafting: Callable[[Facts], Iterator[TaskDraft]]

    def drafts(self, facts: Facts) -> Iterator[TaskDraft]:
        return self.drafting(facts)
