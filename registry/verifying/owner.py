"""An owner's own ledger: its chain, and the facts of the owner against it."""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext as _

from registry.chain import GENESIS, canonical_json, record_hash
from registry.models import Organisation, OwnerLedger, OwnerRecord
from registry.owner_ledger import Facts, body_of, facts_of, fold
from registry.verifying.book import Check
from registry.verifying.loading import Held
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


NAMED = ("owner", "site", "person")


def names_of(chunk: Sequence[Held]) -> Check:
    """What papers and pages print beside records: names of those who recorded, the site's and the
    owner's, as the owner's ledger has them. One that it does not tell of yet is left to the night.
    """
    said: dict[int, Facts] = {}
    for owner in {one.system.site.owner_id for one in chunk}:
        rows = OwnerRecord.objects.filter(ledger__owner=owner, subject__in=NAMED)
        said[owner] = fold(rows.order_by("sequence"))
    return lambda one: _check_names(one, said[one.system.site.owner_id])


def _check_names(one: Held, said: Facts) -> Iterator[str]:
    site = one.system.site
    people = {row.recorded_by_id: row.recorded_by for row in one.records}
    shown = {("owner", ""): site.owner.name, ("site", str(site.pk)): site.name}
    shown |= {("person", str(person.uuid)): person.name for person in people.values()}
    for key, name in shown.items():
        if key in said and said[key]["name"] != name:
            yield _(
                "%(subject)s: the book has “%(row)s” for the name, and the owner's ledger says "
                "“%(said)s”."
            ) % {"subject": key[0].capitalize(), "row": name, "said": said[key]["name"]}
