"""Two people at the same facts: the second is told what the first changed, and then decides."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext

from registry.kinds.facts import FACTS_AMENDED
from registry.models import Record, System
from registry.services.ledger import RecordError
from registry.words.register import fact_text

TOGETHER = {"installed_on": "installed", "installed_precision": "installed"}


def check_nothing_unread(
    system: System, seen: int, facts: Mapping[str, Any], *, units: str
) -> None:
    """Raises RecordError at each fact that somebody changed since, and that would change again."""
    problems: dict[str, str] = {}
    later = system.records.filter(kind=FACTS_AMENDED.code, sequence__gte=seen)
    for record in later.select_related("recorded_by").order_by("sequence"):
        for name in record.details.keys() & facts.keys():
            if facts[name] != getattr(system, name):
                problems[TOGETHER.get(name, name)] = _told(record, name, units)
    if problems:
        raise RecordError(problems)


def _told(record: Record, name: str, units: str) -> str:
    after = {
        fact: change["to"]
        for fact, change in record.details.items()
        if isinstance(change, Mapping) and "to" in change
    }
    now = fact_text(name, after, units) or "empty"
    return gettext(
        "{recorded_by} changed this to {now} after you opened the page. Write "
        "that here to leave it so, or save again as it stands."
    ).format(recorded_by=record.recorded_by, now=now)
