"""What shuts the book to the wrong people, each tried as it was once got through."""

import csv
import logging
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO, StringIO
from uuid import uuid4

import pytest
from django import forms
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone
from openpyxl import load_workbook

from registry.forms.plain_text import SEVERAL_LINES
from registry.imports.text import as_typed, harmless
from registry.jobs import claims
from registry.jobs.asking import ask
from registry.models import Record, RowToFix, Telling
from scheduling.calendars.tokens import issue_token
from scheduling.jobs import kinds
from scheduling.models import FeedToken
from tests.factories import NOW, make_pipe_run, make_record, make_system
from tests.registry.services.test_runs import begin
from tests.registry.sign_world import hang_sign, told
from tests.scheduling.ledger import accept

pytestmark = pytest.mark.django_db

INVISIBLE = ["\x00", "\x07", "\x1b[31m", "\x7f", "\x85", "\u202e", "\u2066", "\ufeff"]


# Feed labels


@pytest.mark.parametrize("label", ["Work\nX: y", "Work\r\nSet-Cookie: a=b", "Work\tshop"])
def test_a_feed_label_with_a_line_break_is_refused_and_serves_where_it_was_kept(
    client, world, label
):
    client.force_login(world.technician)
    answers = {"label": label, "scope": "person", "holds": ["tasks"]}
    page = client.post(reverse("scheduling:feed-new"), answers)
    assert "on one line" in str(page.context["form"].errors["label"])
    assert not FeedToken.objects.exists()
    _, secret = issue_token(user=world.technician, label=label, scope="person", now=timezone.now())
    feed = Client().get(reverse("scheduling:feed", args=[secret]))
    assert feed.status_code == 200 and "Set-Cookie" not in feed
    assert not any(line.startswith("Set-Cookie") for line in feed.text.splitlines())


# One key, two systems


def test_one_client_key_begins_a_run_on_each_of_two_systems(world):
    key = uuid4()
    systems = [make_system(world.site, world.owner, tag=tag) for tag in ("A-1", "A-2")]
    for system in systems:
        make_pipe_run(system, world.owner)
    runs = [begin(system, world.technician, key=key) for system in systems]
    assert [run.system for run in runs] == systems
    assert begin(systems[0], world.technician, key=key) == runs[0]


def test_one_client_key_told_at_two_signs_is_told_at_both(world):
    key = uuid4()
    systems = [make_system(world.site, world.owner, tag=tag) for tag in ("A-1", "A-2")]
    for system in systems:
        accept(system, NOW - timedelta(days=5))
    signs = [hang_sign(system, world.owner).sign for system in systems]
    heard = [told(sign, client_key=key, words="A leak") for sign in signs]
    assert [one.record.system for one in heard] == systems
    assert told(signs[0], client_key=key, words="A leak") == heard[0]
    assert Telling.objects.count() == 2


@pytest.mark.parametrize("kind", ["event.leak", "event.observation"])
def test_one_client_key_records_on_each_of_two_systems(client, world, kind):
    client.force_login(world.owner)
    key = str(uuid4())
    for tag in ("A-1", "A-2"):
        system = make_system(world.site, world.owner, tag=tag)
        address = reverse("registry:record-new", args=[system.pk, kind])
        answers = {"client_key": key, "occurred_at": "2026-05-30 10:00", "note": "Seen"}
        page = client.post(address, answers | {"form": "pinhole", "text": "Seen", "words": "Seen"})
        assert page.status_code < 500


# Signs that nobody types


def all_forms(base: type = forms.BaseForm) -> Iterator[type]:
    for form in base.__subclasses__():
        if form.__module__.split(".")[0] in ("registry", "scheduling", "reports"):
            yield form
        yield from all_forms(form)


get_resolver().url_patterns  # noqa: B018  # every view is read, and every form with them
TEXTS = sorted(
    {
        (f"{form.__module__}.{form.__name__}", name)
        for form in all_forms()
        for name, field in getattr(form, "base_fields", {}).items()
        if isinstance(field, forms.CharField)
    }
)


def field_of(form: str, name: str) -> forms.CharField:
    found = next(one for one in all_forms() if f"{one.__module__}.{one.__name__}" == form)
    return found.base_fields[name]


def test_the_forms_of_every_app_are_found():
    assert len(TEXTS) > 40
    assert {form.split(".")[0] for form, _name in TEXTS} == {"registry", "scheduling", "reports"}


@pytest.mark.parametrize(("form", "name"), TEXTS)
def test_no_text_field_of_any_form_takes_a_sign_that_nobody_types(form, name):
    field = field_of(form, name)
    for sign in INVISIBLE:
        with pytest.raises(forms.ValidationError):
            field.clean(f"a{sign}b")
    if not isinstance(field.widget, SEVERAL_LINES):
        with pytest.raises(forms.ValidationError):
            field.clean("one\nX-Header: two")


def test_what_several_lines_and_other_scripts_need_is_taken():
    text = "First\r\nsecond\tcolumn, café, ni\u200dña, 東京, नि\u200cर"
    assert forms.CharField(widget=forms.Textarea).clean(text) == text
    assert forms.CharField().clean("Überwachung – «Nº 3»") == "Überwachung – «Nº 3»"


