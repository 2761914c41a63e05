"""Jobs of the register: what is too long for a request."""

from datetime import timedelta

from django.utils.translation import gettext_lazy as _

from registry.imports import jobs
from registry.jobs import DAY, MINUTE, Every, Run, job
from registry.jobs.claims import forget_old


@job(
    jobs.ADVANCE,
    _("Import"),
    time_limit=timedelta(hours=2),
    memory_mb=1024,
    given_up=lambda row, words: jobs.give_up(row.arguments["batch"], words),
)
def advance_import(run: Run) -> None:
    jobs.advance(run.arguments["batch"], is_alone=True)


@job("registry.sweep_imports", _("Imports left behind"), every=Every(5 * MINUTE))
def sweep_imports(run: Run) -> None:
    run.outcome = f"{jobs.sweep(run.clock())} imports taken up"


@job("registry.tidy", _("Tidying"), every=Every(DAY, 3 * 60 * MINUTE + 30 * MINUTE))
def tidy(run: Run) -> None:
    run.outcome = f"{forget_old(run.clock())} old jobs forgotten"
