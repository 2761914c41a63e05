"""Whatever depends on pipe that is missing from the register says so, and no address is forgotten.

Every address of the book is opened with systems of which rows are still to be fixed. It says
“incomplete”, or stands in a list with why it need not.
"""

import re
from datetime import UTC, datetime, time, timedelta
from io import BytesIO

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from registry.models import RowToFix, System
from registry.services.register.rows_to_fix import count_open_rows
from scheduling.calendars.tokens import issue_token
from scheduling.messages.mail import _line as mail_line
from scheduling.models import Task
from scheduling.models.tasks import WorkState
from tests.factories import make_record
from tests.test_access import ADDRESSES, MEANING, OK
from tests.world_objects import make_objects

pytestmark = pytest.mark.thorough

SAYS_SO = {
    "registry:site", "registry:system", "registry:run-plan", "registry:drain-down",
    "registry:run", "registry:assumptions", "scheduling:work",
    "scheduling:task", "scheduling:day", "scheduling:week", "scheduling:month", "scheduling:feed",
    "scheduling:schedule", "scheduling:impairments", "scheduling:order-inerting",
    "reports:portfolio", "reports:portfolio-csv", "reports:certificate",
    "reports:risk", "reports:risk-pdf", "reports:risk-case", "reports:matrix",
    "reports:portfolio-report", "reports:portfolio-report-pdf", "reports:site-report",
    "reports:site-report-pdf", "reports:order-sheet", "reports:day-sheets", "reports:hand-over",
}  # fmt: skip
# Nothing there rests on how much pipe a system has: single records and their proofs, forms that
# take down what somebody saw, settings of owners and people, and the import itself.
NEED_NOT = {
    "records as they were written": {
        "registry:record", "registry:attachment", "reports:ledger", "reports:ledger-csv",
        "reports:audit", "reports:audit-csv", "reports:proof", "reports:checkpoint",
        "reports:package", "reports:packages", "reports:package-file",
        "reports:certificate-proof", "scheduling:inspection", "scheduling:attachment",
        "scheduling:heads", "reports:demanded", "reports:shared", "reports:shared-file",
    },
    "forms for what was seen, done or is known": {
        "registry:record-choose", "registry:record-new", "registry:record-correct",
        "registry:record-withdraw", "registry:attachment-take-back",
        "registry:run-correct", "registry:pipe-new",
        "registry:pipe-correct", "registry:fitting-new", "registry:fitting-edit",
        "registry:system-new", "registry:system-edit", "registry:site-new", "registry:site-edit",
        "registry:building-new", "registry:building-edit", "registry:contract-new",
        "registry:contract-edit",  "scheduling:task-hand-over",
        "scheduling:occurrence-complete", "scheduling:occurrence-skip",
        "scheduling:inspection-withdraw", "scheduling:impairment-start",
        "scheduling:impairment-end", "scheduling:last-done", "scheduling:schedule-answers",
        "scheduling:sprinklers-new", "scheduling:sprinklers-edit", "scheduling:site-winter",
        "scheduling:site-edition", "registry:run-gas", "registry:run-photo", "registry:run-sign",
        "registry:told", "registry:told-confirm",
    },
    "the sign: a set-point and valves, which no length changes": {
        "registry:at-sign", "registry:at-sign-drain", "registry:at-sign-tell",
        "reports:riser-sign", "reports:riser-sign-settings",
    },
    "a part of a page that says so": {"reports:risk-changed"},
    "sums over many, and what is found by name": {
        "reports:sites", "reports:find", "reports:prices", "reports:portfolio-xlsx",
    },
    "the import, which names the rows themselves, and the register as it is": {
        "registry:import-new", "registry:import", "registry:import-bad-rows",
        "registry:rows-to-fix",
        "reports:register-csv", "reports:register-xlsx",
    },
    "dates of recurring work, which no length changes": {"scheduling:due"},
    "signing in": {
        name for name in ADDRESSES if name.startswith(("account_", "mfa_", "usersessions_"))
    } - {"account_login", "account_change_password"} | {
        "registry:sign-in-log", "registry:sign-in-log-people", "registry:prove-outside",
        "socialaccount_login_cancelled", "socialaccount_connections",
    },
    "what was seen on a visit, and codes of pages that say so": {
        "reports:visit", "reports:visit-pdf", "reports:labels",
    },
    "files of reports that say so, and where they are asked for": {
        "reports:kept", "reports:kept-file",
    },
    "settings, people and the program": {
        "account_login", "registry:people", "registry:people-invite", "registry:member",
        "registry:access-log", "registry:invitation", "registry:people-second-step",
        "registry:run-worker", "registry:account", "account_change_password",
        "registry:echo", "registry:first-steps", "registry:health", "registry:ready",
        "scheduling:crews", "scheduling:rules", "scheduling:rules-owner", "scheduling:rule-edit",
        "scheduling:rule-levels", "scheduling:feeds", "scheduling:feed-revoke",
        "scheduling:messages", "scheduling:outbox", "scheduling:unsubscribe",
        "scheduling:webhooks", "scheduling:webhook", "scheduling:jobs", "scheduling:library",
        "scheduling:library-owner", "scheduling:library-new", "scheduling:library-row",
        "reports:assumptions", "scheduling:rules-acceptance", "reports:auditors",
        "reports:audit-access", "registry:phone", "scheduling:day-pages", "scheduling:planning",
        "scheduling:place-edit", "scheduling:place-building",
    },
}  # fmt: skip


