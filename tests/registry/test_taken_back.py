"""A photo or signature taken back: the chain holds it, the digest stays, the picture is gone."""

from datetime import timedelta
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from registry.models import Attachment, Record
from registry.services.attaching import record_with_files
from registry.services.ledger import RecordError, withdraw
from registry.services.taking_back import take_file_back
from reports.kept.photos import photos_of
from scheduling.verifying import verify_system

pytestmark = pytest.mark.django_db
WRONG = "Of another riser"


def picture(shade) -> bytes:
    out = BytesIO()
    Image.new("RGB", (12, 9), shade).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def record(world, system):
    photos = [
        SimpleUploadedFile(name, picture(shade), "image/jpeg")
        for name, shade in (("gauge.jpg", "grey"), ("meter.jpg", "white"))
    ]
    return record_with_files(
        system=system, kind="event.observation", occurred_at=timezone.now() - timedelta(hours=1),
        recorded_by=world.technician, details={"text": "Two photos"}, files=photos,
    )  # fmt: skip


@pytest.fixture
def file(record):
    return record.attachments.get(name="gauge.jpg")


def page_of(file):
    return reverse("registry:attachment-take-back", args=[file.uuid])


def take_back(client, file, reason=WRONG):
    return client.post(page_of(file), {"reason": reason})


def test_it_is_on_record_with_who_when_and_why_and_the_digest_stays(client, world, record, file):
    client.force_login(world.technician)
    assert page_of(file) in client.get(record.get_absolute_url()).content.decode()
    assert take_back(client, file).status_code == 302
    written = Record.objects.latest("pk")
    assert written.kind == "register.file_taken_back"
    assert written.recorded_by == world.technician
    assert written.details == {
        "of": record.sequence, "file": f"gauge.jpg {file.sha256}", "reason": WRONG
    }  # fmt: skip
    record.refresh_from_db()
    assert file.sha256 in record.details["files"]
    assert not hasattr(record, "superseded_by")
    assert not verify_system(record.system).found


def test_its_picture_is_shown_no_longer_and_the_other_is(client, world, record, file):
    client.force_login(world.technician)
    other = record.attachments.get(name="meter.jpg")
    take_back(client, file)
    shown = client.get(record.get_absolute_url()).content.decode()
    assert f'<img src="{file.get_absolute_url()}"' not in shown
    assert f'<img src="{other.get_absolute_url()}"' in shown
    assert "Taken back; the ledger keeps its digest." in shown
    gone = client.get(file.get_absolute_url())
    assert gone.status_code == 410
    for words in (WRONG, file.sha256, str(world.technician)):
        assert words in gone.content.decode()
    block, pictures = photos_of([(row, "said") for row in record.attachments.all()])
    assert [one.words for one in block.photos] == ["gauge.jpg: taken back", "meter.jpg: said"]
    assert list(pictures) == ["photo-2.jpg"]


def test_it_is_taken_back_once_and_needs_a_reason(client, world, record, file):
    client.force_login(world.technician)
    assert "reason" in take_back(client, file, " ").context["form"].errors
    assert take_back(client, file).status_code == 302
    assert take_back(client, file).status_code == 404
    with pytest.raises(RecordError, match="taken back already"):
        take_file_back(file=file, reason="Again", recorded_by=world.technician)
    assert Record.objects.filter(kind="register.file_taken_back").count() == 1


def test_only_those_who_may_record_take_it_back(client, world, record, file):
    for person, status in (("viewer", 403), ("stranger", 404)):
        client.force_login(getattr(world, person))
        assert take_back(client, file).status_code == status
    assert Attachment.objects.get(pk=file.pk).is_shown


def test_a_withdrawn_record_takes_its_files_along(client, world, record, file):
    withdraw(record=record, reason=WRONG, recorded_by=world.technician)
    client.force_login(world.technician)
    assert client.get(file.get_absolute_url()).status_code == 410
    assert page_of(file) not in client.get(record.get_absolute_url()).content.decode()
    assert not verify_system(record.system).found


@pytest.mark.parametrize("how", ["hidden without a record", "shown in spite of one"])
def test_verifying_finds_what_was_hidden_or_shown_past_the_ledger(world, record, file, how):
    if how == "hidden without a record":
        Attachment.objects.filter(pk=file.pk).update(taken_back_by=record)
    else:
        take_file_back(file=file, reason=WRONG, recorded_by=world.technician)
        Attachment.objects.filter(pk=file.pk).update(taken_back_by=None)
    (found,) = verify_system(record.system).found
    assert "“gauge.jpg”" in str(found)


def test_a_photo_of_a_run_and_its_signature_are_withdrawn_as_records(client, world, system):
    for kind, details in (
        ("inerting.photo", {"of": "gauge"}),
        ("inerting.signed", {"name": "O. Manager", "way": "screen"}),
    ):
        written = record_with_files(
            system=system, kind=kind, occurred_at=timezone.now(), recorded_by=world.technician,
            details=details, files=[SimpleUploadedFile("it.jpg", picture("grey"), "image/jpeg")],
            client_key=uuid4(),
        )  # fmt: skip
        client.force_login(world.technician)
        address = reverse("registry:record-withdraw", args=[written.pk])
        assert address in client.get(written.get_absolute_url()).content.decode()
        assert client.post(address, {"reason": WRONG}).status_code == 302
        assert client.get(written.attachments.get().get_absolute_url()).status_code == 410
        assert written not in system.records.current()
    assert not verify_system(system).found
