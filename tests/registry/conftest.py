import pytest
from django.test import Client

from registry.models import InertingRun
from tests.kept import Kept
from tests.registry.runs_world import start


def make_run(client, system) -> InertingRun:
    start(client, system)
    return InertingRun.objects.get(system=system)


RUN = Kept(make_run)


@pytest.fixture
def technicians(client, technician):
    client.force_login(technician)
    return client


@pytest.fixture
def owners(owner):
    client = Client()
    client.force_login(owner)
    return client


@pytest.fixture
def run(technicians, system) -> InertingRun:
    """Started through the pages by the technician."""
    return RUN(technicians, system)
