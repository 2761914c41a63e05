import pytest

from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import under_one_belief
from registry.corrosion.delay import DELAY, WEEK, delay_costs_of_many, left_for
from registry.corrosion.inputs import GasSpan, Leak, WallReading
from registry.corrosion.ranking import explain_many
from registry.corrosion.variants import inert_now, joined
from tests.registry.corrosion.builders import air_fills, dry, wet

LEAKS = (Leak(9.0), Leak(11.0), Leak(13.0))
THIN = (WallReading(0, 14.0, 0.6e-3),) * 2


def old_wet(*spans, fills=0.0, **changes):
    return wet(now_yr=14.0, spans=spans, future_fills_per_year=fills, **changes)


def delay_cost(system, base=None):
    batch = batch_from([system])
    return delay_costs_of_many(batch, base or assess_many(batch))[0]


def inerted_now_and_later(system):
    batch = batch_from([system])
    return joined([inert_now(batch), left_for(batch, DELAY)])


def test_waiting_costs_most_right_after_air_got_in():
    fresh = delay_cost(old_wet(*air_fills(8, 13.99)))
    stale = delay_cost(old_wet(*air_fills(8, 13.5)))
    inert = delay_cost(old_wet(*air_fills(8), GasSpan(13.99, 0.02)))
    assert fresh.wall_m_per_week > 5 * stale.wall_m_per_week
    assert fresh.score_points_per_week > stale.score_points_per_week >= 0
    assert inert.wall_m_per_week < 0.11 * fresh.wall_m_per_week


def test_fills_to_expect_while_waiting_are_counted():
    """A wet system whose oxygen is spent costs what a quarter of its yearly fills would bring.
    Twice as many bring less than twice: a fill drives out what is not spent yet."""
    none, one, two = (delay_cost(old_wet(*air_fills(8, 10), fills=n)) for n in (0.0, 1.0, 2.0))
    assert none.wall_m_per_week < 0.01 * one.wall_m_per_week
    assert 1.2 < two.wall_m_per_week / one.wall_m_per_week < 2.0
    assert two.score_points_per_week > one.score_points_per_week > none.score_points_per_week


def test_waiting_under_an_air_compressor_costs_week_after_week():
    cost = delay_cost(dry(now_yr=0.5))
    assert 1e-6 < cost.wall_m_per_week < 1e-5
    assert cost.score_points_per_week > 0


def test_waiting_costs_nothing_where_the_gas_is_already_better_than_inert():
    cost = delay_cost(dry(oxygen=0.01, now_yr=2.0))
    assert cost.score_points_per_week == 0.0
    assert cost.wall_m_per_week < 1e-15


def test_waiting_still_costs_where_the_score_has_no_room_left():
    """At 97 of 100 the score itself would show less than a tenth of it."""
    system = old_wet(*air_fills(*range(14), 13.9), leaks=LEAKS, walls=THIN, fills=2.0)
    assert assess_one(system).score[0] > 97.0
    pair = inerted_now_and_later(system)
    now, later = under_one_belief(assess_one(system), pair).score
    assert delay_cost(system).score_points_per_week > 1.0
    assert delay_cost(system).score_points_per_week > 2 * (later - now) * WEEK / DELAY


def test_where_scores_are_small_the_points_are_those_of_the_score():
    """Half a year of air in a young system, waited for a quarter of a year."""
    system = wet(now_yr=6.0, spans=air_fills(2, 4, 5.99), future_fills_per_year=0.0)
    base = assess_one(system)
    assert base.score[0] < 6.0
    pair = inerted_now_and_later(system)
    now, later = under_one_belief(base, pair).score
    found = delay_cost(system, base).score_points_per_week
    assert found == pytest.approx((later - now) * WEEK / DELAY, rel=0.1)


def test_a_graver_consequence_makes_waiting_dearer_in_proportion():
    base, grave = (
        delay_cost(old_wet(*air_fills(8, 13.9), fills=1.0, consequence_class=c)) for c in (3, 4)
    )
    assert grave.score_points_per_week == pytest.approx(2 * base.score_points_per_week)


def test_reasons_and_delay_are_found_together_as_each_alone():
    many = batch_from([old_wet(*air_fills(8, 13.9), fills=1.0), dry(now_yr=3.0)])
    base = assess_many(many)
    together = [one.delay for one in explain_many(many, base)]
    for cost, alone in zip(together, delay_costs_of_many(many, base), strict=True):
        assert cost.score_points_per_week == pytest.approx(alone.score_points_per_week, rel=1e-9)
        assert cost.wall_m_per_week == pytest.approx(alone.wall_m_per_week, rel=1e-9)


def test_one_system_costs_the_same_alone_and_among_many():
    many = [old_wet(*air_fills(8, 13.9)), dry(now_yr=3.0), dry(oxygen=0.05, now_yr=9.0)]
    batch = batch_from(many)
    together = delay_costs_of_many(batch, assess_many(batch))
    for system, cost in zip(many, together, strict=True):
        alone = delay_cost(system)
        assert cost.wall_m_per_week == pytest.approx(alone.wall_m_per_week, rel=1e-6)
        assert cost.score_points_per_week == pytest.approx(
            alone.score_points_per_week, rel=1e-3, abs=1e-5
        )