@pytest.fixture
def objects(world):
    made = make_objects(world)
    now = timezone.now()
    systems = list(System.objects.all())
    for system in systems:
        RowToFix.objects.create(
            system=system, key="a", source="register.csv", row="7", wrong="no length",
            typed={}, found_at=now,
        )  # fmt: skip
    count_open_rows([system.pk for system in systems])
    book_today(now)
    return made


def book_today(now):
    day = datetime.combine(now.date(), time(12), tzinfo=UTC)
    Task.objects.filter(status=Task.Status.OPEN).update(
        starts_at=day, ends_at=day + timedelta(hours=1), time_zone="UTC",
        work_state=WorkState.BOOKED,
    )  # fmt: skip


def readable_by_owner() -> list[str]:
    return [
        name for name, rights in ADDRESSES.items()
        if "get" in rights and MEANING[rights["get"]]["owner"] == OK
    ]  # fmt: skip


def text_of(response) -> str:
    body = b"".join(response) if response.streaming else response.content
    if body.startswith(b"%PDF"):
        return " ".join(page.extract_text() for page in PdfReader(BytesIO(body)).pages)
    return body.decode().replace("\r\n ", "")


def test_every_address_that_can_be_read_is_in_one_of_the_lists():
    need_not = set().union(*NEED_NOT.values())
    readable = set(readable_by_owner())
    assert readable - SAYS_SO - need_not == set()
    assert (SAYS_SO | need_not) - readable == set()
    assert not SAYS_SO & need_not


@pytest.mark.parametrize("name", sorted(SAYS_SO))
def test_what_depends_on_the_missing_pipe_says_so(client, world, objects, name):
    client.force_login(world.owner)
    page = text_of(client.get(reverse(name, kwargs=objects.get(name, {}))))
    page = page.split("</nav>", 1)[-1]
    assert re.search(r"incomplete", page, re.I), page[:2000]


@pytest.mark.parametrize("held", ("tasks", "recurring", "impairments"))
def test_each_entry_of_a_feed_that_is_still_to_come_says_so(client, world, objects, held):
    make_record(
        System.objects.get(tag="NQ-101"), "event.impairment_start",
        timezone.now() - timedelta(hours=2), world.owner, now=timezone.now(), reason="Repair",
        areas="Hall",
    )  # fmt: skip
    _, secret = issue_token(
        user=world.owner, label=held, scope="person", now=timezone.now(), holds=(held,)
    )
    feed = text_of(client.get(reverse("scheduling:feed", kwargs={"token": secret})))
    entries = feed.split("BEGIN:VEVENT")[1:]
    still_open = [one for one in entries if "ALARM" in one or "Out of service" in one]
    assert still_open
    assert all("Incomplete:" in one for one in still_open)


def test_mail_of_an_order_says_so(world, objects):
    task = Task.objects.filter(status=Task.Status.OPEN).select_related("system").first()
    line = mail_line(task, timezone.now())
    assert line["incomplete"] == task.system.incomplete_words
    for template in ("scheduling/mail/_tasks.txt", "scheduling/mail/_tasks.html"):
        assert "Incomplete:" in render_to_string(template, {"lines": [line]})
