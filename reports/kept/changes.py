"""What changed between two days and why: for each system steps that lead from one score to the
other, and over all of them what each sort of change did."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.assess.changes import LEARNT
from registry.corrosion.bridge import Step, bridge
from reports.kept.standing import Standing, standings

LEAST_POINTS = 0.05


@dataclass(frozen=True)
class Change:
    """One system. Without a score before, it is new to the comparison and has no steps."""

    now: Standing
    before: Standing | None
    steps: tuple[Step, ...]

    @property
    def score_before(self) -> float | None:
        return self.before.score if self.before else None

    @property
    def points(self) -> float:
        if self.score_before is None or self.now.score is None:
            return 0.0
        return self.now.score - self.score_before

    @property
    def has_moved(self) -> bool:
        """A state that changed counts as well as a score."""
        before = self.before
        if before is None or self.score_before is None:
            return self.now.score is not None
        states = (before.state, before.protection_state)
        return abs(self.points) >= LEAST_POINTS or states != (
            self.now.state,
            self.now.protection_state,
        )


@dataclass(frozen=True)
class Bridge:
    """The sum of scores then and now, over the systems that have both, and the steps between."""

    systems: int
    before: float
    after: float
    steps: tuple[Step, ...]


def changes(now: Sequence[Standing], *, since: datetime, learnt_by: datetime) -> list[Change]:
    """Both scores by this version of the model: the one before as the book then knew it, so that
    what it learnt later of the time before is a step of its own."""
    keys = [one.system.pk for one in now]
    before = _by_key(standings(keys, until=since, learnt_by=min(since, learnt_by)))
    again = _by_key(standings(keys, until=since, learnt_by=learnt_by))
    return [_change(one, before.get(one.system.pk), again.get(one.system.pk)) for one in now]


def _by_key(rows: Sequence[Standing]) -> dict[int, Standing]:
    return {one.system.pk: one for one in rows}


def _change(now: Standing, before: Standing | None, again: Standing | None) -> Change:
    if before is None or before.score is None or now.score is None:
        return Change(now, before, ())
    return Change(now, before, tuple(_steps(now, before, again)))


def _steps(now: Standing, before: Standing, again: Standing | None) -> Iterator[Step]:
    first = again if again and again.case and again.score is not None else before
    assert first.case and first.score is not None and before.score is not None and now.case
    if learnt := first.score - before.score:
        yield Step("learnt", str(LEARNT), learnt)
    yield from bridge(first.case.input, now.case.input)


def bridge_of(rows: Sequence[Change]) -> Bridge:
    both = [row for row in rows if row.score_before is not None and row.now.score is not None]
    points: dict[tuple[str, str], float] = {}
    for row in both:
        for step in row.steps:
            key = (step.code, step.text)
            points[key] = points.get(key, 0.0) + step.points
    steps = tuple(Step(code, text, told) for (code, text), told in points.items())
    return Bridge(
        systems=len(both),
        before=sum(row.score_before or 0.0 for row in both),
        after=sum(row.now.score or 0.0 for row in both),
        steps=tuple(sorted(steps, key=lambda step: -abs(step.points))),
    )
