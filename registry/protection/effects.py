"""What the records of one kind say of protection. Each kind names its own; no code stands here.

`registry.kinds` tells them on import, as it does with what they do to the gas.
"""

from collections.abc import Callable, Mapping

from registry.atmosphere.types import LedgerItem
from registry.protection.types import NOTHING, Verdict

Judge = Callable[[LedgerItem], Verdict]
_BY_KIND: dict[str, Judge | None] = {}


def tell(judges: Mapping[str, Judge | None]) -> None:
    _BY_KIND.update(judges)


def effect_of_kind(item: LedgerItem) -> Verdict:
    """A kind of a later version says nothing. LookupError before any kind is known: silence would
    take every outage for nothing."""
    if not _BY_KIND:
        raise LookupError("No kind of record is known yet; import registry.kinds first.")
    judge = _BY_KIND.get(item.kind)
    return judge(item) if judge else NOTHING
