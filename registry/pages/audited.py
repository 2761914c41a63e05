"""What an auditor reads of a system whose access is of a period: what happened in it."""

from dataclasses import dataclass
from datetime import UTC, datetime

from django.utils.translation import gettext

from registry.models import Record, System, User
from registry.models.querysets import audits_of_a_period
from registry.words.spoken import written

MOMENT = "%-d %B %Y, %H:%M UTC"


@dataclass(frozen=True)
class AuditedPeriod:
    since: datetime | None
    until: datetime | None

    @property
    def words(self) -> str:
        since = written(self.since.astimezone(UTC), MOMENT) if self.since else ""
        until = written(self.until.astimezone(UTC), MOMENT) if self.until else ""
        if since and until:
            return gettext("You read what happened from {since} and before {until}.").format(
                since=since, until=until
            )
        if since:
            return gettext("You read what happened from {since}.").format(since=since)
        return gettext("You read what happened before {until}.").format(until=until)

    @property
    def end_words(self) -> str:
        return written(self.until.astimezone(UTC), MOMENT) if self.until else ""


def audited_period(system: System, reader: User) -> AuditedPeriod | None:
    """None for whoever reads all of it. Where several auditors' access reaches it, the widest."""
    if not System.objects.read_in_part_by(reader).filter(pk=system.pk).exists():
        return None
    mine = [one for one in audits_of_a_period(reader) if one.owner_id == system.site.owner_id]
    begins, ends = [one.happened_from for one in mine], [one.happened_before for one in mine]
    return AuditedPeriod(
        None if None in begins else min(one for one in begins if one),
        None if None in ends else max(one for one in ends if one),
    )


def readable(system: System, reader: User) -> set[int]:
    """Keys of the records that the person may read."""
    rows = Record.objects.visible_to(reader).filter(system=system)
    return set(rows.order_by().values_list("pk", flat=True))
