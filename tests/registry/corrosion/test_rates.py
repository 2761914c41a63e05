import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import rates

MM_PER_YEAR = 1e-3 / rates.YEAR


def test_products_bound_the_iron_that_oxygen_can_take():
    least, middle, most = (rates.iron_per_oxygen(p) for p in ("Fe2O3", "Fe3O4", "Fe(OH)2"))
    assert least < middle < most


def test_current_and_oxygen_flux_give_the_same_penetration():
    """Four electrons an oxygen molecule: Faraday's route against the mass balance, as Fe(OH)2."""
    flux = 1e-7  # kg/(m2 s)
    current = flux / 31.998e-3 * 4.0 * 96485.33212
    by_mass = flux * rates.steel_depth_per_oxygen("Fe(OH)2")
    assert rates.penetration_rate(current) == pytest.approx(by_mass, rel=1e-12)


def test_two_millimetres_of_film_land_in_the_published_steady_band():
    """Uhlig & Revie, from memory: 10 to 25 mdd, 0.046 to 0.116 mm/yr, for iron under rust in
    aerated fresh water; at first up to 100 mdd, 0.464 mm/yr."""
    steady = rates.limiting_rate(293.15, 9.09e-3, 2e-3, product="Fe3O4") / MM_PER_YEAR
    assert 0.046 < steady < 0.116
    fresh = rates.limiting_rate(298.15, 8.26e-3, 0.5e-3) / MM_PER_YEAR
    assert fresh == pytest.approx(0.464, rel=0.02)


@given(st.floats(0, 0.05), st.floats(1e-4, 1e-2), st.floats(273.15, 330.0))
def test_limiting_rate_is_linear_in_oxygen_and_falls_with_the_film(dissolved, film, temperature):
    rate = rates.limiting_rate(temperature, dissolved, film)
    assert rates.limiting_rate(temperature, 2 * dissolved, film) == pytest.approx(2 * rate)
    assert rates.limiting_rate(temperature, dissolved, 2 * film) == pytest.approx(rate / 2)


def test_zinc_as_steel_depth_is_where_steel_begins():
    oxygen = rates.zinc_as_steel_depth(0.4) / rates.steel_depth_per_oxygen()
    assert oxygen * rates.zinc_per_oxygen() == pytest.approx(0.4)


def test_units_do_not_matter():
    in_mdd = rates.coupon_rate(1e-6, 7870.0, 0.01, 86400.0)
    assert in_mdd / MM_PER_YEAR == pytest.approx(0.00464, rel=1e-3)
    assert np.allclose(
        rates.coupon_rate(np.array([1e-6, 2e-6]), 7870.0, 0.01, 86400.0), [in_mdd, 2 * in_mdd]
    )


def test_an_unknown_product_is_refused():
    with pytest.raises(ValueError, match="product is 'FeO'"):
        rates.iron_per_oxygen("FeO")
