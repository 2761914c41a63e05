"""An owner's own numbers in place of what the corrosion model assumes; each is a record."""

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext

from registry.assess.cases import Editable, editable_assumptions
from registry.kinds import DetailsError
from registry.kinds.facts import ASSUMPTION_CHANGED
from registry.models import Record, System, User
from registry.services.ledger import record


def set_assumption(
    *,
    system: System,
    key: str,
    value: float | None,
    note: str,
    recorded_by: User,
    now: datetime | None = None,
) -> Record:
    """Set an assumption of the model for one system, or with None go back to the model's own."""
    known = {item.key: item for item in editable_assumptions()}
    now = now or timezone.now()
    _check_assumption(known, key, value, note)
    details = {"key": key, "value": value, "unit": known[key].unit}
    return record(
        system=system,
        kind=ASSUMPTION_CHANGED.code,
        occurred_at=now,
        details=details,
        note=note.strip(),
        recorded_by=recorded_by,
        now=now,
    )


def _check_assumption(known: dict[str, Editable], key: str, value: float | None, note: str) -> None:
    problems = {}
    if key not in known:
        raise DetailsError({"key": gettext("The model has no assumption “{key}”.").format(key=key)})
    least, most = known[key].least, known[key].most
    if value is not None and not least <= value <= most:
        right = gettext("it goes from {least:g} to {most:g} {unit}").format(
            least=least, most=most, unit=known[key].unit
        )
        problems["value"] = gettext("{value:g} is outside what is possible; {right}.").format(
            value=value, right=right
        )
    if not note.strip():
        problems["note"] = gettext("Say why: what was measured or seen, and by whom.")
    if problems:
        raise DetailsError(problems)
