"""Which systems lack rows of a file that was loaded: they say so until those rows are settled."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from hashlib import blake2b
from itertools import islice

from django.db import transaction

from registry.imports.judge import Fate, Verdict, key_of
from registry.imports.known import Key, KnownRegister
from registry.imports.mapping import Mapping
from registry.imports.reading import SheetRow
from registry.imports.survey import REPEATS
from registry.models import RowToFix, System, User
from registry.services.register.rows_to_fix import count_open_rows

MOST = 50_000  # rows to fix that are kept one by one
TOGETHER = 500  # systems of one transaction


def row_key(source: str, row: SheetRow) -> str:
    """The same row of the same file has the same key whenever it is read."""
    return blake2b(f"{source}\n{row.name}".encode(), digest_size=6).hexdigest()


@dataclass(frozen=True, slots=True)
class Left:
    key: str
    row: str
    wrong: str
    typed: dict[str, str]


class RowsLeft:
    """Collects while a file is judged; stores when all of its good rows are in."""

    def __init__(self, mapping: Mapping, source: str):
        self.mapping, self.source = mapping, source
        self.open: dict[Key, list[Left]] = defaultdict(list)
        self.settled: dict[Key, set[str]] = defaultdict(set)
        self.kept = 0

    def add(self, verdict: Verdict) -> None:
        if verdict.fate in (Fate.NEW, Fate.KNOWN):
            if verdict.parsed and verdict.parsed.row_key:
                self.settled[verdict.parsed.key].add(verdict.parsed.row_key)
            return
        key = key_of(verdict.place)
        if verdict.fate != Fate.TO_FIX or key is None or self.kept >= MOST:
            return
        if all(problem.question == REPEATS for problem in verdict.problems):
            return
        self.kept += 1
        self.open[key].append(self._left(verdict))

    def _left(self, verdict: Verdict) -> Left:
        cells = verdict.row.cells
        wrong = "; ".join(str(problem) for problem in verdict.problems)[:500]
        known = self.mapping.cell(cells, "row_key") or row_key(self.source, verdict.row)
        shown = ("role", "material", "nominal_size", "length")
        typed = {name: self.mapping.cell(cells, name)[:80] for name in shown}
        return Left(known[:16], verdict.row.name[:120], wrong, typed)

    def store(self, known: KnownRegister, by: User, now: datetime) -> None:
        keys = iter(sorted((self.open.keys() | self.settled.keys()) & known.pk_by_key.keys()))
        while chunk := list(islice(keys, TOGETHER)):
            with transaction.atomic():
                self._store_chunk(chunk, known, by, now)

    def _store_chunk(self, keys: list[Key], known: KnownRegister, by: User, now: datetime) -> None:
        pks = {key: known.pk_by_key[key] for key in keys}
        list(System.objects.filter(pk__in=pks.values()).select_for_update().order_by("pk"))
        RowToFix.objects.bulk_create(
            [
                RowToFix(
                    system_id=pks[key], key=left.key, source=self.source[:200], row=left.row,
                    wrong=left.wrong, typed=left.typed, found_at=now,
                )
                for key in keys
                for left in self.open.get(key, ())
            ],
            ignore_conflicts=True,
        )  # fmt: skip
        for key in keys:
            if done := self.settled.get(key):
                RowToFix.objects.filter(
                    system=pks[key], key__in=done, settled_at__isnull=True
                ).update(settled_at=now, settled_by=by)
        count_open_rows(pks.values())
