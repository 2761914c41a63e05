"""Photos on any record: kept with their digest in the ledger, and without where they were taken."""

import struct
import zlib
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from registry.models import Attachment, Record
from registry.photos.place import without_place
from registry.services.attaching import record_with_files
from registry.services.ledger import RecordError, SentBefore
from scheduling.verifying import verify_system
from tests.registry.runs_world import kinds

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(64)
LATITUDE = struct.pack(">IIIIII", 51, 1, 28, 1, 4012, 100)


def tiff(order: str) -> bytes:
    """Exif by CIPA DC-008: a directory with the orientation and the GPS directory, laid out by
    hand: header 8, one directory of 2 entries, GPS of 2 entries, then the latitude."""
    pack = lambda layout, *values: struct.pack(order + layout, *values)  # noqa: E731
    head = (b"II*\0" if order == "<" else b"MM\0*") + pack("I", 8)
    first = pack("H", 2) + pack("HHIHH", 0x0112, 3, 1, 6, 0) + pack("HHII", 0x8825, 4, 1, 38)
    first += pack("I", 0)
    gps = pack("H", 2) + pack("HHI4s", 1, 2, 2, b"N\0\0\0") + pack("HHII", 2, 5, 3, 68)
    gps += pack("I", 0)
    assert len(head + first) == 38
    assert len(head + first + gps) == 68
    return head + first + gps + LATITUDE


def jpeg(order=">") -> bytes:
    block = b"Exif\0\0" + tiff(order)
    return b"\xff\xd8\xff\xe1" + struct.pack(">H", len(block) + 2) + block + b"\xff\xda" + bytes(9)


def png() -> bytes:
    def chunk(kind, data):
        sum_of = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", sum_of)

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"eXIf", tiff("<"))
        + chunk(b"IEND", b"")
    )


def webp() -> bytes:
    chunk = b"EXIF" + struct.pack("<I", len(tiff("<"))) + tiff("<")
    return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk


def heic() -> bytes:
    return b"\0\0\0\x18ftypheic" + bytes(12) + b"\0\0\0\x06Exif\0\0" + tiff(">") + bytes(8)


@pytest.mark.parametrize("photo", [jpeg(), jpeg("<"), png(), webp(), heic()])
def test_the_place_is_blanked_and_everything_else_stays(photo):
    kept, had_place = without_place(photo)
    assert had_place
    assert len(kept) == len(photo)
    assert LATITUDE in photo
    assert LATITUDE not in kept
    orientation = photo[photo.index(struct.pack(">H", 0x0112) if b"MM" in photo else b"\x12\x01") :]
    assert orientation[:12] in kept
    assert without_place(kept) == (kept, False)


def test_a_png_stays_whole():
    kept, _ = without_place(png())
    at = 8
    while at < len(kept):
        (length,) = struct.unpack_from(">I", kept, at)
        body = kept[at + 4 : at + 8 + length]
        assert struct.unpack_from(">I", kept, at + 8 + length)[0] == zlib.crc32(body)
        at += 12 + length


def test_the_place_in_xmp_is_blanked_too():
    photo = (
        JPEG
        + b'<x exif:GPSLatitude="51,28.67N" tiff:Make="M"/><exif:GPSAltitude>9</exif:GPSAltitude>'
    )
    kept, had_place = without_place(photo)
    assert had_place
    assert b"51,28" not in kept
    assert b'tiff:Make="M"' in kept
    assert b">9<" not in kept


@pytest.mark.parametrize("cut", [10, 20, 30, 40, 50, 60, 75])
def test_a_broken_photo_breaks_nothing(cut):
    without_place(jpeg()[:cut])
    without_place(png()[:cut])


# On records

pytest_db = pytest.mark.django_db


def upload(name="gauge.jpg", content=JPEG):
    return SimpleUploadedFile(name, content, "image/jpeg")


def log_url(system, kind="event.observation"):
    return reverse("registry:record-new", args=[system.pk, kind])


def facts(by, **more):
    return {
        "kind": "reading.pressure", "occurred_at": timezone.now(), "recorded_by": by,
        "details": {"pressure_gauge_pa": 2e5}, "client_key": uuid4(), **more,
    }  # fmt: skip


