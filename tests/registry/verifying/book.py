"""A ledger with something of everything that is held against records, written by the services."""

from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace

from django.core.files.storage import default_storage

from registry.models import System
from registry.runs.planning import opening_answers, plan_for_system
from registry.runs.steps import RunStep
from registry.services import add_fitting, amend_fitting, amend_system, withdraw
from registry.services.runs import log_step, start_run
from registry.verifying import differences
from scheduling.verifying.attached import attachments_of
from scheduling.verifying.derived import derived_of
from tests.factories import NOW, PSI, make_pipe_run, make_record, make_system
from tests.restoration import RESTORED
from tests.scheduling.recurring_world import JPEG, PNG, adopt, complete, open_of, upload

BEGUN = NOW - timedelta(hours=4)


def make_book(world) -> SimpleNamespace:
    system = make_system(world.site, world.owner, tag="NQ-7")
    wrong = make_pipe_run(system, world.owner, length_m=90.0)
    right = make_pipe_run(system, world.owner, supersedes=wrong)
    spare = make_pipe_run(system, world.owner, nominal_size="2", role="branch_line")
    withdraw(record=spare.record, reason="Of another system", recorded_by=world.owner, now=NOW)
    fitting = add_fitting(system=system, recorded_by=world.owner, now=NOW, kind="vent", label="V1")
    amend_fitting(fitting=fitting, recorded_by=world.owner, now=NOW, location="Far end")
    amend_system(system=system, recorded_by=world.owner, now=NOW, hazard="ordinary_2")
    run = run_to_return(system, world.technician)
    out = make_record(
        system, "event.impairment_start", BEGUN + timedelta(hours=1), world.owner,
        reason="Branch line to be moved", areas="Bay 4", planned="planned",
    )  # fmt: skip
    make_record(
        system, "event.impairment_end", BEGUN + timedelta(hours=2), world.owner,
        **RESTORED, ends=str(out.sequence),
    )  # fmt: skip
    leak = datetime(2026, 6, 1, 11, tzinfo=UTC)
    make_record(system, "event.observation", leak, world.owner, text="A drip at the far end")
    adopt(world.site, world.owner)
    done = complete(
        open_of(system, "gauges"), world.technician, NOW - timedelta(minutes=5), now=NOW,
        files=[upload("Gauge 1.jpg"), upload("Gauge 2.png", PNG)],
    )  # fmt: skip
    return SimpleNamespace(
        system=System.objects.get(pk=system.pk), pipe=right, wrong=wrong, spare=spare,
        fitting=fitting, run=run, done=done,
    )  # fmt: skip


def run_to_return(system, by):
    usual = opening_answers(system, oxygen=None)
    usual |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    run = start_run(
        system=system, plan=plan_for_system(system, usual), opened_by=by, opened_at=BEGUN,
        analyser="Hand meter 3", analyser_calibrated_on=date(2026, 5, 1), now=NOW,
    )  # fmt: skip
    steps = (
        ("filled-1", {"pressure_gauge_pa": 30 * PSI}),
        ("read-1", {"n2_percent": 92.9, "where": "Far vent"}),
        ("purged-1", {"pressure_gauge_pa": 0.0, "where": "Auxiliary drain"}),
        ("filled-2", {"pressure_gauge_pa": 30 * PSI}),
        ("read-2", {"n2_percent": 98.4, "where": "Far vent"}),
        ("final_purge", {"pressure_gauge_pa": 0.0}),
        ("water_filled", {"pressure_gauge_pa": 100 * PSI}),
        ("returned", RESTORED),
    )
    for minutes, (token, details) in enumerate(steps, start=1):
        log_step(
            run=run, step=RunStep.from_token(token), details=details, recorded_by=by, is_kept=True,
            occurred_at=BEGUN + timedelta(minutes=5 * minutes), now=NOW,
        )  # fmt: skip
    return run


def found(system=None) -> list[str]:
    systems = System.objects.filter(pk=system.pk) if system else System.objects.all()
    return [one.what for one in differences(systems, more=[attachments_of, derived_of])]


def write_files(book: SimpleNamespace) -> None:
    """As they were uploaded: rows are put back for each test, and files lie on the disk."""
    for row in book.done.attachments.all():
        with default_storage.open(row.stored_as, "wb") as file:
            file.write(PNG if row.name.endswith(".png") else JPEG)
