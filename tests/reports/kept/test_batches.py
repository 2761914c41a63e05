"""Reports made by a job: one or one for each site, told by mail, and coming by themselves."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone, translation

from registry.models import Job
from reports.kept import batches
from reports.kept.asked import Asked
from reports.kept.batches import ask_for_due, ask_for_reports, make_batch
from reports.kept.jobs import make_reports
from scheduling.messages import sending
from scheduling.models import MailPreference, Message, ReportBatch, ReportSchedule
from tests.factories import make_pipe_run, make_site, make_system
from tests.reports.kept.reading import reader_of, squeezed, text_in, text_of

NAMES = ("north-quay", "quay-0", "quay-1", "quay-2", "quay-3")


def asked_for(person, kind="portfolio", query="", now=None):
    now = now or timezone.now()
    return ask_for_reports(
        person=person, kind=kind, query=query, asked=Asked.of_today(now), now=now
    )


def content_of(batch) -> bytes:
    with batch.file.open("rb") as file:
        return file.read()


@pytest.fixture
def sites(world, system):
    found = [world.site]
    for number in range(4):
        site = make_site(world.owner_organisation, name=f"Quay {number}")
        make_pipe_run(make_system(site, world.owner, tag=f"Q{number}-1"), world.owner)
        found.append(site)
    return found


def weekly(person, day=1, **facts):
    facts = {"next_on": date(2026, 6, 1), "created_at": timezone.now(), **facts}
    return ReportSchedule.objects.create(
        person=person, kind="portfolio", rhythm="weekly", day=day, **facts
    )


class Running:
    """As much of a run as the job asks of one."""

    def __init__(self, arguments):
        self.arguments, self.done, self.outcome = arguments, 0, ""

    def clock(self):
        return timezone.now()

    def advance(self, pieces=1):
        self.done += pieces


def test_one_report_for_each_site_with_its_progress(world, sites):
    asked_for(world.owner, "sites")
    run = Running(Job.objects.get(kind=batches.REPORTS).arguments)
    make_reports(run)
    batch = ReportBatch.objects.get()
    assert run.done == batch.reports == 5 and f"5 reports, {batch.bytes} bytes" == run.outcome
    with ZipFile(BytesIO(content_of(batch))) as archive:
        papers = {name: text_of(archive.read(name)) for name in archive.namelist()}
    assert len(papers) == 5
    quay = next(text for name, text in papers.items() if "-quay-2-" in name)
    assert "Q2-1" in quay and "Q1-1" not in quay
    assert set(papers) == {f"{n:03d}-{s}-{batch.as_of}.pdf" for n, s in enumerate(NAMES, 1)}


def test_a_batch_made_twice_tells_once(world, system):
    batch = asked_for(world.owner)
    for _ in range(2):
        make_batch(batch, now=timezone.now())
    assert Message.objects.filter(kind="report").count() == 1


def test_the_mail_carries_the_report(world, system):
    batch = asked_for(world.owner)
    make_batch(batch, now=timezone.now())
    sending.send_due(timezone.now)
    (sent,) = [one for one in mail.outbox if one.to == [world.owner.email]]
    ((name, content, kind),) = [one for one in sent.attachments if one[2] == "application/pdf"]
    assert name == batch.file_name and content == content_of(batch)
    assert "NQ-101" in text_of(content) and reverse("reports:kept") in sent.body


def test_who_lost_the_right_to_see_a_system_gets_neither_mail_nor_file(client, world, system):
    batch = asked_for(world.viewer)
    make_batch(batch, now=timezone.now())
    world.viewer.memberships.all().delete()
    client.force_login(world.viewer)
    assert client.get(reverse("reports:kept-file", args=[batch.uuid])).status_code == 404
    sending.send_due(timezone.now)
    assert not [one for one in mail.outbox if one.to == [world.viewer.email]]


def test_nothing_chosen_and_a_job_given_up_are_told(world, system):
    nothing = asked_for(world.owner, query="kind=deluge")
    make_batch(nothing, now=timezone.now())
    assert nothing.refused.startswith("No system is chosen")
    lost = asked_for(world.owner)
    batches.give_up({"batch": lost.pk}, "It took too long.", timezone.now())
    lost.refresh_from_db()
    assert lost.refused == "It could not be made. It took too long." and lost.is_over
    assert Message.objects.filter(kind="report").count() == 2


@pytest.mark.parametrize(
    ("rhythm", "day", "today", "wanted"),
    [
        ("weekly", 1, date(2026, 6, 1), date(2026, 6, 8)),  # a Monday: the next one
        ("weekly", 7, date(2026, 6, 1), date(2026, 6, 7)),
        ("weekly", 3, date(2026, 12, 31), date(2027, 1, 6)),
        ("monthly", 28, date(2026, 2, 28), date(2026, 3, 28)),
        ("monthly", 15, date(2026, 1, 31), date(2026, 2, 15)),
        ("monthly", 1, date(2026, 12, 31), date(2027, 1, 1)),
        ("monthly", 5, date(2026, 6, 4), date(2026, 6, 5)),
    ],
)
def test_the_next_day_of_a_schedule(rhythm, day, today, wanted):
    assert ReportSchedule(rhythm=rhythm, day=day).after(today) == wanted


def test_a_schedule_asks_once_when_its_morning_has_come(world, system):
    MailPreference.objects.create(person=world.owner, time_zone="America/Chicago")
    schedule = weekly(world.owner)
    too_early = datetime(2026, 6, 1, 10, 59, tzinfo=UTC)  # 05:59 there
    assert ask_for_due(too_early) == 0
    assert ask_for_due(too_early + timedelta(minutes=1)) == 1
    assert ask_for_due(too_early + timedelta(minutes=2)) == 0
    schedule.refresh_from_db()
    assert (schedule.next_on, schedule.last_on) == (date(2026, 6, 8), date(2026, 6, 1))
    batch = ReportBatch.objects.get()
    assert batch.schedule == schedule and batch.since == date(2025, 6, 1)


def test_the_next_report_is_compared_with_the_last_and_a_standstill_makes_one(world, system):
    weekly(world.owner, last_on=date(2026, 5, 25))
    assert ask_for_due(datetime(2026, 6, 25, 12, tzinfo=UTC)) == 1
    batch = ReportBatch.objects.get()
    assert (batch.since, batch.as_of) == (date(2026, 5, 25), date(2026, 6, 25))
    assert ReportSchedule.objects.get().next_on == date(2026, 6, 29)


def test_a_person_sets_a_schedule_and_ends_it(client, world, system):
    client.force_login(world.owner)
    address = reverse("reports:kept") + "?kind=wet&nonsense=1"
    wrong = client.post(address, {"kind": "sites", "rhythm": "weekly", "day": "9"})
    assert wrong.status_code == 422 and "A week has no day 9" in text_in(wrong)
    client.post(address, {"kind": "sites", "rhythm": "weekly", "day": "5"})
    schedule = ReportSchedule.objects.get()
    assert (schedule.person, schedule.query, schedule.next_on.isoweekday()) == (
        world.owner, "kind=wet", 5,
    )  # fmt: skip
    client.post(reverse("reports:kept-schedule-end", args=[schedule.pk]))
    assert ask_for_due(timezone.now() + timedelta(days=30)) == 0


def test_a_report_is_asked_for_on_the_page_and_fetched(client, world, system):
    client.force_login(world.owner)
    address = reverse("reports:kept")
    wrong = client.post(address, {"kind": "portfolio", "as_of": "2999-01-01"})
    assert wrong.status_code == 422 and "This day has not come" in text_in(wrong)
    client.post(address, {"kind": "portfolio", "as_of": "2026-05-01"})
    batch = ReportBatch.objects.get()
    assert "It waits for the worker." in text_in(client.get(address))
    make_batch(batch, now=timezone.now())
    assert "Fetch it" in text_in(client.get(address))
    response = client.get(reverse("reports:kept-file", args=[batch.uuid]))
    assert b"".join(response.streaming_content) == content_of(batch)


def test_files_go_after_a_while_and_that_they_were_made_stays(world, system):
    batch = asked_for(world.owner)
    make_batch(batch, now=timezone.now())
    batches.forget_old(timezone.now() + timedelta(days=61))
    batch.refresh_from_db()
    assert not batch.file and batch.made_at and batch.sha256


def test_it_comes_in_the_language_units_and_size_of_whoever_it_is_sent_to(world, sites):
    """A4 is 210 mm wide (ISO 216), Letter 8.5 in; a point is 1/72 in."""
    for language, units, words, width in (
        ("es", "si", "Informe de la cartera", 210 / 25.4 * 72),
        ("", "us", "Portfolio report", 8.5 * 72),
    ):
        world.owner.language, world.owner.display_units = language, units
        world.owner.save()
        batch = asked_for(world.owner)
        mail.outbox.clear()
        with translation.override("en"):  # as a worker runs
            make_reports(Running({"batch": batch.pk}))
            sending.send_due(timezone.now)
        batch.refresh_from_db()
        pdf = content_of(batch)
        assert squeezed(words) in text_of(pdf)
        assert float(reader_of(pdf).pages[0].mediabox.width) == pytest.approx(width, abs=0.5)
        (sent,) = mail.outbox
        assert ("Your report" in sent.subject) == (language == "")
        assert sent.attachments[0][1] == pdf