@pytest_db
def test_an_event_is_logged_with_a_photo_whose_digest_is_in_the_chain(client, world, system):
    client.force_login(world.technician)
    page = client.get(log_url(system))
    assert 'enctype="multipart/form-data"' in page.content.decode()
    now = timezone.localtime(timezone.now(), system.site.zone).strftime("%Y-%m-%dT%H:%M")
    sent = {"occurred_at": now, "client_key": uuid4(), "text": "Gauge of riser 2"}
    response = client.post(log_url(system), sent | {"files": [upload(content=jpeg())]})
    assert response.status_code == 302, response.context["form"].errors
    record = Record.objects.latest("pk")
    file = Attachment.objects.get(record=record)
    assert record.details["files"] == f"gauge.jpg {file.sha256}"
    with file.open() as kept:
        assert LATITUDE not in kept.read()
    assert not verify_system(system).found
    shown = client.get(record.get_absolute_url()).content.decode()
    assert file.get_absolute_url() in shown
    assert file.sha256 in shown
    ledger = client.get(reverse("reports:ledger", args=[system.pk])).content.decode()
    assert "gauge.jpg" in ledger
    client.force_login(world.stranger)
    assert client.get(file.get_absolute_url()).status_code == 404


@pytest_db
@pytest.mark.parametrize("kind", ["reading.gas", "event.drain_down", "event.impairment_start"])
def test_every_form_of_an_event_or_reading_offers_photos(client, world, system, kind):
    client.force_login(world.technician)
    assert 'name="files"' in client.get(log_url(system, kind)).content.decode()


@pytest_db
@pytest.mark.parametrize("name", ["registry:drain-down", "scheduling:impairment-start"])
def test_so_do_the_forms_that_stand_by_themselves(client, world, system, name):
    client.force_login(world.technician)
    page = client.get(reverse(name, args=[system.pk])).content.decode()
    assert 'name="files"' in page
    assert 'enctype="multipart/form-data"' in page


@pytest_db
def test_a_file_that_is_no_photo_is_refused_and_what_was_typed_stays(client, world, system):
    client.force_login(world.technician)
    now = timezone.localtime(timezone.now(), system.site.zone).strftime("%Y-%m-%dT%H:%M")
    sent = {"occurred_at": now, "client_key": uuid4(), "text": "Gauge of riser 2"}
    before = Record.objects.count()
    response = client.post(log_url(system), sent | {"files": [upload("a.exe", b"MZ\x90\x00")]})
    text = response.content.decode()
    assert "is not one of JPEG, PNG" in text
    assert "Gauge of riser 2" in text
    assert "Choose the photos and documents again" in text
    assert Record.objects.count() == before


@pytest_db
def test_the_same_form_twice_writes_one_record_and_one_photo(world, system):
    said = facts(world.technician)
    first = record_with_files(system=system, files=[upload()], **said)
    again = record_with_files(system=system, files=[upload()], **said)
    assert again == first
    assert Attachment.objects.filter(record=first).count() == 1
    with pytest.raises(SentBefore):
        record_with_files(system=system, files=[upload("other.jpg", JPEG + b"x")], **said)


@pytest_db
def test_a_refused_record_leaves_no_file_behind(world, system):
    with pytest.raises(RecordError):
        record_with_files(
            system=system, files=[upload()], **facts(world.technician, details={"wrong": 1})
        )
    assert not Attachment.objects.exists()


@pytest_db
def test_a_correction_shows_the_photo_of_what_it_corrects(client, world, system):
    first = record_with_files(system=system, files=[upload()], **facts(world.technician))
    right = record_with_files(
        system=system, **facts(world.technician, supersedes=first, occurred_at=first.occurred_at)
    )
    client.force_login(world.technician)
    text = client.get(right.get_absolute_url()).content.decode()
    assert f"Came with number {first.sequence}" in text


# On a run


@pytest_db
def test_a_photo_is_a_record_of_the_run_and_moves_no_step(technicians, run):
    address = reverse("registry:run-photo", args=[run.pk])
    sent = {"client_key": uuid4(), "of": "meter", "says": "98.4", "files": [upload("meter.jpg")]}
    assert technicians.post(address, sent).status_code == 302
    assert kinds(run) == ["started", "photo"]
    page = technicians.get(run.get_absolute_url())
    assert page.context["form"].step.token == "checked"
    assert "meter.jpg" in page.content.decode()


@pytest_db
def test_a_photo_without_a_file_or_a_subject_is_mended(technicians, run):
    address = reverse("registry:run-photo", args=[run.pk])
    response = technicians.post(address, {"client_key": uuid4()})
    assert response.status_code == 422
    assert kinds(run) == ["started"]
    assert set(response.context["form"].errors) == {"of", "files"}
