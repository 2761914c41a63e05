"""What the records of one kind do to the gas. Each kind names its own; no code stands here.

`registry.kinds` tells them on import (`tell`), and not the other way round: the words of a kind are
translated by Django, and a derivation loads none of it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from registry.atmosphere.events import NOTHING, Breach
from registry.atmosphere.types import Condition, Feed, LedgerItem, SystemFacts

Judge = Callable[[LedgerItem, SystemFacts], Breach]
Move = Callable[[Condition, LedgerItem, SystemFacts], Condition]
FeedChange = Callable[[Feed, LedgerItem, SystemFacts], Feed]


@dataclass(frozen=True, slots=True)
class GasEffect:
    """The first answers how much air came in, the second what else became of the gas, the third
    what makes up the gas from then on."""

    air: Judge | None = None
    moves: Move | None = None
    feed: FeedChange | None = None
    tells_former_feed: bool = False  # its details hold the supply before the change as well
    is_reading: bool = False  # of the gas as it stands, so it confirms an acceptance
    turned: tuple[str, str] | None = None  # code and words wherever it changed the state


NO_EFFECT = GasEffect()
_BY_KIND: dict[str, GasEffect] = {}


def tell(effects: Mapping[str, GasEffect]) -> None:
    _BY_KIND.update(effects)


def effect_of_kind(code: str) -> GasEffect:
    """A kind of a later version changes nothing. LookupError before any kind is known: silence
    would take every breach for nothing."""
    if not _BY_KIND:
        raise LookupError("No kind of record is known yet; import registry.kinds first.")
    return _BY_KIND.get(code, NO_EFFECT)


def breach(item: LedgerItem, facts: SystemFacts) -> Breach:
    """What the record says about the air; NOTHING for kinds that say nothing."""
    judge = effect_of_kind(item.kind).air
    return judge(item, facts) if judge else NOTHING
