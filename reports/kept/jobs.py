"""The jobs of reports that people keep."""

from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from registry.jobs import HOUR, Every, Run, job
from reports.kept import batches
from scheduling.models import ReportBatch


@job(
    batches.REPORTS,
    _("Reports to keep"),
    time_limit=timedelta(hours=2),
    given_up=lambda row, words: batches.give_up(row.arguments, words, timezone.now()),
)
def make_reports(run: Run) -> None:
    batch = ReportBatch.objects.select_related("person").get(pk=run.arguments["batch"])
    if not batch.is_over:
        batches.make_batch(batch, now=run.clock(), on_piece=run.advance)
    run.outcome = batch.refused or f"{batch.reports} reports, {batch.bytes} bytes"


@job(
    "reports.due",
    _("Reports by schedule"),
    every=Every(HOUR),
    is_idle=lambda now: next(batches.due_schedules(now), None) is None,
)
def ask_for_due(run: Run) -> None:
    asked = batches.ask_for_due(run.clock())
    run.advance(asked)
    run.outcome = f"{asked} reports asked for"
