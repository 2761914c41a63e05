"""Files chosen in a form are not lost when it comes back with an error."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from registry.models import Attachment, HeldFile, Record
from registry.services import holding
from scheduling.jobs.sweep import Share, sweep
from tests.registry.test_photos import LATITUDE, jpeg

pytestmark = pytest.mark.django_db


def photo(name="gauge.jpg"):
    return SimpleUploadedFile(name, jpeg(), "image/jpeg")


def address(system, kind="event.observation"):
    return reverse("registry:record-new", args=[system.pk, kind])


@pytest.fixture
def said(system):
    now = timezone.localtime(timezone.now(), system.site.zone)
    return {"occurred_at": f"{now:%Y-%m-%dT%H:%M}", "client_key": uuid4(), "text": "Gauge of riser"}


@pytest.fixture
def riser(client, world):
    client.force_login(world.technician)
    return client


def send(client, system, said, **more):
    return client.post(address(system), said | more)


def come_back(client, system, said, *names, **more):
    """Sent without its text: the form comes back."""
    files = [photo(name) for name in names]
    response = send(client, system, said, text="", files=files, **more)
    assert response.status_code == 200
    return response


def ticks(response) -> list[str]:
    return re.findall(r'name="kept_files" value="([0-9a-f-]+)" checked', response.content.decode())


def test_what_was_chosen_is_kept_said_and_sent_with_the_corrected_form(riser, system, said):
    page = come_back(riser, system, said, "gauge.jpg", "meter.jpg")
    shown = page.content.decode()
    assert "Kept from before" in shown and "gauge.jpg" in shown and "meter.jpg" in shown
    assert "Choose the photos and documents again" not in shown
    held = ticks(page)
    assert send(riser, system, said, kept_files=held, kept_files_shown=held).status_code == 302
    record = Record.objects.latest("pk")
    assert [row.name for row in record.attachments.all()] == ["gauge.jpg", "meter.jpg"]
    assert all(row.is_intact() for row in record.attachments.all())


def test_the_place_of_a_photo_is_taken_out_before_it_is_kept(riser, system, said):
    come_back(riser, system, said, "gauge.jpg")
    with default_storage.open(HeldFile.objects.get().stored_as) as kept:
        assert LATITUDE not in kept.read()


def test_more_files_join_what_is_kept(riser, system, said):
    first = ticks(come_back(riser, system, said, "gauge.jpg"))
    both = ticks(
        come_back(riser, system, said, "meter.jpg", kept_files=first, kept_files_shown=first)
    )
    assert len(both) == 2 and both[0] == first[0]


def test_an_unticked_file_is_let_go_and_not_sent(riser, system, said):
    one, two = ticks(come_back(riser, system, said, "gauge.jpg", "meter.jpg"))
    page = come_back(riser, system, said, kept_files=[two], kept_files_shown=[one, two])
    assert ticks(page) == [two]
    assert [str(row.uuid) for row in HeldFile.objects.all()] == [two]
    send(riser, system, said, kept_files=[], kept_files_shown=[two])
    assert not Attachment.objects.exists()


def test_a_file_of_another_kind_is_refused_and_the_others_are_kept(riser, system, said):
    bad = SimpleUploadedFile("run.exe", b"MZ" + bytes(40))
    page = send(riser, system, said, files=[photo(), bad])
    assert "“run.exe” is not one of" in page.content.decode()
    assert [row.name for row in HeldFile.objects.all()] == ["gauge.jpg"]


def test_once_sent_nothing_is_kept(riser, system, said, django_capture_on_commit_callbacks):
    held = ticks(come_back(riser, system, said, "gauge.jpg"))
    stored = HeldFile.objects.get().stored_as
    with django_capture_on_commit_callbacks(execute=True):
        send(riser, system, said, kept_files=held, kept_files_shown=held)
    assert not HeldFile.objects.exists()
    assert not default_storage.exists(stored)


def test_the_corrected_form_sent_twice_writes_one_record(riser, system, said):
    held = ticks(come_back(riser, system, said, "gauge.jpg"))
    before = Record.objects.count()
    for _ in range(2):
        assert send(riser, system, said, kept_files=held, kept_files_shown=held).status_code == 302
    assert Record.objects.count() == before + 1
    assert Attachment.objects.count() == 1


def test_nobody_sends_what_another_chose(riser, world, system, said, client):
    held = ticks(come_back(riser, system, said, "gauge.jpg"))
    client.force_login(world.owner)
    page = send(client, system, said | {"client_key": uuid4()}, kept_files=held)
    assert "is gone: choose it again" in page.content.decode()
    assert HeldFile.objects.count() == 1
    assert not Attachment.objects.exists()


def test_after_a_day_it_is_forgotten_by_the_sweep_and_asked_for_again(
    riser, system, said, django_capture_on_commit_callbacks
):
    held = ticks(come_back(riser, system, said, "gauge.jpg"))
    stored = HeldFile.objects.get().stored_as
    now = timezone.now()
    assert sweep(now + holding.KEPT_FOR - timedelta(minutes=1)).forgotten == 0
    assert sweep(now + holding.KEPT_FOR, Share(1, 2)).forgotten == 0
    with django_capture_on_commit_callbacks(execute=True):
        assert sweep(now + holding.KEPT_FOR + timedelta(minutes=1)).forgotten == 1
    assert not default_storage.exists(stored)
    page = send(riser, system, said, kept_files=held, kept_files_shown=held)
    assert "is gone: choose it again" in page.content.decode()


@pytest.mark.parametrize(("limit", "most"), [("MOST_FILES", 2), ("MOST_BYTES", 2 * len(jpeg()))])
def test_of_one_person_so_many_and_so_much_is_kept_the_oldest_goes(
    riser, system, said, monkeypatch, limit, most
):
    monkeypatch.setattr(holding, limit, most)
    come_back(riser, system, said, "a.jpg", "b.jpg", "c.jpg")
    assert [row.name for row in HeldFile.objects.all()] == ["b.jpg", "c.jpg"]


def test_a_phone_that_keeps_the_entry_leaves_nothing_with_the_book(riser, world, system, said):
    riser.post(
        address(system),
        said | {"text": "", "files": [photo()]},
        headers={"X-Kept-By": str(world.technician.uuid)},
    )
    assert not HeldFile.objects.exists()


@pytest.mark.parametrize("name", ["registry:drain-down", "scheduling:impairment-start"])
def test_the_forms_that_stand_by_themselves_keep_them_too(riser, system, name):
    page = riser.post(reverse(name, args=[system.pk]), {"note": "x", "files": [photo()]})
    assert len(ticks(page)) == 1


def test_a_question_of_the_form_is_not_taken_for_a_kept_file(riser, system, said):
    """A test of pressure asks whether it held."""
    page = riser.post(
        address(system, "event.hydrostatic_test"), said | {"held": "yes", "files": [photo()]}
    )
    assert len(ticks(page)) == 1
    assert page.context["form"]["held"].value() == "yes"
