from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from registry.imports import jobs
from registry.imports.answers import Answers
from registry.imports.problems import ImportFileError
from registry.jobs import claims
from registry.models import ImportBatch, Membership, PipeRun
from tests.jobs import run_waiting

from .conftest import NOW, plain_register

State = ImportBatch.State


@pytest.fixture
def receive(world):
    def upload(name="register-messy.csv", content=None):
        content = content or plain_register()
        return jobs.receive(
            owner=world.owner_organisation,
            uploaded_by=world.owner,
            upload=SimpleUploadedFile(name, content),
            now=NOW,
        )

    return upload


@pytest.fixture
def _everything_is_large(monkeypatch):
    """Nothing runs inline; nothing is sent to a broker, as tests never come to the commit."""
    monkeypatch.setattr(jobs, "INLINE_ROWS", 3)


def test_a_small_file_is_read_at_once_and_loaded_on_demand(receive, world):
    batch = receive()
    assert (batch.state, batch.outcome["new"], batch.outcome["to_fix"]) == (State.CHECKED, 8, 24)
    assert PipeRun.objects.count() == 0
    assert jobs.load(batch, loaded_by=world.owner, now=NOW)
    assert batch.state == State.LOADED
    assert PipeRun.objects.count() == 8
    assert "forty feet" in Path(batch.to_fix_file.path).read_text("utf-8-sig")


def test_a_file_that_is_no_register_is_refused_and_not_kept(receive, settings):
    with pytest.raises(ImportFileError, match="no table"):
        receive("letter.csv", b"Dear all,\nhow are you?\n")
    assert ImportBatch.objects.count() == 0
    assert [p for p in settings.MEDIA_ROOT.rglob("*") if p.is_file()] == []


def test_the_name_a_person_gave_is_never_a_path(receive):
    batch = receive("../../secrets.csv")
    assert batch.file_name == "secrets.csv"
    assert batch.file.name.startswith("imports/")
    assert "secrets" not in batch.file.name


def test_loading_a_second_time_at_once_is_refused(receive, world):
    batch = receive()
    ImportBatch.objects.filter(pk=batch.pk).update(state=State.LOADING, heartbeat_at=NOW)
    assert not jobs.load(batch, loaded_by=world.owner, now=NOW)
    assert PipeRun.objects.count() == 0


def test_answers_are_kept_and_the_file_is_read_again(receive):
    batch = receive()
    question = next(q for q in batch.outcome["questions"] if q["name"].startswith("hazard:"))
    jobs.answer(batch, Answers(date_order="dmy", choices={question["name"]: "ordinary_1"}))
    assert batch.outcome["new"] == 8 + 2 + 1  # the two rows of the conflict and the dated one
    assert Answers.from_json(batch.answers).date_order == "dmy"


def test_answers_that_come_while_the_file_is_loaded_do_not_stop_the_loading(receive):
    batch = receive()
    seen = ImportBatch.objects.get(pk=batch.pk)
    ImportBatch.objects.filter(pk=batch.pk).update(state=ImportBatch.State.LOADING)
    jobs.answer(seen, Answers(date_order="dmy"))
    batch.refresh_from_db()
    assert (batch.state, batch.answers) == (ImportBatch.State.LOADING, {})


@pytest.mark.usefixtures("_everything_is_large")
def test_a_large_file_waits_for_a_worker_and_shows_how_far_it_is(receive, monkeypatch):
    batch = receive()
    assert batch.state == State.CHECK_WAITING
    monkeypatch.setattr(jobs, "REPORT_EVERY", 1)
    run_waiting(jobs.ADVANCE)
    batch.refresh_from_db()
    assert batch.state == State.CHECKED
    assert (batch.rows_total, batch.rows_read, batch.percent_read) == (32, 64, 100)


@pytest.mark.usefixtures("_everything_is_large")
def test_two_workers_do_not_take_the_same_step(receive):
    batch = receive()
    assert jobs._claim(batch.pk) is not None
    assert jobs._claim(batch.pk) is None


@pytest.mark.usefixtures("_everything_is_large")
def test_the_sweep_takes_up_what_a_dead_worker_left(receive, world):
    batch = receive()
    jobs.advance(batch.pk)
    batch.refresh_from_db()
    jobs.load(batch, loaded_by=world.owner, now=NOW)
    dead_since = NOW - timedelta(days=1)
    ImportBatch.objects.filter(pk=batch.pk).update(state=State.LOADING, heartbeat_at=dead_since)
    assert jobs.sweep(NOW) == 1
    run_waiting(jobs.ADVANCE)
    assert jobs.sweep(NOW) == 0
    batch.refresh_from_db()
    assert (batch.state, PipeRun.objects.count()) == (State.LOADED, 8)


@pytest.mark.usefixtures("_everything_is_large")
def test_a_job_that_died_while_it_read_is_taken_up_without_waiting(receive):
    batch = receive()
    assert jobs._claim(batch.pk) is not None  # and died
    run_waiting(jobs.ADVANCE)
    batch.refresh_from_db()
    assert batch.state == State.CHECKED


@pytest.mark.usefixtures("_everything_is_large")
def test_an_import_that_is_given_up_says_so_and_is_not_taken_up_again(receive):
    batch = receive()
    claims.give_up(claims.claim(timezone.now(), "a:1"), "It needed more than 1024 MB.", NOW)
    batch.refresh_from_db()
    assert (batch.state, batch.error[:28]) == (State.FAILED, "It needed more than 1024 MB.")
    assert "tried three times" in batch.error
    assert jobs.sweep(NOW) == 0


@pytest.mark.usefixtures("_everything_is_large")
def test_rights_are_asked_again_when_the_work_is_done(receive, world):
    batch = receive()
    jobs.advance(batch.pk)
    batch.refresh_from_db()
    jobs.load(batch, loaded_by=world.owner, now=NOW)
    Membership.objects.filter(user=world.owner).update(role="reader")
    jobs.advance(batch.pk)
    batch.refresh_from_db()
    assert batch.state == State.FAILED
    assert "no longer manages" in batch.error
    assert PipeRun.objects.count() == 0


def test_a_fault_of_the_program_is_told_and_the_file_can_be_read_again(receive, monkeypatch, world):
    batch = receive()

    def fail(*args, **kwargs):
        raise ZeroDivisionError

    with monkeypatch.context() as broken:
        broken.setattr(jobs, "run_import", fail)
        with pytest.raises(ZeroDivisionError):
            jobs.load(batch, loaded_by=world.owner, now=NOW)
    batch.refresh_from_db()
    assert (batch.state, batch.error) == (State.FAILED, jobs.UNEXPECTED)
    jobs.answer(batch, Answers())
    assert batch.state == State.CHECKED
