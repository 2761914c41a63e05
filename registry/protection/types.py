"""What goes into the derivation of protection and what comes out of it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from registry.protection import safety
from registry.protection.safety import Answers

State = Literal["in_service", "impaired", "not_known"]
IN_SERVICE: State = "in_service"
IMPAIRED: State = "impaired"
NOT_KNOWN: State = "not_known"

ALL, OWN = "all", "own"
"""Which impairments a restoration ends: every one, or those without a tag of their own. Anything
else names one, by the number of the record that began it."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one record says of protection, whatever the state before.

    "begins": it is out of service; "goes_on": still out, for another reason; "doubts": it may be
    out; "shows": a test found it working; "restores": the facts of restoration were asked;
    "answers": what was left open of an outage is said.
    """

    says: Literal["nothing", "begins", "goes_on", "doubts", "shows", "restores", "answers"]
    code: str = ""
    reason: str = ""
    areas: str = ""
    answers: Answers = ()
    has_tag: bool = False  # an impairment with a tag of its own, which only its own end takes off
    ends: str = ""  # or which of several outages is answered for
    refused: tuple[str, ...] = ()  # facts of restoration that are “no”
    unsure: tuple[str, ...] = ()  # those that are “not known”
    unasked: tuple[str, ...] = ()  # those that the record was never asked


NOTHING = Verdict("nothing")


@dataclass(frozen=True, slots=True)
class Impairment:
    """One reason for which protection is out of service; it lasts until it is ended itself."""

    cause_id: int
    sequence: int
    began_at: datetime
    code: str
    what: str
    areas: str = ""
    answers: Answers = ()
    has_tag: bool = False
    ended_at: datetime | None = None
    ended_by: int | None = None  # the record that restored it

    @property
    def reason(self) -> str:
        return f"{self.what} {safety.refused(self.answers)}".strip()

    @property
    def is_planned(self) -> bool:
        return safety.is_planned(self.answers)

    @property
    def unanswered(self) -> tuple[str, ...]:
        return safety.unanswered(self.answers)


@dataclass(frozen=True, slots=True)
class Condition:
    """All that a derivation carries from one instant to the next. `otherwise` is what holds while
    no impairment is open."""

    at: datetime
    open: tuple[Impairment, ...]
    otherwise: State
    code: str
    reason: str
    cause_id: int | None
    stays: str = ""  # why the last restoration did not end what is open

    @property
    def state(self) -> State:
        return IMPAIRED if self.open else self.otherwise


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time that ends where the next one starts; neighbours may share a state."""

    starts_at: datetime
    state: State
    state_since: datetime
    reason_code: str
    reason: str
    cause_id: int | None
    areas: str = ""
    is_planned: bool = False
    unanswered: tuple[str, ...] = ()
