"""The whole book held against its records, and what was found kept for the pages to say."""

from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import chain, islice

from django.db import transaction
from django.db.models import QuerySet

from registry.models import Organisation, OwnerLog, OwnerVerdict, System, Verdict
from registry.verifying import Examined, Prepared, examined, log_differences
from registry.verifying.owner import check_owner

KEPT = 20
"""So many differences of a system are kept; one is enough to refuse a certificate."""


def owners_with_systems() -> QuerySet[Organisation]:
    return Organisation.objects.filter(sites__systems__isnull=False).distinct().order_by("pk")


def verify_owner(
    owner: Organisation,
    *,
    more: Sequence[Prepared],
    now: datetime,
    on_piece: Callable[[int], None] = lambda count: None,
) -> OwnerVerdict:
    found = []
    for one in examined(System.objects.filter(site__owner=owner), more):
        found.append(_verdict(one, now))
        on_piece(1)
    of_all = chain(log_differences(OwnerLog.objects.filter(owner=owner)), check_owner(owner))
    log = list(islice(of_all, KEPT))
    return _store(owner, found, log, now)


def _verdict(one: Examined, now: datetime) -> Verdict:
    return Verdict(
        system=one.system, checked_at=now, records=one.records, differences=one.found[:KEPT]
    )


@transaction.atomic
def _store(
    owner: Organisation, found: Sequence[Verdict], log: list[str], now: datetime
) -> OwnerVerdict:
    Verdict.objects.bulk_create(
        found, batch_size=1000, update_conflicts=True, unique_fields=["system"],
        update_fields=["checked_at", "records", "differences"],
    )  # fmt: skip
    before = OwnerVerdict.objects.filter(owner=owner).first()
    facts = {
        "checked_at": now,
        "systems": len(found),
        "records": sum(one.records for one in found),
        "differing_systems": sum(not one.holds for one in found),
        "log_differences": log,
    }
    is_failing = bool(facts["differing_systems"] or log)
    since = (before and before.failing_since) or now
    facts["failing_since"] = since if is_failing else None
    return OwnerVerdict.objects.update_or_create(owner=owner, defaults=facts)[0]
