"""One of everything at the world's site, and which address needs which of it."""

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

from django.core.files.base import ContentFile
from django.utils import timezone

from registry.models import ImportBatch, RecordPackage
from registry.runs.planning import opening_answers, plan_for_system
from registry.runs.steps import FILLED, PURGED, READ, RunStep
from registry.services import add_fitting
from registry.services.desk import save_view
from registry.services.runs import log_step, start_run
from registry.services.sharing import share_package
from scheduling.calendars.tokens import issue_token
from scheduling.models import ReportBatch, ReportSchedule, Task
from tests.factories import NOW, PSI, make_building, make_pipe_run, make_record, make_system
from tests.registry.people_world import people_objects
from tests.registry.second_step_world import second_step_objects
from tests.registry.sign_world import sign_objects
from tests.scheduling.message_world import message_objects
from tests.scheduling.orders_world import order_objects
from tests.scheduling.recurring_world import recurring_objects

HEADINGS = "Site,Building,System tag,Type,Pipe role,Material,Schedule,Nominal size,Length,Installed"
VISITED = "2026-05-31"  # the day before, on which the work of `recurring_objects` was done
BAD_ROW = "North Quay,Shed,NQ-900,wet,riser,black steel,40,6,abc,2001-05-14"


def make_run(system, by, opened_at, readings: tuple[float, ...] = (92.0,)):
    """A run with these readings, each after a fill to the planned pressure."""
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    run = start_run(
        system=system,
        plan=plan_for_system(system, answers),
        opened_by=by,
        opened_at=opened_at,
        analyser="Bench analyser",
        now=NOW,
    )
    for number, (step, details) in enumerate(_steps(readings), start=1):
        log_step(
            run=run, step=step, details=details, recorded_by=by, now=NOW, is_kept=True,
            occurred_at=opened_at + timedelta(minutes=20 * number),
        )  # fmt: skip
    return run


def _steps(readings: tuple[float, ...]):
    for fill, n2_percent in enumerate(readings, start=1):
        if fill > 1:
            yield RunStep(PURGED, fill - 1), {"pressure_gauge_pa": 0.0}
        yield RunStep(FILLED, fill), {"pressure_gauge_pa": 30 * PSI}
        yield RunStep(READ, fill), {"n2_percent": n2_percent}


def make_objects(world) -> dict[str, dict[str, Any]]:
    """Arguments for each address that takes any."""
    made = _made(world)
    site, system, run = {"pk": made.site.pk}, {"pk": made.system.pk}, {"pk": made.run.pk}
    record, batch = {"pk": made.record.pk}, {"pk": made.batch.pk}
    reading = made.run.records.get(kind=READ)
    return {
        "registry:begin": {"code": "not-the-code"},
        "scheduling:outbox-mail": {"name": "20260101T000000-0"},
        **people_objects(world),
        "registry:site": site,
        "registry:site-edit": site,
        "registry:building-new": site,
        "registry:building-edit": site | {"building_pk": made.building.pk},
        "registry:contract-new": site,
        "registry:contract-edit": site | {"contract_pk": made.contract.pk},
        "registry:system-new": site,
        "registry:system": system,
        "registry:system-edit": system,
        "registry:pipe-new": system,
        "registry:pipe-correct": {"pk": made.pipe_run.pk},
        "registry:fitting-new": system,
        "registry:fitting-edit": {"pk": made.fitting.pk},
        "registry:record-choose": system,
        "registry:record-new": system | {"kind": "event.drain_down"},
        "registry:record": record,
        "registry:record-correct": record,
        "registry:record-withdraw": record,
        "registry:run-plan": system,
        "registry:drain-down": system,
        "registry:run": run,
        "registry:run-step": run,
        "registry:run-stop": run,
        "registry:run-gas": run,
        "registry:run-photo": run,
        "registry:run-sign": {"pk": made.accepted_run.pk},
        "registry:run-correct": run | {"record_pk": reading.pk},
        "registry:import": batch,
        "registry:import-load": batch,
        "registry:import-take-back": batch,
        "registry:rows-to-fix": system,
        "registry:import-bad-rows": batch,
        "scheduling:task": {"pk": made.task.pk},
        "scheduling:feed-revoke": {"pk": made.feed.pk},
        "scheduling:feed": {"token": made.secret},
        **sign_objects(world, made.accepted_run.system),
        **message_objects(world),
        **second_step_objects(world),
        **recurring_objects(world, made.system),
        **order_objects(world, made.task),
        "registry:assumptions": system,
        "scheduling:order-inerting": system,
        "reports:prices": {"pk": world.owner_organisation.pk},
        "reports:view-drop": {"uuid": made.view.uuid},
        "reports:risk": system,
        "reports:risk-pdf": system,
        "reports:risk-case": system,
        "reports:risk-changed": system,
        "reports:site-report": site,
        "reports:site-report-pdf": site,
        "reports:kept-file": {"uuid": _report(world, made.system).uuid},
        "reports:kept-schedule-end": {"pk": _report_schedule(world).pk},
        "reports:visit": site | {"on": VISITED},
        "reports:visit-pdf": site | {"on": VISITED},
        "reports:labels": site,
        "reports:hand-over": {"pk": made.accepted_run.pk},
        "reports:order-sheet": {"pk": made.task.pk},
        "reports:ledger": system,
        "reports:ledger-csv": system,
        "reports:packages": {"pk": world.owner_organisation.pk},
        "reports:checkpoint": {"pk": world.owner_organisation.pk},
        "reports:package": {"uuid": made.package.uuid},
        "reports:package-file": {"uuid": made.package.uuid},
        "reports:package-share": {"uuid": made.package.uuid},
        "reports:package-unshare": {"uuid": made.package.uuid, "pk": made.link[0].pk},
        "reports:shared": {"secret": made.link[1]},
        "reports:shared-file": {"secret": made.link[1]},
        "reports:auditors": {"pk": world.owner_organisation.pk},
        "reports:audit-access": {
            "pk": world.owner_organisation.pk,
            "access_pk": world.owner_organisation.audit_access_given.get().pk,
        },
        "reports:audit-access-end": {
            "pk": world.owner_organisation.pk,
            "access_pk": world.owner_organisation.audit_access_given.get().pk,
        },
        "reports:register-csv": {"pk": world.owner_organisation.pk},
        "reports:register-xlsx": {"pk": world.owner_organisation.pk},
        "reports:certificate": {"pk": made.accepted_run.pk},
        "reports:certificate-proof": {"pk": made.accepted_run.pk},
    }


