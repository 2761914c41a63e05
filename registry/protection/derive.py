"""From a ledger to protection over time. Time alone changes nothing: what is out stays out."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from registry.atmosphere.types import LedgerItem
from registry.protection import safety
from registry.protection.effects import effect_of_kind
from registry.protection.restoration import WORKING
from registry.protection.types import (
    ALL,
    IMPAIRED,
    IN_SERVICE,
    NOT_KNOWN,
    OWN,
    Condition,
    Impairment,
    Span,
    Verdict,
)

NEVER_STATED = "Nobody has stated or tested that the system is in service."
Corrections = Mapping[int, int]
"""By the number of a corrected record the number of what now stands for it."""


def derive(
    installed_at: datetime | None,
    items: Sequence[LedgerItem],
    corrections: Corrections | None = None,
) -> tuple[Span, ...]:
    """Protection from installation on; nothing for a system without a date and without records."""
    return tuple(_spans(_conditions(installed_at, items, corrections or {})))


def standing(
    items: Sequence[LedgerItem], corrections: Corrections | None = None
) -> Condition | None:
    """What holds after the last record; None before the first."""
    conditions = list(_conditions(None, items, corrections or {}))
    return conditions[-1] if conditions else None


def impairments(
    items: Sequence[LedgerItem], corrections: Corrections | None = None
) -> tuple[Impairment, ...]:
    """Every impairment on record with its end, in the order they began."""
    found: dict[int, Impairment] = {}
    for condition in _conditions(None, items, corrections or {}):
        lasting = {one.cause_id: one for one in condition.open}
        found |= {pk: one for pk, one in lasting.items() if pk in found}  # answered by now
        for cause_id, one in found.items():
            if one.ended_at is None and cause_id not in lasting:
                found[cause_id] = replace(one, ended_at=condition.at, ended_by=condition.cause_id)
        found |= {pk: one for pk, one in lasting.items() if pk not in found}
    return tuple(found.values())


def open_impairments(
    items: Sequence[LedgerItem], corrections: Corrections | None = None
) -> tuple[Impairment, ...]:
    """Those that nothing on record has ended, the oldest first."""
    return tuple(one for one in impairments(items, corrections) if one.ended_at is None)


def _conditions(
    installed_at: datetime | None, items: Sequence[LedgerItem], corrections: Corrections
) -> Iterator[Condition]:
    ordered = sorted(items, key=lambda item: (item.occurred_at, item.sequence))
    known = [installed_at] if installed_at else []
    start = min([*known, *(item.occurred_at for item in ordered[:1])], default=None)
    if start is None:
        return
    condition = Condition(start, (), NOT_KNOWN, "never_stated", NEVER_STATED, None)
    yield condition
    for item in ordered:
        after = _after(condition, item, effect_of_kind(item), corrections)
        if after != condition:
            condition = replace(after, at=item.occurred_at)
            yield condition


def _after(
    before: Condition, item: LedgerItem, verdict: Verdict, corrections: Corrections
) -> Condition:
    if verdict.says == "begins":
        return replace(before, open=(*before.open, _impairment(item, verdict)), stays="")
    if verdict.says == "doubts":
        return _otherwise(before, NOT_KNOWN, verdict, item)
    if verdict.says == "shows" and before.otherwise == NOT_KNOWN and not before.open:
        return _otherwise(before, IN_SERVICE, verdict, item)
    if verdict.says == "goes_on" and before.open:
        return replace(before, stays=verdict.reason)
    if verdict.says == "answers":
        return _answered(before, verdict, corrections)
    if verdict.says == "restores":
        return _restored(before, item, verdict, corrections)
    return before


def _impairment(item: LedgerItem, verdict: Verdict) -> Impairment:
    return Impairment(
        cause_id=item.id,
        sequence=item.sequence,
        began_at=item.occurred_at,
        code=verdict.code,
        what=verdict.reason,
        areas=verdict.areas,
        answers=verdict.answers,
        has_tag=verdict.has_tag,
    )


def _answered(before: Condition, verdict: Verdict, corrections: Corrections) -> Condition:
    """Of the outage that it names, or of every one that is open."""
    named = _standing_for(int(verdict.ends), corrections) if verdict.ends.isdecimal() else None
    return replace(
        before,
        open=tuple(
            replace(one, answers=safety.together(one.answers, verdict.answers))
            if named in (None, one.sequence)
            else one
            for one in before.open
        ),
    )


def _otherwise(before: Condition, state: str, verdict: Verdict, item: LedgerItem) -> Condition:
    known = IN_SERVICE if state == IN_SERVICE else NOT_KNOWN
    return replace(
        before, otherwise=known, code=verdict.code, reason=verdict.reason, cause_id=item.id
    )


def _restored(
    before: Condition, item: LedgerItem, verdict: Verdict, corrections: Corrections
) -> Condition:
    """One fact that is “no” or “not known” ends nothing. A fact that nobody was asked for ends what
    it says, and leaves not known whether the sprinklers would work."""
    if verdict.refused or verdict.unsure:
        return _not_restored(before, item, verdict)
    left = _left(before.open, verdict.ends, corrections)
    if before.open and left == before.open:
        return replace(before, stays=f"{verdict.reason} It names none of what is out of service.")
    after = _otherwise(before, NOT_KNOWN if verdict.unasked else IN_SERVICE, verdict, item)
    return replace(after, open=left, stays="")


def _not_restored(before: Condition, item: LedgerItem, verdict: Verdict) -> Condition:
    if before.open:
        return replace(before, stays=verdict.reason)
    if set(verdict.refused) & set(WORKING):
        found = replace(verdict, reason=f"Found out of service. {verdict.reason}")
        return replace(before, open=(_impairment(item, found),), stays="")
    return _otherwise(before, NOT_KNOWN, verdict, item)


def _left(
    still_open: tuple[Impairment, ...], ends: str, corrections: Corrections
) -> tuple[Impairment, ...]:
    """What a restoration leaves open: all of it where several tags hang and it names none."""
    tagged = tuple(one for one in still_open if one.has_tag)
    if ends == ALL:
        return ()
    if ends == OWN:
        return tagged
    if ends.isdecimal():
        ended = _standing_for(int(ends), corrections)
        return tuple(one for one in still_open if one.sequence != ended)
    return () if not ends and len(tagged) < 2 else still_open


def _standing_for(sequence: int, corrections: Corrections) -> int:
    while sequence in corrections:
        sequence = corrections[sequence]
    return sequence


def _spans(conditions: Iterable[Condition]) -> Iterator[Span]:
    """One for each instant, the last word at it."""
    by_instant = {condition.at: condition for condition in conditions}
    last: Span | None = None
    for condition in by_instant.values():
        span = _span(condition, last)
        if last is None or replace(span, starts_at=last.starts_at) != last:
            yield span
            last = span


def _span(condition: Condition, last: Span | None) -> Span:
    unbroken = last is not None and last.state == condition.state
    since = last.state_since if last and unbroken else condition.at
    if not condition.open:
        return Span(
            condition.at, condition.state, since, condition.code, condition.reason,
            condition.cause_id,
        )  # fmt: skip
    first, *others = condition.open
    also = " ".join(f"Also: {one.reason}" for one in others)
    words = (first.reason, also, condition.stays)
    return Span(
        starts_at=condition.at,
        state=IMPAIRED,
        state_since=since,
        reason_code=first.code,
        reason=" ".join(part for part in words if part),
        cause_id=first.cause_id,
        areas="; ".join(dict.fromkeys(one.areas for one in condition.open if one.areas)),
        is_planned=all(one.is_planned for one in condition.open),
        unanswered=safety.of_all(one.answers for one in condition.open),
    )
