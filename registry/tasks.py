"""Jobs of the register: what is too long for a request."""

from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.utils.translation import gettext_lazy as _

from registry.backup.making import NAME, back_up, keep_latest
from registry.imports import jobs
from registry.jobs import DAY, HOUR, MINUTE, Every, Run, job
from registry.jobs.claims import forget_old
from registry.models import Organisation
from registry.services.access import inviting
from registry.services.log import number_and_checkpoint
from registry.services.owner_ledger import begin_missing
from registry.services.register.policies import POLICY_CHANGED, policy_changed
from registry.services.witnessing import ask_witnesses
from registry.signing_in import journal


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


@job("registry.log_records", _("Numbering and signing"), every=Every(HOUR), time_limit=HOUR)
def log_records(run: Run) -> None:
    """Hourly: committed records get their number, and what there is is signed."""
    begin_missing(run.clock())
    done = number_and_checkpoint(run.clock(), run.advance)
    cosigned = sum(ask_witnesses(checkpoint, run.clock()) for _owner, _added, checkpoint in done)
    added = sum(added for _owner, added, _checkpoint in done)
    run.outcome = f"{added} records put into the log; cosignatures collected: {cosigned}"


@job(inviting.MAIL, _("Mail with an invitation"), time_limit=5 * MINUTE, attempts=5)
def mail_invitation(run: Run) -> None:
    run.outcome = inviting.send_mail(run.arguments["invitation"], run.clock())


@job("registry.tidy", _("Tidying"), every=Every(DAY, 3 * 60 * MINUTE + 30 * MINUTE))
def tidy(run: Run) -> None:
    jobs_gone = forget_old(run.clock())
    shortened, gone = journal.forget_old(run.clock())
    Session.objects.filter(expire_date__lt=run.clock()).delete()
    run.outcome = (
        f"{jobs_gone} old jobs forgotten; of the log of sign-ins {shortened} addresses shortened, "
        f"{gone} rows taken away"
    )


@job(POLICY_CHANGED, _("Another target"), time_limit=HOUR)
def derive_by_policy(run: Run) -> None:
    """Every system of an owner whose target was changed is judged by the new one."""
    policy_changed(Organisation.objects.get(pk=run.arguments["owner"]), now=run.clock())


@job("registry.backup", _("Backup"), every=Every(DAY, 2 * HOUR + 30 * MINUTE), time_limit=2 * HOUR)
def backup(run: Run) -> None:
    """Nightly, into a folder of its own; the oldest go."""
    folder, now = Path(settings.BACKUP_DIR), run.clock()
    name = NAME.format(now)
    manifest = back_up(folder / name, now)
    gone = keep_latest(folder, settings.BACKUPS_KEPT)
    run.outcome = f"{manifest.records} records in {name}; {gone} older ones removed"
