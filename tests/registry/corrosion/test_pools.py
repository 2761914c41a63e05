import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.corrosion import pools

AIR_40_PSIG = 40 * 6894.757 + 101325.0


def rate(oxygen, pressure=AIR_40_PSIG):
    supply = pools.oxygen_supply(pressure, 293.15)
    return 1e3 * oxygen * pools.pool_rate(supply, 0.108, fill=0.2, film=2e-3)


def test_rate_under_compressed_air_is_of_the_published_order():
    """Published for aerated water at 1 atm, from memory: 0.046 to 0.464 mm/yr. Ours at 40 psig of
    air, where 3.8 times as much oxygen is dissolved: 0.12 mm/yr along the waterline."""
    assert 0.046 < rate(0.2095) < 0.464
    assert rate(0.2095) == pytest.approx(0.12, abs=0.01)


def test_98_percent_nitrogen_at_the_same_pressure_cuts_it_tenfold():
    """Recollection of field tests: a cut by half to nine tenths. Ours is the oxygen ratio, since
    nothing else corrodes here."""
    assert rate(0.2095) / rate(0.02) == pytest.approx(10.5, abs=0.05)


@given(st.floats(0.0, 1.0), st.floats(0.01, 10.0))
def test_consumption_takes_what_the_pools_take_up(area, volume):
    uptake = 1e-4 * area
    share = pools.pool_consumption(uptake, volume, AIR_40_PSIG, 293.15)
    held = volume * AIR_40_PSIG * 31.998e-3 / (8.314462618 * 293.15)
    assert share * held == pytest.approx(uptake, abs=1e-15)


def test_a_system_without_gas_consumes_nothing():
    assert pools.pool_consumption(0.0, 0.0, AIR_40_PSIG, 293.15) == 0.0


def test_more_pressure_dissolves_and_corrodes_more():
    assert rate(0.2095, 2 * AIR_40_PSIG) > 1.9 * rate(0.2095)
