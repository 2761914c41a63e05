"""Reports asked for once or by a schedule: one for all that is chosen, or one for each site in one
file, made by a job that says how far it is."""

import hashlib
import logging
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from tempfile import TemporaryFile
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from django.core.files import File
from django.db import transaction
from django.http import QueryDict
from django.utils.text import slugify
from django.utils.translation import gettext

from registry.jobs import ask
from registry.models import Site, System, User
from registry.translation import language_of
from reports.kept.asked import Asked
from reports.kept.choosing import Chosen, chosen_systems
from reports.kept.collecting import Collected
from reports.kept.portfolio import paper_of
from scheduling.messages.causes import note_report
from scheduling.models import MailPreference, ReportBatch, ReportKind, ReportSchedule
from scheduling.models.reports import KEPT_FOR

log = logging.getLogger(__name__)

REPORTS = "reports.kept"
EARLIEST = 6
"""By the clock of the reader: not before this hour of the day that was asked for."""
ZIP_DATE = (1980, 1, 1, 0, 0, 0)


@transaction.atomic
def ask_for_reports(
    *, person: User, kind: str, query: str, asked: Asked, now: datetime,
    schedule: ReportSchedule | None = None,
) -> ReportBatch:  # fmt: skip
    batch = ReportBatch.objects.create(
        person=person, kind=kind, query=query, as_of=asked.as_of, since=asked.since,
        known_on=asked.known_on, asked_at=now, schedule=schedule,
    )  # fmt: skip
    ask(REPORTS, key=str(batch.pk), arguments={"batch": batch.pk}, now=now)
    return batch


def make_batch(
    batch: ReportBatch, *, now: datetime, on_piece: Callable[[int], None] = lambda count: None
) -> None:
    """As the person may see the book at this moment, in the person's language and units. Made
    twice, it is the same batch."""
    with language_of(batch.person.language):
        _make(batch, now, on_piece)
    note_report(batch, now)
    forget_old(now)


def _make(batch: ReportBatch, now: datetime, on_piece: Callable[[int], None]) -> None:
    chosen = chosen_systems(batch.person, QueryDict(batch.query), now)
    batch.systems = list(chosen.keys)
    if not chosen.keys:
        batch.refused = gettext("No system is chosen, so there is nothing to report of.")
        batch.save()
    elif not batch.person.is_active:
        batch.refused = gettext("The account of whoever asked is closed.")
        batch.save()
    else:
        _write(batch, chosen, now, on_piece)


def _write(
    batch: ReportBatch, chosen: Chosen, now: datetime, on_piece: Callable[[int], None]
) -> None:
    asked = Asked(batch.as_of, batch.since, now.date(), batch.known_on, now)
    with TemporaryFile() as out:
        if batch.kind == ReportKind.SITES:
            sites = _by_site(chosen)
            batch.reports = len(sites)
            batch.save(update_fields=["reports"])
            _write_sites(out, batch, sites, asked, on_piece)
        else:
            batch.reports = 1
            out.write(_pdf(batch, chosen, asked))
            on_piece(1)
        batch.bytes = out.tell()
        out.seek(0)
        batch.sha256 = hashlib.file_digest(out, "sha256").hexdigest()
        out.seek(0)
        batch.made_at = now
        batch.file.save(f"{batch.uuid}", File(out), save=False)
        batch.save()


def _by_site(chosen: Chosen) -> list[Chosen]:
    found: dict[int, list[int]] = {}
    rows = System.objects.filter(pk__in=chosen.keys).order_by("site__name", "site", "pk")
    for system, site in rows.values_list("pk", "site"):
        found.setdefault(site, []).append(system)
    sites = Site.objects.select_related("owner").in_bulk(found)
    return [
        Chosen(tuple(keys), chosen.words, (sites[pk].owner,), sites[pk])
        for pk, keys in found.items()
    ]


def _write_sites(
    out: IO[bytes], batch: ReportBatch, sites: list[Chosen], asked: Asked,
    on_piece: Callable[[int], None],
) -> None:  # fmt: skip
    """One report in memory at a time."""
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for number, one in enumerate(sites, start=1):
            name = f"{number:03d}-{slugify(str(one.site)) or 'site'}-{asked.as_of}.pdf"
            archive.writestr(ZipInfo(name, ZIP_DATE), _pdf(batch, one, asked))
            on_piece(1)


def _pdf(batch: ReportBatch, chosen: Chosen, asked: Asked) -> bytes:
    assert asked.now is not None
    return paper_of(
        Collected(
            chosen.keys, asked, batch.person, asked.now, site=chosen.site,
            chosen_by=chosen.words, owners=chosen.owners,
        )
    ).pdf()  # fmt: skip


def give_up(arguments: dict[str, Any], words: str, now: datetime) -> None:
    """After the last attempt: the page and the mail say so."""
    batch = ReportBatch.objects.select_related("person").get(pk=arguments["batch"])
    with language_of(batch.person.language):
        batch.refused = gettext("It could not be made. {words}").format(words=words)[:300]
    batch.save(update_fields=["refused"])
    note_report(batch, now)


def due_schedules(now: datetime) -> Iterator[ReportSchedule]:
    """Those whose day has come where their reader is."""
    tomorrow = now.date() + timedelta(days=1)
    rows = ReportSchedule.objects.filter(
        is_active=True, person__is_active=True, next_on__lte=tomorrow
    ).select_related("person")
    for schedule in rows.order_by("pk"):
        local = now.astimezone(MailPreference.of(schedule.person).zone)
        early = local.date() == schedule.next_on and local.hour < EARLIEST
        if schedule.next_on <= local.date() and not early:
            yield schedule


def ask_for_due(now: datetime) -> int:
    """One batch for each schedule that is due, compared with the last; after a standstill one, and
    not one for each day that was missed. Of two workers one asks."""
    return sum(_ask_one(schedule, now) for schedule in due_schedules(now))


@transaction.atomic
def _ask_one(schedule: ReportSchedule, now: datetime) -> bool:
    today = now.date()
    since = schedule.last_on if schedule.last_on and schedule.last_on < today else None
    taken = ReportSchedule.objects.filter(
        pk=schedule.pk, is_active=True, next_on=schedule.next_on
    ).update(next_on=_next(schedule, now), last_on=today)
    if not taken:
        return False
    asked = Asked.of_today(now, since)  # the first tells of a year, as one asked for by hand
    ask_for_reports(
        person=schedule.person, kind=schedule.kind, query=schedule.query, asked=asked, now=now,
        schedule=schedule,
    )  # fmt: skip
    return True


def _next(schedule: ReportSchedule, now: datetime) -> date:
    return schedule.after(now.astimezone(MailPreference.of(schedule.person).zone).date())


def forget_old(now: datetime) -> None:
    """Files go after a while; that they were made stays."""
    for batch in ReportBatch.objects.filter(made_at__lt=now - KEPT_FOR).exclude(file=""):
        batch.file.delete(save=False)
        ReportBatch.objects.filter(pk=batch.pk).update(file="")
