"""The closed form at a waterline against the diffusion equation solved in the whole section.

Bipolar coordinates with their foci at the two waterlines turn the water's circular segment into a
strip: the surface and the wall become its long sides, alpha apart, where alpha is the wedge angle.
Laplace's equation keeps its form; the film is a boundary condition with the local scale factor.
Without film the solution is linear across the strip, which is the wedge's D C/(alpha x).
"""

import math

import numpy as np
import pytest

from registry.corrosion import waterline

ACROSS, ALONG = 40, 320

SECTIONS = [
    pytest.param(0.108, 0.8, 2e-3, id="pocket-nps-4"),
    pytest.param(0.035, 0.8, 2e-3, id="pocket-nps-1-1/4"),
    pytest.param(0.161, 0.8, 2e-3, id="pocket-nps-6"),
    pytest.param(0.108, 0.8, 5e-4, id="pocket-thin-film"),
    pytest.param(0.108, 0.2, 2e-3, id="pool-nps-4"),
    pytest.param(0.052, 0.2, 2e-3, id="pool-nps-2"),
]


def solved(diameter, water, film):
    """Flow of both sides over D C, and the distance within which half of it is spent."""
    alpha = waterline.wedge_angle(water)
    focus = 0.5 * diameter * math.sin(alpha)
    along = np.linspace(0.0, math.log(2e3 * focus / film), ALONG)
    across = alpha / (ACROSS - 1)
    cells = np.full(ALONG, along[1])
    cells[[0, -1]] *= 0.5
    scale = focus / (np.cosh(along) - math.cos(math.pi - alpha))
    wall = _wall_concentration(cells, across, along[1], cells * scale / film)
    flow = (wall * cells * scale / film)[::-1]
    distance = np.cumsum((cells * scale)[::-1])
    half = np.interp(flow.sum() / 2, np.cumsum(flow), distance)
    return 2 * flow.sum(), half


def _wall_concentration(cells, across, along, film):
    """Finite volumes: saturated surface on one side, film on the other, symmetry at the ends."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import spsolve

    size = ACROSS * ALONG
    index = np.arange(size).reshape(ACROSS, ALONG)
    thick = np.full(ACROSS, across)
    thick[[0, -1]] *= 0.5
    links = [
        (index[:-1], index[1:], np.broadcast_to(cells / across, (ACROSS - 1, ALONG))),
        (index[:, :-1], index[:, 1:], np.broadcast_to(thick[:, None] / along, (ACROSS, ALONG - 1))),
    ]
    diagonal = np.zeros(size)
    diagonal[index[0]] += film
    rows, columns, values = [], [], []
    for one, other, conductance in links:
        a, b, g = one.ravel(), other.ravel(), conductance.ravel()
        for here, there in ((a, b), (b, a)):
            np.add.at(diagonal, here, g)
            rows.append(here)
            columns.append(there)
            values.append(-g)
    rows, columns, values = (np.concatenate(parts) for parts in (rows, columns, values))
    inner = rows < index[-1, 0]
    diagonal[index[-1]] = 1.0
    matrix = coo_matrix((values[inner], (rows[inner], columns[inner])), shape=(size, size))
    full = matrix + coo_matrix((diagonal, (np.arange(size), np.arange(size))), shape=(size, size))
    surface = np.zeros(size)
    surface[index[-1]] = 1.0
    return spsolve(full.tocsr(), surface)[index[0]]


@pytest.mark.parametrize(("diameter", "water", "film"), SECTIONS)
def test_closed_form_agrees_with_the_solved_section(diameter, water, film):
    """Within 15 % of the flow and 25 % of the reach; best for the wide wedges below pockets."""
    flow, half = solved(diameter, water, film)
    assert waterline.conductance(diameter, water, film) == pytest.approx(flow, rel=0.15)
    assert waterline.reach_of_half(diameter, water, film) == pytest.approx(half, rel=0.25)


@pytest.mark.parametrize("diameter", [0.035, 0.108, 0.161])
def test_below_pockets_the_closed_form_is_within_a_tenth(diameter):
    flow, half = solved(diameter, 0.8, 2e-3)
    assert waterline.conductance(diameter, 0.8, 2e-3) == pytest.approx(flow, rel=0.03)
    assert waterline.reach_of_half(diameter, 0.8, 2e-3) == pytest.approx(half, rel=0.07)
