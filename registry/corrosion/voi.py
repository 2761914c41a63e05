"""What information is worth: by how much it changes decisions, against what it costs.

Source: pre-posterior analysis as in Benjamin & Cornell, Probability, Statistics and Decision for
Civil Engineers, 1970; worked examples in the tests.
"""

from dataclasses import dataclass

import numpy as np

from registry.corrosion.types import Array, require


@dataclass(frozen=True, slots=True)
class Worth:
    """Least expected cost without and with the information, and with perfect information."""

    without: float
    with_it: float
    perfect: float
    changes_with: float

    @property
    def value(self) -> float:
        return self.without - self.with_it


def worth_of_information(prior: Array, likelihood: Array, costs: Array) -> Worth:
    """What an observation is worth before it is made.

    Parameters: prior (states,); likelihood (outcomes, states), chance of each outcome given the
    state; costs (actions, states).
    Returns: expected costs of the best action; changes_with, the chance of an outcome after which
    another action is best than before it.
    """
    p = np.asarray(prior, dtype=np.float64)
    require(bool(np.isclose(p.sum(), 1.0)), "prior", p, "shares that sum to one")
    joint = np.asarray(likelihood) * p
    expected = joint @ np.asarray(costs).T
    now = np.asarray(costs) @ p
    chosen = expected.argmin(axis=1)
    other = chosen != int(now.argmin())
    gains = expected[:, int(now.argmin())] - expected.min(axis=1) > 1e-12
    return Worth(
        without=float(now.min()),
        with_it=float(expected.min(axis=1).sum()),
        perfect=float((np.asarray(costs).min(axis=0) * p).sum()),
        changes_with=float(joint.sum(axis=1)[other & gains].sum()),
    )
