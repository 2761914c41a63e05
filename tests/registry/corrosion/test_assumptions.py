from dataclasses import fields, replace

import numpy as np
import pytest

from registry.corrosion.assess import assess_many, assess_one
from registry.corrosion.assumptions import MODEL_VERSION, Assumptions, assumptions_table
from registry.corrosion.columns import batch_from
from registry.corrosion.constants import TABLE
from registry.corrosion.decisions import under_one_belief
from registry.corrosion.inputs import METHODS, SIGNS, CouponReading, GasSpan, Leak, WallReading
from registry.corrosion.variants import with_treated_water
from tests.registry.corrosion.builders import air_fills, dry, run, wet

NAMES = [item.name for item in fields(Assumptions)]


def test_the_table_holds_every_constant_and_every_assumption_with_unit_source_and_basis():
    table = {row.key: row for row in assumptions_table()}
    assert set(table) == set(TABLE) | set(NAMES)
    for row in table.values():
        assert row.unit and row.source
        assert row.basis in ("measured", "published", "assumed")
    for name in NAMES:
        assert table[name].editable
        assert table[name].value == getattr(Assumptions(), name)


def test_what_has_no_source_says_so():
    for row in assumptions_table():
        if row.editable and row.basis == "assumed":
            words = ("no source", "from memory", "secondary", "unless known", "published band",
                     "published steady")  # fmt: skip
            assert any(word in (row.source + row.note).lower() for word in words), row.key


def test_the_model_version_is_stated():
    assert MODEL_VERSION.count(".") == 1


@pytest.mark.parametrize("name", NAMES)
def test_every_assumption_moves_some_number(name):
    """No assumption is shown that the model does not use."""

    def results(assumed):
        with_evidence = {
            "now_yr": 12.0,
            "walls": (
                *(WallReading(0, 9.0, 2.6e-3, method) for method in METHODS),
                WallReading(0, 10.0, 2.6e-3, error_m=1e-4),
                WallReading(0, 10.0, 0.9e-3, dressed="no"),
            ),
            "signs": SIGNS,
            "book_began_yr": 8.0,
            "coupons": (CouponReading(0, 8.0, 9.0, 5e-5),),
            "leaks": (Leak(11.0),),
            "assumptions": assumed,
        }
        many = [
            wet(**with_evidence),
            wet(is_vented=True, spans=air_fills(8), **with_evidence),
            wet(runs=(run("1-1/4", role="branch_line"),), **with_evidence),
            dry(spans=(), future_fills_per_year=None, **with_evidence),
            dry(future_fills_per_year=None, **with_evidence),
            dry(now_yr=2.0, found_wet=1, assumptions=assumed),
            dry(now_yr=2.0, spans=(), future_fills_per_year=None, assumptions=assumed),
            wet(now_yr=5.0, is_vented=True, assumptions=assumed),
            *(wet(now_yr=5.0, signs=(sign,), assumptions=assumed) for sign in SIGNS),
            wet(
                now_yr=9.0,
                spans=(GasSpan(0.0, 0.01),),
                walls=(WallReading(0, 8.0, 2.6e-3),),
                assumptions=assumed,
            ),
        ]
        batch = batch_from(many)
        found = assess_many(batch)
        treated = under_one_belief(found, with_treated_water(batch))
        return np.concatenate([found.leak_probability, treated.leak_probability])

    default = getattr(Assumptions(), name)
    limits = {item.name: item.metadata for item in fields(Assumptions)}[name]
    lower = max(default * 0.7, limits["least"])
    other = lower if lower != default else min(default * 1.3 or 5.0, limits["most"])
    changed = Assumptions().with_overrides({name: other})
    assert not np.allclose(results(changed), results(Assumptions()), rtol=1e-6, atol=0)


def test_overrides_of_one_system_leave_its_neighbours_alone():
    assumed = Assumptions().with_overrides({"trapped_main": 0.2, "theta_spread": 0.6})
    plain, changed = wet(now_yr=10.0), wet(now_yr=10.0, assumptions=assumed)
    together = assess_many(batch_from([plain, changed, plain]), block=2)
    assert together.score[0] == pytest.approx(assess_one(plain).score[0], rel=1e-4)
    assert together.score[2] == pytest.approx(together.score[0], rel=1e-4)
    assert together.score[1] == pytest.approx(assess_one(changed).score[0], rel=1e-4)
    assert together.score[1] > together.score[0]


@pytest.mark.parametrize(
    ("overrides", "message"),
    [
        ({"no_such_thing": 1.0}, "no assumption is named no_such_thing"),
        ({"pocket_fill": 1.9}, r"pocket_fill is 1.9; it must be from 0.02 to 0.98"),
        ({"rust_film_m": 0.0}, "rust_film_m"),
        ({"theta_spread": float("nan")}, "theta_spread"),
    ],
)
def test_impossible_overrides_are_refused_by_name(overrides, message):
    with pytest.raises(ValueError, match=message):
        Assumptions().with_overrides(overrides)


def test_assumptions_cannot_be_changed_in_place():
    with pytest.raises(AttributeError):
        Assumptions().pocket_fill = 0.3
    assert replace(Assumptions(), pocket_fill=0.3).pocket_fill == 0.3
