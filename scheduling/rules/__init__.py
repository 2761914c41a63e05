"""What should be done next: one pure function for each rule, from what is known of a system.

The rules look at where the system stands, not at which record came last. So the order in which
records arrive makes no difference, nor does applying the rules twice, or late after a lost message.
"""

from collections.abc import Iterator

from scheduling.rules import atmosphere, findings, protection
from scheduling.rules.atmosphere import still_asked
from scheduling.rules.types import (
    TIME,
    Cause,
    Delay,
    Facts,
    Finding,
    Line,
    Outage,
    Party,
    Rule,
    TaskDraft,
    Tuning,
    Work,
)

__all__ = [
    "RULES",
    "TIME",
    "Cause",
    "Delay",
    "Facts",
    "Finding",
    "Line",
    "Outage",
    "Party",
    "Rule",
    "TaskDraft",
    "Tuning",
    "Work",
    "answer_kinds",
    "drafts_by_rule",
    "drafts_for",
    "kinds_that_count",
    "rule_of",
    "still_asked",
    "work_of",
    "works",
]

RULES: tuple[Rule, ...] = (*protection.RULES, *atmosphere.RULES, *findings.RULES)


def drafts_by_rule(facts: Facts) -> Iterator[tuple[Rule, list[TaskDraft] | Exception]]:
    """What each rule asks for that the owner has not switched off, or the error it failed with:
    one rule that fails says nothing against the others."""
    for rule in RULES:
        try:
            yield rule, list(rule.drafts(facts)) if facts.tuned(rule.code).is_on else []
        except Exception as error:
            yield rule, error


def drafts_for(facts: Facts) -> list[TaskDraft]:
    """What all rules ask for; the first failure is raised."""
    drafts: list[TaskDraft] = []
    for _rule, made in drafts_by_rule(facts):
        if isinstance(made, Exception):
            raise made
        drafts += made
    return drafts


def rule_of(code: str) -> Rule | None:
    return next((rule for rule in RULES if rule.code == code), None)


def works() -> dict[str, Work]:
    """Every work that a rule asks for, by the code stored with its follow-ups."""
    return {rule.work.code: rule.work for rule in RULES}


def work_of(code: str) -> Work:
    """The work of a stored follow-up; that of a rule long gone is told in general words."""
    return works().get(code) or Work(
        code=code,
        label="Follow-up",
        answer_kinds=(),
        is_answer=lambda kind, details: False,
        caution="",
        cautions=("draining", "nitrogen", "pressure", "local_codes"),
        to_load=(),
        log=(),
    )


def answer_kinds() -> frozenset[str]:
    """The kinds of record among which the answer to some follow-up may be."""
    return frozenset(kind.code for rule in RULES for kind in rule.work.answer_kinds)


def kinds_that_count() -> frozenset[str]:
    """The kinds of record that some rule reads by themselves, to raise or to close."""
    return answer_kinds() | {kind.code for rule in RULES for kind in rule.reads}
