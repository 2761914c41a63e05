"""The array form against the model written a second time, system by system, without arrays."""

import numpy as np
import pytest
from hypothesis import example, given, settings

from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.assumptions import Assumptions
from registry.corrosion.columns import batch_from
from registry.corrosion.inputs import CouponReading, GasSpan, Leak, WallReading
from tests.benchmarks import plain_python
from tests.effort import many
from tests.registry.corrosion.builders import air_fills, dry, run, wet
from tests.registry.corrosion.strategies import systems

EVIDENCE = {
    "now_yr": 14.0,
    "walls": (WallReading(0, 12.0, 2.5e-3), WallReading(1, 13.0, 2.2e-3, "full_scan", 1e-4, "no")),
    "coupons": (CouponReading(1, 10.0, 11.0, 4e-5),),
    "leaks": (Leak(11.0), Leak(13.0, run=0)),
}
EXAMPLES = {
    "wet": wet(spans=air_fills(6, 8, 13.9), **EVIDENCE),
    "vented": wet(is_vented=True, **EVIDENCE),
    "dry": dry(**EVIDENCE),
    "dry without ledger": dry(spans=(), **EVIDENCE),
    "leaks not known at first": wet(spans=air_fills(6, 8, 13.9), **EVIDENCE, book_began_yr=9.0),
    "leaks known earlier": wet(
        spans=air_fills(6, 8, 13.9),
        **EVIDENCE,
        book_began_yr=9.0,
        assumptions=Assumptions(leaks_known_years=5.0),
    ),
    "a bent power, signs, a baseline": wet(
        **{
            **EVIDENCE,
            "walls": (*EVIDENCE["walls"], WallReading(2, 0.0, 2.9e-3, is_baseline=True)),
        },
        signs=("tubercles", "acid"),
        assumptions=Assumptions(dose_exponent=0.8),
    ),
    "several leaks on a run that was read": wet(
        spans=air_fills(6, 8, 13.9),
        **{**EVIDENCE, "leaks": (Leak(10.5, run=0), Leak(12.0, run=0), Leak(13.0, run=0))},
    ),
    "copper beside steel": wet(
        now_yr=9.0, runs=(run("1", "L", material="copper"), run("4")), leaks=(Leak(5.0, run=0),)
    ),
}

AT_ONCE = dry(runs=(run("1"),), spans=(GasSpan(3.4e-97, 0.0),))
"""Gas that changes after now, by less than a sum of years keeps apart."""


def assert_same(array, plain):
    assert array.leak_probability[0] == pytest.approx(plain.leak_probability, rel=1e-8, abs=1e-12)
    assert array.score[0] == pytest.approx(plain.score, rel=1e-8, abs=1e-10)
    assert array.life_yr[0] == pytest.approx(plain.life, rel=1e-6, abs=2e-3)
    assert array.theta[0] == pytest.approx(plain.theta, rel=1e-7)
    assert array.run_left_m == pytest.approx(np.array(plain.run_left), rel=1e-7, abs=1e-12)
    assert array.run_loss_m == pytest.approx(np.array(plain.run_loss), rel=1e-8, abs=1e-15)


@pytest.mark.parametrize("name", EXAMPLES)
def test_arrays_give_what_plain_python_gives(name):
    assert_same(
        assess_one(EXAMPLES[name], precision=np.float64), plain_python.assess(EXAMPLES[name])
    )


@settings(max_examples=many(40), deadline=None)
@given(systems)
@example(AT_ONCE)
def test_arrays_give_what_plain_python_gives_for_any_system(system):
    assert_same(assess_one(system, precision=np.float64), plain_python.assess(system))


def test_a_mixed_batch_gives_what_plain_python_gives():
    together = assess_many(batch_from(list(EXAMPLES.values())), block=3, precision=np.float64)
    alone = [plain_python.assess(system).score for system in EXAMPLES.values()]
    assert together.score == pytest.approx(alone, rel=1e-8)
