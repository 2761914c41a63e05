"""A system's chain: every hash worked out again, its beginning, its end and its head."""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from registry.chain import GENESIS, record_hash
from registry.kinds.facts import SYSTEM_ENTERED
from registry.models import Record
from registry.services.ledger import record_body
from registry.verifying.loading import Held


def check_chain(one: Held) -> Iterator[str]:
    if not one.records:
        yield _(
            "The ledger is empty. Entering a system leaves its first record, so all were removed."
        )
    previous, expected = GENESIS, 1
    for row in one.records:
        yield from _misplaced(row, expected, previous)
        if _worked_out(row) != row.hash:
            yield _("Record %(number)s was altered after it was written.") % _n(row)
        previous, expected = row.hash, row.sequence + 1
    if one.records and one.records[0].kind != SYSTEM_ENTERED.code:
        yield _(
            "The ledger begins with a record that does not enter the system: its beginning was "
            "cut off."
        )
    yield from _wrong_end(one, previous, expected)


def _misplaced(row: Record, expected: int, previous: str) -> Iterator[str]:
    if row.sequence != expected:
        yield _("Record %(expected)s is missing: number %(number)s stands in its place.") % {
            "expected": expected,
            "number": row.sequence,
        }
    if row.previous_hash != previous:
        yield _("Record %(number)s does not follow the record before it.") % _n(row)


def _worked_out(row: Record) -> str:
    try:
        return record_hash(row.previous_hash, record_body(row))
    except ValueError:  # a number that no record can hold
        return ""


def _wrong_end(one: Held, last_hash: str, expected: int) -> Iterator[str]:
    if one.system.head_hash != last_hash:
        yield _(
            "The head kept with the system is not the hash of its last record: records are missing "
            "at the end, or the head was changed."
        )
    if one.system.next_sequence != expected:
        yield _(
            "The next record would be number %(next)s, and the last one here is number %(last)s."
        ) % {"next": one.system.next_sequence, "last": expected - 1}


def _n(row: Record) -> dict[str, int]:
    return {"number": row.sequence}
