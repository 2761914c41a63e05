"""The heads of the ledgers at an instant, which a mailbox elsewhere then witnesses."""

import csv
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from typing import Any
from urllib.parse import urlencode

from django.db.models import OuterRef, Q, Subquery
from django.urls import reverse

from registry.models import Membership, Organisation, Record, System, User
from scheduling.messages.links import absolute

LISTED = 20
"""As many stand in the mail one by one."""
ATTACHED = 20_000
"""About 3 MB; for more systems the digest of all heads and the link stand alone."""


@dataclass(frozen=True)
class ChainHeads:
    """What fixes the ledgers as they are: SHA-256 over the lines of the list, one a system."""

    count: int
    sha256: str
    is_attached: bool
    link: str
    lines: Sequence[dict[str, Any]]  # none where they would be too many


def heads_of(person: User, at: datetime) -> ChainHeads:
    digest, count = hashlib.sha256(), 0
    for count, line in enumerate(head_lines(person, at), start=1):  # noqa: B007
        digest.update((",".join(map(str, line)) + "\n").encode())
    return ChainHeads(
        count,
        digest.hexdigest(),
        _is_witness(person) and count <= ATTACHED,
        absolute(f"{reverse('scheduling:heads')}?{urlencode({'at': at.isoformat()})}"),
        _named(person, at) if count <= LISTED else [],
    )


def head_lines(person: User, at: datetime) -> Iterator[tuple[str, int, str]]:
    """(system, number of records, head of its chain), in the order of the system's UUID."""
    heads = _as_known(person, at).order_by("uuid").values_list("uuid", "number", "head")
    for uuid, number, head in heads.iterator():
        yield str(uuid), number, head


def heads_file(person: User, at: datetime) -> tuple[str, str, str]:
    text = StringIO()
    csv.writer(text, lineterminator="\n").writerows(head_lines(person, at))
    return f"chain-heads-{at:%Y-%m-%d}.csv", text.getvalue(), "text/csv"


def _as_known(person: User, at: datetime):
    last = Record.objects.filter(system=OuterRef("pk"), recorded_at__lte=at).order_by("-sequence")
    known = System.objects.visible_to(person).annotate(
        number=Subquery(last.values("sequence")[:1]), head=Subquery(last.values("hash")[:1])
    )
    return known.filter(number__isnull=False)


def _named(person: User, at: datetime) -> list[dict[str, Any]]:
    systems = _as_known(person, at).select_related("site").order_by("uuid")
    return [
        {
            "what": f"{system.tag}, {system.site.name}",
            "records": system.number,
            "head": system.head,
            "link": absolute(reverse("reports:ledger", args=[system.pk])),
        }
        for system in systems
    ]


def _is_witness(person: User) -> bool:
    """Those who keep the heads for others: auditors, and the managers of owners."""
    is_auditor = Q(organisation__kind=Organisation.Kind.AUDITOR)
    keeps_book = Q(organisation__kind=Organisation.Kind.OWNER, role=Membership.Role.MANAGER)
    return person.memberships.filter(is_auditor | keeps_book).exists()
