"""How a rule on single records works: all that it reads and no later record answers share one
follow-up."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta

from scheduling.rules.dating import due_day
from scheduling.rules.slots import working_day
from scheduling.rules.types import Facts, Finding, Rule, TaskDraft

STALE_AFTER = timedelta(days=5 * 366)
"""NFPA 25 has the inside of the pipe assessed every five years (verify against your edition),
so what is older has been looked into since, or is asked for by that."""


def _label(finding: Finding) -> str:
    return finding.cause.label


def _always(read: Facts | Finding) -> bool:
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRule(Rule):
    """A rule on single records: which of them ask for its work, and how its follow-up says so."""

    asks: Callable[[Finding], bool] = _always
    tells: Callable[[Finding], str] = _label
    applies: Callable[[Facts], bool] = _always

    def drafts(self, facts: Facts) -> Iterator[TaskDraft]:
        """One for all of them that no later record answers."""
        found = self.unanswered(facts) if self.applies(facts) else []
        if not found:
            return
        known_at = min(finding.cause.known_at for finding in found)
        due = due_day(facts, known_at, limit_days=facts.tuned(self.code).days or self.days or 1)
        yield TaskDraft(
            rule=self.code,
            kind=self.work.code,
            title=self.work.label,
            why=self._why(facts, found),
            slot=working_day(due.day, facts.zone),
            assigned_to=(facts.owner if self.work.stays_with_owner else facts.assignee).id,
            keys=tuple(key for finding in found for key in finding.cause.keys),
            cause_ids=tuple(finding.cause.record_id for finding in found),
            due_because=due.because,
        )

    def unanswered(self, facts: Facts) -> list[Finding]:
        """The findings that ask for the work and that no later record answers; none is stale."""
        read = {kind.code for kind in self.reads}
        answers = [f for f in facts.findings if self.work.is_answer(f.kind, f.details)]
        answered_at = max((f.cause.occurred_at for f in answers), default=None)
        since = facts.now - STALE_AFTER
        return [
            finding
            for finding in facts.findings
            if finding.kind in read
            and self.asks(finding)
            and finding.cause.occurred_at >= since
            and (answered_at is None or finding.cause.occurred_at > answered_at)
        ]

    def _why(self, facts: Facts, found: list[Finding]) -> str:
        said = "; ".join(f"{facts.day(f.cause.occurred_at)}: {self.tells(f)}" for f in found)
        return f"{said}. Waits for {self.waits_for}.{facts.stays}"
