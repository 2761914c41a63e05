"""Why work is not asked for: what the owner decided, by whom and when, as its own ledger says."""

from dataclasses import dataclass

from django.utils.translation import gettext

from registry.models import Organisation, OwnerRecord
from scheduling.follow_ups.owner_facts import ANSWER
from scheduling.models import Occurrence

ITEM, EDITION, AREA = "item of work", "edition", "sample area"
REMOVED = OwnerRecord.Change.REMOVED


@dataclass(frozen=True)
class Decision:
    """The record of a decision where there is one, and the decision in words."""

    words: str
    record: OwnerRecord | None = None


class Decisions:
    """The decisions of owners, each owner's ledger read once."""

    def __init__(self) -> None:
        self._read: dict[int, list[OwnerRecord]] = {}

    def of(self, row: Occurrence) -> Decision:
        """Why an occurrence is not asked for any more: the last decision before that it can rest
        on. What follows from one is written with it, or by a job soon after."""
        rows = self._of_owner(row.system.site.owner)
        settled_at = row.settled_at
        if not rows or settled_at is None or settled_at < rows[0].recorded_at:
            return Decision(gettext("Not on record: the owner's decisions were none then."))
        for decided in reversed(rows):
            if decided.recorded_at <= settled_at and self._is_about(decided, row):
                return Decision(_words(decided), decided)
        return Decision(
            gettext("No decision is on record: facts of the system or the library changed.")
        )

    def _is_about(self, decided: OwnerRecord, row: Occurrence) -> bool:
        facts = decided.facts or self._before(decided)
        if decided.subject == ITEM:
            return facts.get("key") == row.item.key and not decided.facts.get("is_used", False)
        if decided.subject == EDITION:
            return decided.change == REMOVED and facts.get("site") == row.system.site_id
        if decided.subject == ANSWER:
            return facts.get("system") == str(row.system.uuid)
        return decided.subject == AREA and decided.key == str(row.item.area_id)

    def _before(self, removed: OwnerRecord) -> dict:
        """What stood of it until it was taken away."""
        return _before(self._of_ledger[removed.ledger_id], removed)

    def _of_owner(self, owner: Organisation) -> list[OwnerRecord]:
        if owner.pk not in self._read:
            subjects = ("ledger", ITEM, EDITION, AREA, ANSWER)
            rows = OwnerRecord.objects.filter(ledger__owner=owner, subject__in=subjects)
            self._read[owner.pk] = list(
                rows.select_related("recorded_by", "log_leaf").order_by("sequence")
            )
        return self._read[owner.pk]

    @property
    def _of_ledger(self) -> dict[int, list[OwnerRecord]]:
        return {rows[0].ledger_id: rows for rows in self._read.values() if rows}


def _before(rows: list[OwnerRecord], removed: OwnerRecord) -> dict:
    earlier = (
        row.facts
        for row in reversed(rows)
        if row.sequence < removed.sequence
        and (row.subject, row.key) == (removed.subject, removed.key)
    )
    return next(earlier, {})


def _words(decided: OwnerRecord) -> str:
    by = decided.recorded_by.name if decided.recorded_by else gettext("nobody named")
    facts = {"by": by, "on": f"{decided.recorded_at:%Y-%m-%d}"}
    if decided.subject == ITEM:
        return gettext("Set aside for the whole owner by {by} on {on}.").format(**facts)
    if decided.subject == EDITION:
        return gettext("An edition was given up for the site by {by} on {on}.").format(**facts)
    if decided.subject == AREA:
        return gettext("The sample area was changed by {by} on {on}.").format(**facts)
    return gettext("A question about the system was answered by {by} on {on}.").format(**facts)
