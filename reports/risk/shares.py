"""What adds up on a risk page, as bars: who leaks out of a hundred, reasons, and what changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from registry.corrosion.bridge import Step
from registry.corrosion.shapley import rounded_to_sum
from registry.translation import _

CHANNEL_WORDS = (
    ("oxygen", _("by oxygen: rust from inside")),
    ("other_causes", _("by causes that nitrogen does not stop")),
    ("known_spots", _("at the thin spots that were measured")),
)
OTHER_CAUSES = "other_causes"


def channels_of(evidence: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Chance of a leak within five years by each way alone, of a stored assessment; none of models
    that knew of one way only."""
    by = evidence.get("leak_in_5_yr_by") or {}
    return [(str(words), by[code]) for code, words in CHANNEL_WORDS if code in by]


@dataclass(frozen=True)
class Share:
    """Of a hundred systems like this one; `begin` is how many stand before it."""

    code: str
    words: str
    count: int
    begin: int = 0

    @property
    def places(self) -> range:
        return range(self.begin, self.begin + self.count)


def out_of_a_hundred(by: Mapping[str, float], total: float) -> list[Share]:
    """How many of a hundred leak within five years, split by how they do in the ratio of the
    hazards, and how many hold."""
    leaking = min(round(100 * total), 100)
    hazards = [
        -float(np.log1p(-min(by.get(code, 0.0), 1 - 1e-12))) for code, _said in CHANNEL_WORDS
    ]
    whole = sum(hazards) or 1.0
    parts = np.array([leaking * hazard / whole for hazard in hazards])
    counts = rounded_to_sum(parts, float(leaking), digits=0)
    shares, begin = [], 0
    for (code, words), count in zip(CHANNEL_WORDS, counts, strict=True):
        shares.append(Share(code, str(words), round(count), begin))
        begin += shares[-1].count
    return [*shares, Share("hold", str(_("hold")), 100 - leaking, leaking)]


@dataclass(frozen=True)
class Bar:
    """A row of a cascade: from `x` over `width`, both in percent of its scale, as printed."""

    text: str
    points: float
    x: str
    width: str
    look: str


def reason_bars(reasons: Sequence[Mapping[str, Any]]) -> list[Bar]:
    """Each reason begins where the one before it ended; the baseline stands first."""
    steps = [(reason["text"], reason["points"], reason["code"]) for reason in reasons]
    return _cascade(steps, 0.0)


def bridge_bars(steps: Sequence[Step], before: float) -> list[Bar]:
    return _cascade([(step.text, step.points, step.code) for step in steps], before)


def _cascade(steps: Sequence[tuple[str, float, str]], begin: float) -> list[Bar]:
    ends = [begin, *(begin + float(one) for one in np.cumsum([points for _, points, _ in steps]))]
    low = min(0.0, *ends) if begin == 0.0 else min(ends)
    span = max(max(ends) - low, 1e-9)
    bars = []
    for (text, points, code), start, end in zip(steps, ends, ends[1:], strict=False):
        look = "fewer" if points < 0 else "other" if code == OTHER_CAUSES else "more"
        x = 100 * (min(start, end) - low) / span
        width = max(100 * abs(end - start) / span, 0.5)
        bars.append(Bar(text, points, f"{min(x, 99.5):.2f}", f"{width:.2f}", look))
    return bars
