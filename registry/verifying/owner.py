"""An owner's own ledger: its chain, and the facts of the owner against it."""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext as _

from registry.chain import GENESIS, canonical_json, record_hash
from registry.models import Organisation, OwnerLedger, OwnerRecord
from registry.owner_ledger import Facts, body_of, facts_of, fold
from registry.verifying.register import differing


def check_owner(owner: Organisation) -> Iterator[str]:
    ledger = OwnerLedger.objects.filter(owner=owner).first()
    if ledger is None:
        return  # not begun yet, which the page says
    rows = list(ledger.records.select_related("ledger", "recorded_by").order_by("sequence"))
    yield from _check_chain(ledger, rows)
    yield from _check_facts(fold(rows), facts_of(owner))


def _check_chain(ledger: OwnerLedger, rows: Sequence[OwnerRecord]) -> Iterator[str]:
    previous, expected = GENESIS, 1
    for row in rows:
        number = {"number": row.sequence}
        if row.sequence != expected or row.previous_hash != previous:
            yield _("Owner's ledger: record %(number)s does not follow the one before it.") % number
        if record_hash(row.previous_hash, body_of(row)) != row.hash:
            yield _("Owner's ledger: record %(number)s was altered after it was written.") % number
        previous, expected = row.hash, row.sequence + 1
    if ledger.head_hash != (previous if rows else "") or ledger.next_sequence != expected:
        yield _("Owner's ledger: records are missing at the end, or its head was changed.")
    if not rows:
        yield _("Owner's ledger: it has begun, and all its records are gone.")
    elif rows[0].change != OwnerRecord.Change.BEGUN:
        yield _("Owner's ledger: its beginning was cut off.")


def _check_facts(said: Facts, there: Facts) -> Iterator[str]:
    for key, facts in sorted(there.items()):
        if key not in said:
            yield _("%(subject)s: the book has “%(name)s”, and the owner's ledger does not.") % {
                "subject": key[0].capitalize(),
                "name": _name(facts),
            }
        elif canonical_json(facts) != canonical_json(said[key]):
            yield from _differences(key[0], facts, said[key])
    for key in sorted(said.keys() - there.keys()):
        yield _("%(subject)s: the owner's ledger has “%(name)s”, and the book does not.") % {
            "subject": key[0].capitalize(),
            "name": _name(said[key]),
        }


def _differences(subject: str, facts: dict, said: dict) -> Iterator[str]:
    for name in differing(facts, said):
        yield _(
            "%(subject)s: the book has “%(row)s” for %(fact)s, and the owner's ledger says "
            "“%(said)s”."
        ) % {
            "subject": subject.capitalize(),
            "row": facts[name],
            "fact": name.replace("_", " "),
            "said": said[name],
        }


def _name(facts: dict) -> str:
    return str(next((facts[name] for name in ("name", "title") if name in facts), facts))
