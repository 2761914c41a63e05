"""What must hold for the scores people see, whatever is entered."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.models import Assessment
from registry.quantities import parse_quantity
from registry.services.assessments import assess_system
from tests.effort import many
from tests.factories import NOW, make_pipe_run, make_record, make_system

pytestmark = pytest.mark.thorough

ENTERED = NOW - timedelta(days=1500)
QUICK = settings(
    max_examples=many(6), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
LETS_AIR_IN = {
    "wet": ("event.head_break", {"count": 1}),
    "dry": ("event.trip", {"cause": "test", "drained_after": "yes"}),
}


def score_of(
    world, *, kind="wet", wall_mm=None, length_m=100.0, breaches=(), supply="none", watched=True
):
    began = ENTERED if watched else NOW - timedelta(days=1)
    system = make_system(world.site, world.owner, now=began, kind=kind, gas_supply=supply)
    make_pipe_run(system, world.owner, now=began, length_m=length_m, wall_mm=wall_mm)
    code, details = LETS_AIR_IN[kind]
    for days in breaches:
        make_record(system, code, NOW - timedelta(days=days), world.owner, **details)
    return assess_system(system, NOW).score


@QUICK
@given(
    kind=st.sampled_from(["wet", "dry"]),
    breaches=st.lists(st.integers(1, 3000), max_size=4, unique=True),
    another=st.integers(1, 180),
)
def test_another_breach_of_the_last_half_year_never_lowers_the_score(
    world, kind, breaches, another
):
    """To single precision. Pipe that outlived an older one without a leak is believed better."""
    base = score_of(world, kind=kind, breaches=breaches)
    more = score_of(world, kind=kind, breaches=[*breaches, another])
    assert more >= base - 1e-3


@QUICK
@given(wall=st.floats(2.2, 6.0), thinner=st.floats(0.5, 0.99))
def test_a_thinner_wall_never_lowers_the_score(world, wall, thinner):
    assert score_of(world, wall_mm=wall * thinner) >= score_of(world, wall_mm=wall) - 1e-9


@QUICK
@given(length=st.floats(1.0, 500.0), more=st.floats(1.01, 10.0))
def test_more_pipe_never_lowers_the_score(world, length, more):
    assert score_of(world, length_m=length * more) >= score_of(world, length_m=length) - 1e-9


def test_air_from_a_compressor_scores_above_nitrogen_from_a_generator(world):
    """As long as nobody has watched the pipe outlive it, which would say that it drains."""
    air, nitrogen = (
        score_of(world, kind="dry", supply=supply, watched=False)
        for supply in ("compressor", "generator")
    )
    assert air > nitrogen


@pytest.mark.parametrize(
    ("us", "si"), [("328.084 ft", "100 m"), ("120 in", "3048 mm"), ("500 yd", "0.4572 km")]
)
def test_the_unit_a_length_is_typed_in_does_not_matter(world, us, si):
    lengths = [parse_quantity(text, "length").value_si for text in (us, si)]
    first, second = (score_of(world, length_m=length) for length in lengths)
    assert first == pytest.approx(second, rel=1e-5)


def test_every_stored_number_is_a_number(world):
    for kind in LETS_AIR_IN:
        score_of(world, kind=kind, breaches=[5, 700])
    rows = list(Assessment.objects.all())
    assert len(rows) >= len(LETS_AIR_IN)
    for row in rows:
        for name in ("score", "life_low_yr", "life_high_yr", "delay_points_per_week"):
            assert getattr(row, name) == getattr(row, name) is not None
