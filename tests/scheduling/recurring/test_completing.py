"""Work done, skipped and taken back, as the ledger and the plan tell it."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage

from registry.chain import verify
from registry.models import Attachment
from registry.services import RecordError
from registry.services.attaching import LARGEST, plain_name, sniff
from registry.services.ledger import links
from scheduling import recurring
from scheduling.models import Occurrence
from tests.factories import PSI, make_system
from tests.scheduling.recurring_world import (
    JPEG,
    NOW,
    PDF,
    PNG,
    adopt,
    complete,
    open_of,
    upload,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(world, system):
    adopt(world.site, world.owner)
    return system


def drain(residual_psi):
    return {"found": "none", "residual_gauge_pa": residual_psi * PSI}


def test_done_work_is_a_record_and_the_next_is_due_an_interval_after_it(world, planned):
    gauges = open_of(planned, "gauges")
    written = complete(gauges, world.technician, datetime(2026, 6, 25, 9, tzinfo=UTC))
    assert (written.kind, written.details["item"]) == ("inspection.completed", "gauges")
    assert written.details["due_on"] == "2026-07-01"
    assert (written.details["timing"], written.details["days"]) == ("on_time", 0)
    assert written.details["asked_by"].startswith("NFPA 25 (2017)")
    assert written.details["asked_by"].endswith("Check the adopted edition.")
    assert open_of(planned, "gauges").due_on == date(2026, 7, 25)
    gauges.refresh_from_db()
    assert (gauges.status, gauges.record) == ("done", written)


@pytest.mark.parametrize(
    ("day", "timing", "days"),
    [
        (date(2026, 6, 3), "early", 18),
        (date(2026, 7, 1), "on_time", 0),
        (date(2026, 7, 9), "late", 8),
    ],
)
def test_work_is_early_on_time_or_late_by_the_days_at_the_site(world, planned, day, timing, days):
    at = datetime(day.year, day.month, day.day, 22, 30, tzinfo=UTC)  # 23:30 in London
    written = complete(open_of(planned, "gauges"), world.technician, at)
    assert (written.details["timing"], written.details["days"]) == (timing, days)


def test_half_an_hour_past_midnight_at_the_site_is_a_day_late(world, planned):
    at = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    written = complete(open_of(planned, "gauges"), world.technician, at)
    assert (written.details["timing"], written.details["days"]) == ("late", 1)


def test_work_before_its_season_is_on_record_and_does_not_count_for_it(world, planned):
    recurring.answer_questions(system=planned, answers={"can_freeze": True}, now=NOW)
    heat = open_of(planned, "building-heat")
    written = complete(heat, world.technician, NOW)
    assert written.details["timing"] == "early"
    assert open_of(planned, "building-heat") == heat


def test_seasonal_work_done_a_year_late_leaves_the_season_before_as_missed(world, planned):
    recurring.answer_questions(system=planned, answers={"can_freeze": True}, now=NOW)
    at = datetime(2027, 10, 1, 9, tzinfo=UTC)
    written = complete(open_of(planned, "building-heat"), world.technician, at)
    rows = Occurrence.objects.filter(item__key="building-heat").order_by("due_on")
    assert [(row.due_on.year, row.status) for row in rows] == [
        (2026, "missed"),
        (2027, "done"),
        (2028, "open"),
    ]
    assert rows[1].record == written


def test_an_entry_sent_again_with_another_finding_is_not_said_to_be_logged(world, planned):
    gauges, key = open_of(planned, "gauges"), uuid4()
    complete(gauges, world.technician, NOW, client_key=key)
    fogged = {"found": "noncritical", "noncritical": "The glass is fogged"}
    with pytest.raises(RecordError, match="was sent before"):
        complete(gauges, world.technician, NOW, client_key=key, details=fogged)


def test_the_same_entry_sent_twice_is_one_record(world, planned):
    gauges, key = open_of(planned, "gauges"), uuid4()
    first = complete(gauges, world.technician, NOW, client_key=key, files=[upload()])
    again = complete(gauges, world.technician, NOW, client_key=key, files=[upload()])
    assert first == again
    assert Attachment.objects.count() == 1
    assert planned.occurrences.open().filter(item__key="gauges").count() == 1


def test_an_occurrence_settled_meanwhile_is_not_settled_again(world, planned):
    gauges = open_of(planned, "gauges")
    complete(gauges, world.technician, NOW)
    with pytest.raises(RecordError, match="done already"):
        complete(gauges, world.owner, NOW)


def test_work_cannot_be_entered_before_work_that_is_on_record(world, planned):
    complete(open_of(planned, "gauges"), world.technician, NOW)
    with pytest.raises(RecordError, match="last seen to on 1 June 2026"):
        complete(open_of(planned, "gauges"), world.technician, NOW - timedelta(days=3), now=NOW)


def test_a_skip_keeps_the_rhythm_and_its_reason(world, planned):
    written = recurring.skip_occurrence(
        occurrence=open_of(planned, "gauges"), reason="No access", recorded_by=world.owner, now=NOW
    )
    assert written.details["reason"] == "No access"
    assert open_of(planned, "gauges").due_on == date(2026, 8, 1)


def test_a_skip_needs_a_reason(world, planned):
    with pytest.raises(RecordError, match="Why it was skipped"):
        recurring.skip_occurrence(
            occurrence=open_of(planned, "gauges"), reason=" ", recorded_by=world.owner, now=NOW
        )


def test_work_taken_back_is_due_as_before(world, planned):
    due = open_of(planned, "gauges").due_on
    written = complete(open_of(planned, "gauges"), world.technician, NOW)
    recurring.withdraw_inspection(
        inspection=written, reason="Wrong system", recorded_by=world.technician, now=NOW
    )
    assert open_of(planned, "gauges").due_on == due
    assert Occurrence.objects.get(record=written).status == "withdrawn"


@pytest.mark.parametrize(
    ("details", "field"),
    [
        ({"found": "critical"}, "critical"),
        ({"found": "none", "noncritical": "Missing plate"}, "found"),
        ({"found": "noncritical", "noncritical": "Plate", "impairments": "Valve shut"}, "found"),
    ],
)
def test_findings_and_their_class_must_agree(world, planned, details, field):
    with pytest.raises(RecordError) as error:
        complete(open_of(planned, "gauges"), world.technician, NOW, details=details)
    assert list(error.value.problems) == [field]


def test_a_main_drain_test_is_held_against_the_first_and_the_last(world, planned):
    for day, psi, said in ((1, 60, None), (2, 58, "3% below"), (3, 53, "12% below")):
        at = NOW + timedelta(days=day)
        written = complete(open_of(planned, "main-drain"), world.technician, at, details=drain(psi))
        assert said is None or said in written.details["verdict"]
    assert "Against the first test" in written.details["verdict"]
    assert "investigate" in written.details["verdict"]


def test_a_gas_leakage_test_is_held_against_three_psi_in_two_hours(world, site):
    dry = make_system(site, world.owner, kind="dry", tag="NQ-300")
    adopt(site, world.owner)
    details = {
        "found": "none",
        "start_gauge_pa": 40 * PSI,
        "end_gauge_pa": 36.9 * PSI,
        "duration_s": 7200.0,
    }
    written = complete(open_of(dry, "gas-leakage"), world.technician, NOW, details=details)
    assert "over 3 psi" in written.details["verdict"]


def test_a_file_is_kept_outside_the_web_root_with_its_digest_in_the_ledger(world, planned):
    written = complete(
        open_of(planned, "gauges"), world.technician, NOW, files=[upload("Gauge 1.jpg")]
    )
    (attached,) = written.attachments.all()
    assert (attached.name, attached.content_type) == ("Gauge 1.jpg", "image/jpeg")
    assert attached.sha256 in written.details["files"]
    with attached.open() as file:
        assert file.read() == JPEG
    assert attached.stored_as.startswith(f"attachments/{planned.uuid}/")
    assert verify(links(planned)) == []


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"<html><script>alert(1)</script>", "not one of JPEG"),
        (b"", "not one of JPEG"),
        (b"MZ\x90\x00", "not one of JPEG"),
        (b"GIF89a", "not one of JPEG"),
        (JPEG + bytes(LARGEST), "larger than 10 MB"),
    ],
    ids=["page", "empty", "program", "another picture", "too large"],
)
def test_a_file_of_another_type_or_size_is_refused_and_nothing_is_kept(
    world, planned, content, said
):
    before = _stored_files()
    with pytest.raises(RecordError, match=said):
        complete(
            open_of(planned, "gauges"),
            world.technician,
            NOW,
            files=[upload("good.png", PNG), upload("photo.jpg", content)],
        )
    assert _stored_files() == before
    assert not Attachment.objects.exists()
    assert open_of(planned, "gauges").is_open


def test_files_are_taken_away_again_when_the_record_is_refused(world, planned):
    before = _stored_files()
    with pytest.raises(RecordError, match="future"):
        complete(
            open_of(planned, "gauges"),
            world.technician,
            NOW + timedelta(days=2),
            now=NOW,
            files=[upload()],
        )
    assert _stored_files() == before


def test_more_files_than_ten_are_refused(world, planned):
    with pytest.raises(RecordError, match="11 files at once"):
        complete(
            open_of(planned, "gauges"), world.technician, NOW, files=[upload() for _ in range(11)]
        )


def _stored_files():
    if not default_storage.exists("attachments"):
        return []
    folders, _ = default_storage.listdir("attachments")
    return sorted(name for f in folders for name in default_storage.listdir(f"attachments/{f}")[1])


@pytest.mark.parametrize(
    ("content", "content_type"),
    [
        (JPEG, "image/jpeg"),
        (PNG, "image/png"),
        (PDF, "application/pdf"),
        (b"RIFF\x00\x00\x00\x00WEBPVP8 ", "image/webp"),
        (b"\x00\x00\x00\x18ftypheic", "image/heic"),
        (b"\x00\x00\x00\x18ftypmp42", None),
        (b" %PDF-1.7", None),
    ],
)
def test_a_type_is_read_from_the_first_bytes(content, content_type):
    assert sniff(content) == content_type


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd", "passwd.jpg"),
        ("..\\..\\boot.ini", "boot.jpg"),
        ("C:\\photos\\riser.JPG", "riser.jpg"),
        ("riser.jpg.exe", "riser.jpg.jpg"),
        ("a\r\nSet-Cookie: x=1.jpg", "aSet-Cookie x=1.jpg"),
        ('"; rm -rf.jpg', "; rm -rf.jpg"),
        ("", "file.jpg"),
        ("...", "file.jpg"),
        ("x" * 300 + ".jpg", "x" * 100 + ".jpg"),
        ("Пожар.jpg", "Пожар.jpg"),
    ],
)
def test_a_name_is_cut_to_its_harmless_part(name, kept):
    assert plain_name(name, "image/jpeg") == kept
