"""Shared types. Inside the package every quantity is SI and keeps one name everywhere:

altitude [m], atmosphere and pressure [Pa absolute], gauge [Pa above the site's atmosphere],
temperature [K], volume [m3], flow [m3/s in the standard gas state], time [s] unless a name says
otherwise, start / feed / target / oxygen [mole fraction of oxygen, 0 to 1].

Arguments have no unit in their name; fields of dataclasses have, since other modules read them.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Real: TypeAlias = float | Array


def plain(value: Real) -> Real:
    """A float when the result holds one number without axes, else the array itself."""
    return float(value) if np.ndim(value) == 0 else np.asarray(value, dtype=np.float64)


def require(ok: bool | np.bool_ | NDArray[np.bool_], name: str, value: Real, right: str) -> None:
    """Raise a ValueError naming the argument unless `ok` holds everywhere (NaN may pass)."""
    if not (ok if isinstance(ok, bool | np.bool_) else np.all(ok)):
        raise ValueError(f"{name} is {value!r}; it must be {right}")


def require_positive(**values: Real) -> None:
    for name, value in values.items():
        ok = not value <= 0 if isinstance(value, float) else ~(np.asarray(value) <= 0)
        require(ok, name, value, "greater than zero")


def require_not_negative(**values: Real) -> None:
    for name, value in values.items():
        ok = not value < 0 if isinstance(value, float) else ~(np.asarray(value) < 0)
        require(ok, name, value, "zero or greater")


def require_fraction(**values: Real) -> None:
    for name, value in values.items():
        inside = not (value < 0 or value > 1) if isinstance(value, float) else _inside(value)
        require(inside, name, value, "between 0 and 1")


def _inside(value: Array) -> NDArray[np.bool_]:
    array = np.asarray(value)
    outside: NDArray[np.bool_] = (array < 0) | (array > 1)
    return ~outside
