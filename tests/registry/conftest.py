import pytest
from django.test import Client

from registry.models import InertingRun
from tests.registry.runs_world import start


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
    start(technicians, system)
    return InertingRun.objects.get(system=system)
