"""The certificate of a run of the demo shows the air check, or that none was made."""

from datetime import timedelta

import pytest

from registry.demo.story import _tell_run
from reports.certificate.acceptance import instrument_facts
from tests.factories import NOW, make_pipe_run

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("shown", "air", "zero"),
    [
        ({"air_o2_percent": 20.8, "zero_o2_percent": 0.1}, "20.8 % oxygen, within", "0.1 %"),
        ({}, "none was made", None),
    ],
)
def test_the_facts_of_the_instrument_are_those_of_the_story(world, system, shown, air, zero):
    make_pipe_run(system, world.owner)
    entry = {"by": "pellmoor", "run": [92.9, 98.4], "check": shown}
    _tell_run(system, entry, world.technician, NOW - timedelta(days=2))
    run = system.inerting_runs.get()
    assert run.status == "returned"
    facts = dict(instrument_facts(run, run.records.current().in_order()))
    assert air in facts["Air check"].replace("\u00a0", " ")
    assert (zero is None) == ("Check on pure nitrogen" not in facts)
    assert zero is None or zero in facts["Check on pure nitrogen"].replace("\u00a0", " ")
