"""Whether the sprinklers would work, in the line that orders carry into calendars and mail."""

from datetime import datetime
from typing import Any, NamedTuple

from registry.models import ProtectionSpan, System
from registry.translation import in_english
from registry.words.unanswered import unanswered_words
from scheduling.models import Task

STATES = ProtectionSpan.State


class Standing(NamedTuple):
    state: str | None
    since: datetime | None
    areas: str | None
    unanswered: str | None


def protection_line(row: System | Task) -> str:
    """Of a system in the zone of its site, of a follow-up in its own. English, as all that is kept
    for calendars; the database is asked where the row came without `with_protection`."""
    state, since, areas, unanswered = _standing(row)
    if state == STATES.IN_SERVICE:
        return "Protection: in service."
    if state != STATES.IMPAIRED or since is None:
        return "Protection: not known."
    where = f"Without protection: {areas}." if areas else "The whole system is without protection."
    zone = row.zone if isinstance(row, Task) else row.site.zone
    began = f"{since.astimezone(zone):%-d %B %Y, %H:%M}"
    with in_english():
        open_ones = unanswered_words(unanswered)
    return f"Protection: impaired since {began}. {where} {open_ones}".rstrip()


def _standing(row: Any) -> Standing:
    if hasattr(row, "protection_state"):
        return Standing(
            row.protection_state, row.protection_since, row.protection_areas,
            row.protection_unanswered,
        )  # fmt: skip
    system = row.system_id if isinstance(row, Task) else row.pk
    spans = ProtectionSpan.objects.filter(system=system)
    told = spans.order_by("-starts_at").values_list("state", "state_since", "areas", "unanswered")
    return Standing(*(told.first() or (None, None, None, None)))
