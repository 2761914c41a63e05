import pytest

from registry.jobs import kinds
from registry.jobs.kinds import MINUTE, Every, job
from tests.factories import NOW


class Clock:
    """Stands still until it is moved."""

    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def done():
    """Two kinds of the test's own: what they did, and what they were told at the end."""
    before = dict(kinds.KINDS)
    kinds.KINDS.clear()
    said = []
    job("test.once", "Once", given_up=lambda row, words: said.append(words))(
        lambda run: said.append(run.arguments)
    )
    job("test.often", "Often", every=Every(10 * MINUTE))(lambda run: said.append("often"))
    yield said
    kinds.KINDS.clear()
    kinds.KINDS.update(before)