def test_a_record_says_which_sign_it_was_and_keeps_what_was_typed(client, world, system):
    client.force_login(world.owner)
    address = reverse("registry:record-new", args=[system.pk, "event.observation"])
    page = client.post(address, {"occurred_at": "2026-05-30 10:00", "note": "Seen\x1b[31m here"})
    assert "U+001B" in page.text and "Sign 5" in page.text
    assert "here" in page.text.split("U+001B")[-1]
    assert not Record.objects.filter(kind="event.observation").exists()


def test_notes_that_are_no_field_of_a_form_lose_them(client, world, system):
    client.force_login(world.owner)
    row = RowToFix.objects.create(
        system=system, key="a", source="r.csv", row="7", wrong="no length", typed={}, found_at=NOW
    )
    address = reverse("registry:rows-to-fix", args=[system.pk])
    client.post(address, {"row": [row.pk], "note": "Meas\x00ured\x1b again"})
    row.refresh_from_db()
    assert row.settled_at
    assert "\x00" not in str(RowToFix.objects.values().get())
    client.post(
        reverse("registry:phone-discarded"), {"what": "a\x00b", "made_at": "2026-05-31T14:30:00Z"}
    )
    assert world.owner.discarded_entries.get().what == "ab"


# Formulas in files that go out

FORMULAS = ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "|calc", "%0A", "＝1", "\t=1", "\u200b=1"]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_row_to_fix_holds_no_formula_and_comes_back_as_it_was(text):
    assert harmless(text).startswith("'")
    assert as_typed(harmless(text)) == text


@pytest.mark.parametrize("text", ["-", "", "plain", "'quoted", "4 in"])
def test_what_is_no_formula_stays(text):
    assert harmless(text) == text == as_typed(text)


def cells_of(client, name: str, *args) -> list[object]:
    response = client.get(reverse(name, args=args))
    body = b"".join(response) if response.streaming else response.content
    if not body.startswith(b"PK"):
        return [cell for row in csv.reader(StringIO(body.decode("utf-8-sig"))) for cell in row]
    sheets = load_workbook(BytesIO(body))
    return [cell for sheet in sheets for row in sheet for cell in row]


@pytest.mark.parametrize(
    "name",
    ["reports:ledger-csv", "reports:audit-csv", "reports:register-csv", "reports:register-xlsx"],
)
def test_no_cell_of_an_export_is_a_formula(client, world, name):
    evil = make_system(world.site, world.owner, tag="=HYPERLINK(0)")
    make_pipe_run(evil, world.owner)
    make_record(evil, "event.head_break", NOW - timedelta(days=9), world.owner, count=1)
    world.site.name = "@North"
    world.site.save()
    client.force_login(world.owner)
    args = {"reports:ledger-csv": [evil.pk], "reports:audit-csv": []}
    cells = cells_of(client, name, *args.get(name, [world.owner_organisation.pk]))
    if name.endswith("xlsx"):
        assert any("HYPERLINK" in str(cell.value) for cell in cells)
        assert not [cell.value for cell in cells if cell.data_type == "f"]
    else:
        assert any("HYPERLINK" in cell for cell in cells)
        assert not [cell for cell in cells if cell.lstrip()[:1] in ("=", "@", "+", "|", "%")]


# Others' affairs


def test_why_a_job_for_every_book_failed_is_shown_to_no_single_owner(client, world):
    ask(kinds.DIGESTS, key="", now=NOW)
    claims.give_up(claims.claim(NOW, "a:1"), "no digest for Dunlore Cold Storage", NOW)
    jobs = reverse("scheduling:jobs")
    client.force_login(world.owner)
    page = client.get(jobs).text
    assert "Dunlore" not in page and "whoever keeps the installation sees why" in page
    type(world.owner).objects.filter(pk=world.owner.pk).update(is_staff=True)
    assert "Dunlore" in client.get(jobs).text


def test_no_page_of_a_book_names_or_counts_the_organisations_of_others(client, world):
    client.force_login(world.stranger)
    pages = ["scheduling:jobs", "reports:portfolio", "scheduling:work", "scheduling:feeds",
             "scheduling:webhooks", "scheduling:messages", "registry:account"]  # fmt: skip
    for name in pages:
        page = client.get(reverse(name)).text
        for theirs in (world.owner_organisation, world.contractor, world.auditor_organisation):
            assert theirs.name not in page, name


# A refusal is no fault


def test_a_refusal_leaves_a_line_and_no_traceback_in_the_log(client, world, caplog):
    client.force_login(world.viewer)
    with caplog.at_level(logging.INFO):
        refused = client.get(reverse("registry:site-edit", args=[world.site.pk]))
    assert refused.status_code == 403
    ours = [line for line in caplog.records if line.name != "django.request"]
    assert [line.status for line in ours if line.name.endswith("request_log")] == [403]
    assert not [line for line in ours if line.exc_info]
    assert not logging.getLogger("django.request").isEnabledFor(logging.WARNING)


def test_a_system_amended_with_such_a_sign_is_refused_by_its_form(client, world, system):
    client.force_login(world.owner)
    address = reverse("registry:system-edit", args=[system.pk])
    page = client.get(address)
    form = page.context["form"]
    data = {name: form[name].value() or "" for name in form.fields}
    page = client.post(address, data | {"tag": "NQ\u202e-101"})
    assert "tag" in page.context["form"].errors
    system.refresh_from_db()
    assert system.tag == "NQ-101"
