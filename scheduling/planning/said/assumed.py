"""What is assumed where nobody said otherwise; every number here is a default, said on the page.

Common practice, no source: lengths of work differ between companies more than between kinds.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from scheduling.crews.instance import Span

CREW_HOURS: Mapping[int, tuple[Span, ...]] = dict.fromkeys(range(5), ((480, 1020),))
ACCESS_HOURS: Mapping[int, tuple[Span, ...]] = dict.fromkeys(range(7), ((0, 1440),))
VAN_PLACES = 6
OVERTIME_MINUTES = 60


@dataclass(frozen=True)
class KindTime:
    """How long a kind of work takes and what its waiting costs; costs in thousandths of a point.

    `delay` is the cost of a day's waiting where no assessment says it; `late` of a day past due.
    """

    minutes: int
    minutes_per_m3: float = 0.0
    impairs: bool = False
    delay: int = 20
    late: int = 100


USUAL = KindTime(60)
KINDS: Mapping[str, KindTime] = {
    "reinerting_order": KindTime(120, 25.0, impairs=True, delay=60, late=200),
    "confirming_reading": KindTime(45, delay=20, late=100),
    "obstruction": KindTime(180, impairs=True, delay=60, late=150),
    "replacement": KindTime(360, impairs=True, delay=20, late=50),
    "low_points": KindTime(60, delay=40, late=150),
    "gas_supply": KindTime(90, delay=40, late=150),
    "leak_search": KindTime(120, delay=40, late=100),
    "leak_repair": KindTime(150, impairs=True, delay=80, late=200),
    "restore_protection": KindTime(90, delay=5000, late=5000),
}
