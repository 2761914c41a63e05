"""Answers kept by owner: whole for the next file of the same columns, words for every file."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from hashlib import blake2b
from typing import Any

from registry.imports.answers import LEAVE, Answers
from registry.imports.columns import OURS
from registry.imports.layout import MADE_UP
from registry.imports.text import fold
from registry.models import ImportBatch, ImportShape, Organisation

ALIKE = 0.8  # of the headings shared: a file that somebody added a column to
KEPT = 30  # shapes of an owner that are looked at
OF_ONE_FILE: dict[str, Any] = {
    "sheet": None, "header_row": None, "similar": LEAVE, "choices": {}, "adopted_edition": None,
}  # fmt: skip


def remembered(owner: Organisation, headings: Sequence[str]) -> Answers:
    """What this owner answered for a file like this one, and for the words of any file."""
    shape = _shape(headings)
    kept = list(ImportShape.objects.filter(owner=owner)[:KEPT])
    words: dict[str, str] = {}
    for one in reversed(kept):
        words |= one.answers.get("words", {})
    for one in kept:
        if one.digest == _digest(shape) or _likeness(one.headings, shape) >= ALIKE:
            answers = Answers.from_json(one.answers)
            known = {fold(heading) for heading in headings}
            columns = {heading: name for heading, name in answers.columns.items()
                       if fold(heading) in known or heading in MADE_UP}  # fmt: skip
            return replace(answers, columns=columns, words=words | answers.words)
    return Answers(words=words)


def remember(batch: ImportBatch, answers: Answers, now: datetime) -> None:
    headings = [field["key"] for field in batch.outcome.get("fields", [])]
    shape = _shape(headings)
    if not shape:
        return
    ImportShape.objects.update_or_create(
        owner=batch.owner,
        digest=_digest(shape),
        defaults={
            "headings": list(shape),
            "file_name": batch.file_name,
            "answers": replace(answers, **OF_ONE_FILE).to_json(),
            "used_at": now,
        },
    )


def _shape(headings: Sequence[str]) -> tuple[str, ...]:
    """The headings without those this program makes up or adds."""
    folded = (fold(heading) for heading in headings if heading not in MADE_UP)
    return tuple(text for text in folded if text and text not in OURS and text != "row key")


def _digest(shape: tuple[str, ...]) -> str:
    return blake2b("\n".join(shape).encode(), digest_size=16).hexdigest()


def _likeness(one: Sequence[str], other: Sequence[str]) -> float:
    shared = set(one) & set(other)
    return len(shared) / max(1, len(set(one) | set(other)))
