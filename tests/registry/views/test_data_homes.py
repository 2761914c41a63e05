"""Facts that once had no home in the book: what water was found to hold, the fittings that are
worked at the riser, and the time since the gas was shut off."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Fitting, InertingRun, Record
from tests.registry.runs_world import answer, start

pytestmark = pytest.mark.django_db


def test_a_water_sample_takes_sulphate_and_alkalinity(technicians, system):
    now = timezone.localtime(timezone.now(), system.site.zone)
    address = reverse("registry:record-new", args=[system.pk, "reading.water"])
    said = {"occurred_at": f"{now:%Y-%m-%dT%H:%M}", "sulphate_mg_l": "240", "alkalinity_mg_l": "85"}
    assert technicians.post(address, said).status_code == 302
    record = Record.objects.latest("pk")
    assert record.details == {"sulphate_mg_l": 240.0, "alkalinity_mg_l": 85.0}
    shown = technicians.get(record.get_absolute_url()).content.decode()
    assert "Sulphate, mg/L" in shown and "Alkalinity, mg/L as calcium carbonate" in shown
    refused = technicians.post(address, said | {"sulphate_mg_l": "-1"})
    assert "sulphate_mg_l" in refused.context["form"].errors


@pytest.mark.parametrize("kind", ["control_valve", "fire_connection", "remote_point"])
def test_a_fitting_of_the_riser_has_a_tag_and_an_order(client, world, system, kind):
    client.force_login(world.owner)
    address = reverse("registry:fitting-new", args=[system.pk])
    sent = {"kind": kind, "label": "T-7", "order": "2"}
    assert client.post(address, sent).status_code == 302
    fitting = Fitting.objects.get()
    assert (fitting.kind, fitting.label, fitting.order) == (kind, "T-7", 2)
    assert "T-7" in client.get(system.get_absolute_url()).content.decode()
    assert client.post(address, sent | {"order": "0"}).context["form"].errors["order"]


def test_the_time_since_the_gas_was_shut_off_runs_on_the_page_of_the_run(technicians, system):
    start(technicians, system)
    run = InertingRun.objects.get()
    assert "data-stopwatch=" not in technicians.get(run.get_absolute_url()).content.decode()
    answer(technicians, run, "checked", unchecked="1")
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    page = technicians.get(run.get_absolute_url())
    filled = run.records.get(kind="inerting.filled")
    assert page.context["gas_shut_at"] == filled.occurred_at
    assert "data-stopwatch=" in page.content.decode()
