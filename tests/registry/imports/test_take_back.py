from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from registry import services
from registry.chain import verify
from registry.imports import jobs
from registry.imports.take_back import TakenBackTooLate, is_open_to_taking_back, take_back
from registry.models import Assessment, AtmosphereSpan, ImportBatch, PipeRun, Record, System
from registry.services.ledger import links

from .conftest import NOW, plain_register

LATER = NOW + timedelta(days=1)


def loaded(world, name="messy.csv", now=NOW):
    batch = jobs.receive(
        owner=world.owner_organisation, uploaded_by=world.owner, now=now,
        upload=SimpleUploadedFile(name, plain_register()),
    )  # fmt: skip
    assert jobs.load(batch, loaded_by=world.owner, now=now)
    return batch


def test_a_load_taken_back_leaves_no_system_and_every_record(world):
    batch = loaded(world)
    records = Record.objects.count()
    assert take_back(batch, taken_back_by=world.owner, now=LATER) == 4
    assert batch.state == ImportBatch.State.TAKEN_BACK
    assert System.objects.count() == 0
    assert PipeRun.objects.current().count() == 0
    assert AtmosphereSpan.objects.count() == Assessment.objects.count() == 0
    assert Record.objects.count() == 2 * records
    for system in System._base_manager.all():
        assert verify(links(system)) == []


def test_the_same_file_can_be_loaded_again(world):
    take_back(loaded(world), taken_back_by=world.owner, now=LATER)
    again = loaded(world, now=LATER + timedelta(days=1))
    assert (again.outcome["new"], System.objects.count()) == (8, 4)


def test_the_first_record_written_on_it_closes_the_way_back(world):
    batch = loaded(world)
    assert is_open_to_taking_back(batch)
    services.record(
        system=System.objects.get(tag="GP-01"), kind="event.observation",
        occurred_at=NOW, details={"text": "seen"},
        recorded_by=world.owner, now=LATER,
    )  # fmt: skip
    assert not is_open_to_taking_back(batch)
    with pytest.raises(TakenBackTooLate, match="a record was written on GP-01 since"):
        take_back(batch, taken_back_by=world.owner, now=LATER + timedelta(hours=1))
    assert System.objects.count() == 4
    assert not Record.objects.filter(kind="register.withdrawn").exists()


def test_pipe_of_a_system_that_was_there_is_withdrawn_and_the_system_stays(world):
    first = loaded(world)
    PipeRun.objects.filter(system__tag="GP-01", role="riser").update(length_m=1)
    batch = loaded(world, "more.csv", now=LATER)
    jobs.answer(batch, jobs.Answers(similar="add"))
    jobs.load(batch, loaded_by=world.owner, now=LATER)
    assert not is_open_to_taking_back(first)
    take_back(batch, taken_back_by=world.owner, now=LATER + timedelta(days=1))
    assert System.objects.count() == 4
    assert PipeRun.objects.current().filter(system__tag="GP-01").count() == 3


def test_the_page_takes_a_load_back_and_says_so(client, owner, world):
    batch = loaded(world)
    client.force_login(owner)
    assert "Take the load back" in client.get(batch.get_absolute_url()).content.decode()
    page = client.post(reverse("registry:import-take-back", args=[batch.pk]), follow=True)
    assert "4 systems left the register" in page.content.decode()
    page = client.post(reverse("registry:import-take-back", args=[batch.pk]), follow=True)
    assert "Nothing is loaded from this file" in page.content.decode()
