"""The book against a list of heads that somebody kept: whether it goes on from it."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from registry.models import Record, System

CHUNK = 500


class HeadsError(ValueError):
    """A file that is no list of heads; says in which line and what would be right."""


@dataclass(frozen=True)
class Head:
    """What a system's ledger had come to: its last number and the hash of that record."""

    system: UUID
    number: int
    hash: str


def read_heads(lines: Iterable[str]) -> list[Head]:
    """The heads of a file as the weekly digest carries it: system, number, hash."""
    heads = []
    for count, cells in enumerate(csv.reader(lines), start=1):
        try:
            system, number, hash = cells
            heads.append(Head(UUID(system), int(number), hash))
        except ValueError as error:
            raise HeadsError(
                _(
                    "Line %(line)s is no head of a ledger; a line has the id of a system, the "
                    "number of its last record and the hash of that record."
                )
                % {"line": count}
            ) from error
    if not heads:
        raise HeadsError(_("The list of heads is empty."))
    return heads


def against_heads(heads: Iterable[Head], among: QuerySet[System] | None = None) -> Iterator[str]:
    """From which records the book is no continuation of these heads; `among` has the systems that
    the reader may know of."""
    among = System.objects.all() if among is None else among
    heads = list(heads)
    for begin in range(0, len(heads), CHUNK):
        chunk = heads[begin : begin + CHUNK]
        systems = among.filter(uuid__in=[head.system for head in chunk])
        tags = dict(systems.values_list("uuid", "tag"))
        records = Record.objects.filter(
            system__uuid__in=tags, sequence__in={head.number for head in chunk}
        )
        hashes = {
            (system, number): hash
            for system, number, hash in records.values_list("system__uuid", "sequence", "hash")
        }
        for head in chunk:
            yield from _differs(head, tags.get(head.system), hashes.get((head.system, head.number)))


def _differs(head: Head, tag: str | None, hash: str | None) -> Iterator[str]:
    if tag is None:
        yield _("System %(system)s is in the list and not in the book.") % {"system": head.system}
    elif hash is None:
        yield _("%(tag)s: record %(number)s was there when the list was made, and is gone.") % {
            "tag": tag,
            "number": head.number,
        }
    elif hash != head.hash:
        yield _(
            "%(tag)s: record %(number)s or one before it is another than when the list was made."
        ) % {"tag": tag, "number": head.number}
