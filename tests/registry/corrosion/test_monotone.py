"""More oxygen, more breaches, a thinner wall or more pipe never lowers a score: how far that goes.

Under one belief about the multiplier it holds for any system. It holds without any such condition
where no field evidence is counted, and for what happened after the last of it. What the pipe is
known to have outlived is evidence, and evidence may speak for pipe: docs/model.md says why.
"""

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import GasSpan, Leak
from tests.registry.corrosion.builders import AIR, air_fills, dry, wet
from tests.registry.corrosion.strategies import systems

ROUNDING = 1e-9
NOBODY_KNOWS = Assumptions(leaks_unknown_years=200.0)
"""Of no year it is known whether the pipe leaked, so its absence is not evidence."""

rows = st.integers(0, 4)
extra = st.floats(0.0, 0.2)
thinner = st.floats(0.5, 1.0)
longer = st.floats(1.0, 5.0)
times = st.floats(0.0, 40.0)


def judged(*variants, weights=None):
    """Scores in double precision, each by its own evidence unless a belief is given."""
    given_weights = None if weights is None else np.repeat(weights, len(variants), axis=0)
    return assess_many(batch_from(variants), weights=given_weights, precision=np.float64).score


def by_the_belief_of_the_first(*variants):
    return judged(*variants, weights=assess_one(variants[0]).weights)


def starts(system):
    """When its spans begin; of two that begin at once it is not said which came first."""
    times = [span.start_yr for span in system.spans]
    assume(times and len(set(times)) == len(times))
    return times


def richer(system, more, row):
    """A span of it held more oxygen; the next fill is air in both."""
    assume(starts(system))
    at = row % len(system.spans)
    span = replace(system.spans[at], oxygen=min(system.spans[at].oxygen + more, 1.0))
    return replace(system, spans=(*system.spans[:at], span, *system.spans[at + 1 :]))


def breached(system, at):
    """Air let in at a time; what is made up afterwards stays as it was."""
    assume(min(starts(system)) < at and at not in starts(system))
    earlier = [span for span in system.spans if span.start_yr < at]
    last = max(earlier, key=lambda span: span.start_yr)
    air = replace(last, start_yr=at, oxygen=max(AIR, last.oxygen, last.makeup_oxygen))
    return replace(system, spans=(*system.spans, air))


def with_all_runs_longer(system, factor):
    return replace(
        system, runs=tuple(replace(run, length_m=run.length_m * factor) for run in system.runs)
    )


def scores_by_wall(system, share, weights=None):
    """With the wall as it is and a share of it. The bore is kept: the same attack on less wall."""
    batch = batch_from([system])
    thin = replace(
        batch.runs,
        joint_wall_m=batch.runs.joint_wall_m * share,
        wall_m=batch.runs.wall_m * share,
    )
    return [
        assess_many(replace(batch, runs=runs), weights=weights, precision=np.float64).score[0]
        for runs in (batch.runs, thin)
    ]


def blank(system):
    """The same without field evidence, and of no year is it known that there was no leak."""
    return replace(
        system, walls=(), leaks=(), found_wet=0, found_clear=0, future_oxygen=AIR,
        assumptions=NOBODY_KNOWS,
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(systems, extra, rows)
def test_under_one_belief_more_oxygen_never_lowers_the_score(system, more, row):
    system = replace(system, future_oxygen=AIR)
    before, after = by_the_belief_of_the_first(system, richer(system, more, row))
    assert after >= before - ROUNDING


@settings(max_examples=60, deadline=None)
@given(systems, times)
def test_under_one_belief_one_more_breach_never_lowers_the_score(system, at):
    system = replace(system, future_oxygen=AIR)
    before, after = by_the_belief_of_the_first(system, breached(system, at))
    assert after >= before - ROUNDING


@settings(max_examples=40, deadline=None)
@given(systems, thinner)
def test_under_one_belief_a_thinner_wall_never_lowers_the_score(system, share):
    before, after = scores_by_wall(system, share, assess_one(system).weights)
    assert after >= before - ROUNDING


@settings(max_examples=40, deadline=None)
@given(systems, longer)
def test_under_one_belief_more_pipe_never_lowers_the_score(system, factor):
    before, after = by_the_belief_of_the_first(system, with_all_runs_longer(system, factor))
    assert after >= before - ROUNDING


@settings(max_examples=40, deadline=None)
@given(systems, longer, rows)
def test_under_one_belief_one_longer_run_never_lowers_the_score_of_a_wet_system(
    system, factor, row
):
    """In gas-filled pipe the steel of one longer run shares the oxygen of the others."""
    system = replace(system, kind="wet")
    at = row % len(system.runs)
    run = replace(system.runs[at], length_m=system.runs[at].length_m * factor)
    more = replace(system, runs=(*system.runs[:at], run, *system.runs[at + 1 :]))
    before, after = by_the_belief_of_the_first(system, more)
    assert after >= before - ROUNDING


@settings(max_examples=40, deadline=None)
@given(systems, extra, rows, times, thinner, longer)
def test_without_evidence_nothing_of_the_kind_ever_lowers_the_score(
    system, more, row, at, share, factor
):
    system = blank(system)
    before, oxygen, length = judged(
        system, richer(system, more, row), with_all_runs_longer(system, factor)
    )
    assert min(oxygen, length) >= before - ROUNDING
    whole, thin = scores_by_wall(system, share)
    assert thin >= whole - ROUNDING
    if min(starts(system)) < at and at not in starts(system):
        before, after = judged(system, breached(system, at))
        assert after >= before - ROUNDING


@settings(max_examples=40, deadline=None)
@given(systems, times, st.floats(0.0, 0.5))
def test_a_breach_of_the_last_half_year_never_lowers_the_score_whatever_the_evidence_before(
    system, at, since
):
    """It changes nothing of what the pipe has outlived, so each is judged by its own evidence."""
    known = replace(
        system,
        now_yr=at + since,
        walls=tuple(replace(wall, at_yr=min(wall.at_yr, at)) for wall in system.walls),
        leaks=tuple(Leak(min(leak.found_yr, at)) for leak in system.leaks),
        future_oxygen=AIR,
    )
    before, after = judged(known, breached(known, at))
    assert after >= before - ROUNDING


def test_more_past_fills_raise_the_score_even_after_no_leak_is_taken_as_evidence():
    scores = [
        float(assess_one(wet(now_yr=12.0, spans=air_fills(*range(2, 2 + n)))).score[0])
        for n in range(1, 10)
    ]
    assert np.all(np.diff(scores) > 0)


def test_gas_filled_pipe_that_outlived_a_year_of_air_is_believed_to_drain():
    """The other side of counting the absence of leaks: an old breach can speak for the pipe, and a
    recent one cannot yet."""
    kept = dry(now_yr=22.0, spans=(GasSpan(0.0, 0.02, 0.02, 8.0),))

    def breached_for_a_year(at):
        air, back = GasSpan(at, AIR, AIR, 8.0), GasSpan(at + 1.0, 0.02, 0.02, 8.0)
        return assess_one(replace(kept, spans=(*kept.spans, air, back)))

    assert breached_for_a_year(10.0).theta[0, 1] < assess_one(kept).theta[0, 1]
    assert breached_for_a_year(21.8).score > assess_one(kept).score
