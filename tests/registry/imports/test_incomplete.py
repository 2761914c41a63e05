"""A system lacks the pipe of rows that did not load, and knows it until they are settled."""

import csv
from datetime import timedelta
from io import StringIO

import pytest
from django.urls import reverse

from registry.models import PipeRun, RowToFix, System

from .conftest import NOW

LATER = NOW + timedelta(days=1)
GOOD = "Pier,P-1,wet,LH,cross main,black steel,40,4,100 m,2001"
BAD = "Pier,P-1,wet,LH,branch line,black steel,40,1,long,2001"


@pytest.fixture
def incomplete(load, register_file):
    outcome = load(register_file(GOOD, BAD, GOOD))
    return outcome, System.objects.get(tag="P-1")


def test_a_system_with_a_row_to_fix_is_incomplete_and_says_what_is_missing(incomplete):
    outcome, system = incomplete
    assert (outcome.new, outcome.to_fix) == (
        1,
        2,
    )  # the third only repeats the first
    assert system.is_incomplete
    (row,) = system.rows_to_fix.all()
    assert (row.row, row.typed["length"]) == ("3", "long")
    assert "does not begin with a number" in row.wrong


def test_rows_that_come_back_fixed_settle_themselves(incomplete, load, tmp_path):
    outcome, system = incomplete
    path = tmp_path / "fixed.csv"
    path.write_text(outcome.fixed.replace(",long,", ",40 m,"), "utf-8")
    assert load(path, now=LATER).new == 1
    system.refresh_from_db()
    assert not system.is_incomplete
    assert PipeRun.objects.count() == 2
    row = RowToFix.objects.get()
    assert (row.settled_at, row.settled_by.name) == (LATER, "Olive Manager")


def test_the_same_file_again_counts_nothing_twice(incomplete, load, register_file):
    load(register_file(GOOD, BAD, GOOD), now=LATER)
    assert System.objects.get(tag="P-1").open_rows == 1


def test_a_system_none_of_whose_rows_loaded_is_not_there_to_be_marked(load, register_file):
    assert load(register_file(BAD)).to_fix == 1
    assert RowToFix.objects.count() == 0


def test_a_person_settles_a_row_by_hand(client, owner, incomplete):
    _, system = incomplete
    client.force_login(owner)
    address = reverse("registry:rows-to-fix", args=[system.pk])
    assert "does not begin with a number" in client.get(address).content.decode()
    row = system.rows_to_fix.get()
    page = client.post(address, {"row": [row.pk], "note": "measured on site"}, follow=True)
    assert "Nothing is missing" in page.content.decode()
    system.refresh_from_db()
    assert not system.is_incomplete


def test_formula_cells_come_back_harmless_and_as_they_were(load, register_file, tmp_path):
    evil = GOOD.replace("P-1", "=cmd|' /c calc'!A1").replace("100 m", "-12 m")
    outcome = load(register_file(evil))
    (_, cells) = list(csv.reader(StringIO(outcome.fixed)))
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@")) and len(cell) > 1]
    path = tmp_path / "fixed.csv"
    path.write_text(outcome.fixed.replace("'-12 m", "12 m"), "utf-8")
    assert load(path, now=LATER).new == 1
    assert System.objects.get().tag == "=cmd|' /c calc'!A1"


PAGES = ("registry:system", "registry:run-plan", "registry:drain-down", "reports:risk")


@pytest.mark.parametrize("name", PAGES)
def test_every_page_that_depends_on_the_missing_pipe_says_so(client, owner, incomplete, name):
    _, system = incomplete
    client.force_login(owner)
    page = client.get(reverse(name, args=[system.pk])).content.decode()
    assert "still to be fixed" in page
    assert reverse("registry:rows-to-fix", args=[system.pk]) in page


def test_the_portfolio_marks_an_incomplete_system(client, owner, incomplete):
    _, system = incomplete
    client.force_login(owner)
    page = client.get(reverse("reports:portfolio")).content.decode()
    assert reverse("registry:rows-to-fix", args=[system.pk]) in page


def test_a_plan_for_an_incomplete_system_asks_first(client, owner, incomplete):
    _, system = incomplete
    client.force_login(owner)
    address = reverse("registry:run-plan", args=[system.pk])
    answers = {"cylinder": "large"}
    assert client.get(address, answers).context["plan"] is None
    assert client.get(address, answers | {"despite_missing_pipe": "on"}).context["plan"] is not None


def test_papers_and_calendars_say_it_too(incomplete):
    from reports.certificate.paper import _system_facts

    _, system = incomplete
    assert system.incomplete_words in dict(_system_facts(system, "us")).values()
