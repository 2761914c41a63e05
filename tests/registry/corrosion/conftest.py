"""The libraries this model is held against, loaded by the tests that ask and not by every process.

CoolProp alone reads all its fluids when it is loaded, which takes longer than most test files.
"""

import pytest


@pytest.fixture(scope="session")
def props_si():
    from CoolProp.CoolProp import PropsSI

    return PropsSI


@pytest.fixture(scope="session")
def quad():
    from scipy.integrate import quad

    return quad


@pytest.fixture(scope="session")
def solve_ivp():
    from scipy.integrate import solve_ivp

    return solve_ivp


@pytest.fixture(scope="session")
def gumbel_r():
    from scipy.stats import gumbel_r

    return gumbel_r


@pytest.fixture(scope="session")
def lognorm():
    from scipy.stats import lognorm

    return lognorm