def _made(world) -> SimpleNamespace:
    system = make_system(world.site, world.owner, tag="NQ-101")
    accepted = make_system(world.site, world.owner, tag="NQ-102")
    for each in (system, accepted):
        pipe_run = make_pipe_run(each, world.owner)
    feed, secret = issue_token(user=world.owner, label="Mine", scope="person", now=NOW)
    record = make_record(system, "event.head_break", NOW - timedelta(days=9), world.owner, count=1)
    return SimpleNamespace(
        site=world.site,
        building=make_building(world.site),
        contract=world.site.service_contracts.get(),
        system=system,
        pipe_run=pipe_run,
        fitting=add_fitting(system=system, recorded_by=world.owner, now=NOW, kind="vent"),
        record=record,
        task=Task.objects.get(system=system, kind="reinerting_order"),
        run=make_run(system, world.technician, NOW - timedelta(days=2)),
        accepted_run=make_run(accepted, world.technician, NOW - timedelta(days=3), (93.0, 99.0)),
        batch=_batch(world),
        package=(package := _package(world)),
        link=share_package(
            package=package, label="Insurer", days=14, made_by=world.owner, now=package.made_at
        ),
        feed=feed,
        secret=secret,
        view=save_view(
            organisation=world.owner_organisation, name="Dry side", query="kind=dry",
            by=world.owner, now=NOW,
        ),
    )  # fmt: skip


def _package(world) -> RecordPackage:
    return RecordPackage.objects.create(
        owner=world.owner_organisation,
        asked_by=world.owner,
        asked_at=timezone.now(),
        made_at=timezone.now(),
        file=ContentFile(b"PK", name="records.zip"),
    )


def _report(world, system) -> ReportBatch:
    day = timezone.now().date()
    return ReportBatch.objects.create(
        person=world.owner, kind="portfolio", as_of=day, since=day - timedelta(days=365),
        asked_at=timezone.now(), made_at=timezone.now(), systems=[system.pk], reports=1,
        file=ContentFile(b"%PDF-1.7", name="report.pdf"),
    )  # fmt: skip


def _report_schedule(world) -> ReportSchedule:
    return ReportSchedule.objects.create(
        person=world.owner,
        kind="portfolio",
        rhythm="weekly",
        day=1,
        created_at=timezone.now(),
        next_on=timezone.now().date() + timedelta(days=3),
    )


def _batch(world) -> ImportBatch:
    content = f"{HEADINGS}\n{BAD_ROW}\n".encode()
    return ImportBatch.objects.create(
        owner=world.owner_organisation,
        uploaded_by=world.owner,
        uploaded_at=NOW,
        file=ContentFile(content, name="register.csv"),
        file_name="register.csv",
        to_fix_file=ContentFile(content, name="fix.csv"),
        state=ImportBatch.State.CHECKED,
    )
