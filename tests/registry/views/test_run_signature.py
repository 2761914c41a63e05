"""The hand-over signed on the screen, or on paper."""

import base64
import struct
import zlib
from uuid import uuid4

import pytest
from django.urls import reverse

from registry.models import Attachment, InertingRun
from registry.photos.signature import MOST_BYTES, PREFIX, SignatureError, png_of
from scheduling.verifying import verify_system
from tests.registry.runs_world import answer, do, kinds
from tests.restoration import RESTORED


def drawing(width=9, height=3) -> bytes:
    """A grey picture, as ISO/IEC 15948 lays it out."""

    def chunk(kind, data):
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"".join(b"\0" + bytes([128]) * width for _ in range(height)))
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def sent(png: bytes) -> str:
    return PREFIX + base64.b64encode(png).decode()


@pytest.mark.parametrize(
    "bad",
    [
        "", "x", "data:image/svg+xml;base64,AAAA", PREFIX, PREFIX + "!!", sent(b"MZ" + bytes(40)),
        sent(drawing(5000, 3)), PREFIX + "A" * (2 * MOST_BYTES),
    ],
)  # fmt: skip
def test_what_is_no_drawing_is_not_kept(bad):
    with pytest.raises(SignatureError):
        png_of(bad)


def test_a_drawing_comes_back_as_it_was_sent():
    assert png_of(sent(drawing())) == drawing()


def address(run):
    return reverse("registry:run-sign", args=[run.pk])


@pytest.fixture
def returned(technicians, run):
    do(technicians, run, 92.9, "purge", 97.6, "purge", 99.2)
    answer(technicians, run, "final_purge", pressure_gauge_pa="0 psi")
    answer(technicians, run, "water_filled", pressure_gauge_pa="85 psi")
    answer(technicians, run, "returned", **RESTORED)
    run.refresh_from_db()
    return run


pytest_db = pytest.mark.django_db


@pytest_db
def test_a_signature_is_a_file_whose_digest_is_in_the_chain(technicians, returned):
    assert address(returned) in technicians.get(returned.get_absolute_url()).content.decode()
    said = {"name": "Olive Manager", "role": "for the owner", "way": "screen"}
    answers = said | {"client_key": uuid4(), "drawn": sent(drawing())}
    assert technicians.post(address(returned), answers).status_code == 302
    signed = returned.records.last()
    file = Attachment.objects.get(record=signed)
    assert signed.kind == "inerting.signed"
    assert signed.details == said | {"files": f"signature.png {file.sha256}"}
    with file.open() as kept:
        assert kept.read() == drawing()
    assert not verify_system(returned.system).found
    assert InertingRun.objects.get(pk=returned.pk).status == "returned"
    page = technicians.get(returned.get_absolute_url()).content.decode()
    assert "Hand-over signed by Olive Manager" in page
    technicians.post(address(returned), answers)
    assert kinds(returned).count("signed") == 1


@pytest_db
def test_without_a_pointer_it_is_signed_on_paper(technicians, returned):
    said = {"name": "Olive Manager", "way": "paper", "exceptions": "Drain cap missing"}
    technicians.post(address(returned), said | {"client_key": uuid4()})
    assert returned.records.last().details == said
    assert not Attachment.objects.exists()


@pytest_db
@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"way": "screen"}, "Nothing is drawn"),
        ({"way": "screen", "drawn": "data:image/png;base64,AAAA"}, "not a drawing of this page"),
        ({"way": "paper", "drawn": sent(drawing())}, "The box holds a signature"),
        ({"way": "paper", "name": ""}, "Name"),
        ({}, "How it was signed"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_written(technicians, returned, said, words):
    answers = {"name": "Olive Manager", "client_key": uuid4()} | said
    response = technicians.post(address(returned), answers)
    assert response.status_code == 422
    assert words in response.content.decode()
    assert "signed" not in kinds(returned)


@pytest_db
def test_a_run_under_way_is_not_handed_over(technicians, run):
    assert "handed over afterwards" in technicians.get(address(run)).content.decode()
    answers = {"name": "Olive Manager", "way": "paper", "client_key": uuid4()}
    assert technicians.post(address(run), answers).status_code == 422
    assert kinds(run) == ["started"]
