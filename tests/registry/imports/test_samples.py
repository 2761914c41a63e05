"""The carried registers, row by row: what loads, what comes back, and why."""

import csv
from datetime import datetime

import pytest
from openpyxl import Workbook

from registry.imports.answers import Answers
from registry.imports.judge import Verdict, checked_chunks, judge
from registry.imports.survey import survey_table
from registry.imports.table import open_table
from registry.models import PipeRun, System

from .conftest import NOW, SAMPLES

BLACK = Answers(words={"material:bs": "black_steel"})
MESSY, GOOD = SAMPLES / "register-messy.csv", SAMPLES / "register-good.csv"


def expected() -> list[dict[str, str]]:
    with (SAMPLES / "register-messy-expected.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def judged(path) -> dict[str, Verdict]:
    with open_table(path, BLACK) as table:
        survey = survey_table(table, answers=BLACK, today=NOW.date())
        verdicts = [v for chunk in checked_chunks(survey) for v in judge(chunk, survey, {})]
    return {str(verdict.row.number): verdict for verdict in verdicts}


@pytest.fixture
def verdicts(db):
    return judged(MESSY)


def as_workbook(path, folder):
    """The same register as a spreadsheet program holds it: numbers and days are not text."""
    book = Workbook()
    with path.open(encoding="utf-8-sig", newline="") as file:
        for row in csv.reader(file):
            book.active.append([_as_typed(cell) for cell in row])
    book.save(folder / "register.xlsx")
    return folder / "register.xlsx"


def _as_typed(cell: str):
    if cell.isdigit():
        return int(cell)
    try:
        return datetime.strptime(cell, "%Y-%m-%d")
    except ValueError:
        return cell or None


@pytest.mark.parametrize("line", expected(), ids=lambda line: f"{line['row']}-{line['column']}")
def test_each_row_of_the_messy_register_has_its_expected_fate(verdicts, line):
    verdict = verdicts[line["row"]]
    assert verdict.fate == line["fate"]
    if line["column"]:
        assert any(
            problem.field == line["column"] and line["wrong"] in problem.wrong
            for problem in verdict.problems
        ), verdict.problems


def test_no_row_is_without_an_expectation_and_no_problem_is_unexpected(verdicts):
    lines = expected()
    assert {line["row"] for line in lines} == set(verdicts)
    assert sum(len(verdict.problems) for verdict in verdicts.values()) == sum(
        1 for line in lines if line["fate"] == "to_fix"
    )


def test_a_workbook_of_the_same_register_has_the_same_fate_row_by_row(verdicts, tmp_path):
    from_workbook = judged(as_workbook(MESSY, tmp_path))
    assert {number: (v.fate, v.problems) for number, v in from_workbook.items()} == {
        number: (v.fate, v.problems) for number, v in verdicts.items()
    }


def test_every_problem_says_what_would_be_right(verdicts):
    problems = [problem for verdict in verdicts.values() for problem in verdict.problems]
    assert problems
    for problem in problems:
        assert problem.right.startswith(("Write", "The", "Delete", "Correct", "Say", "Check"))


def test_the_messy_register_loads_its_good_rows(load):
    outcome = load(MESSY, words=BLACK.words)
    assert (outcome.rows, outcome.new, outcome.to_fix) == (32, 8, 24)
    assert set(System.objects.values_list("tag", flat=True)) == {"GP-01", "GP-02", "GP-06", "GP-07"}
    mill = System.objects.get(tag="GP-01")
    assert (mill.kind, mill.hazard, mill.gas_supply) == ("dry", "ordinary_2", "generator")
    assert mill.building.name == "Mill"
    assert mill.installed_on.isoformat() == "1994-01-01"
    assert mill.installed_precision == "year"


def test_the_messy_register_says_how_it_was_read(load):
    notices = " ".join(load(MESSY, dry=True, words=BLACK.words).notices)
    assert "“Drawing”" in notices
    assert "1 rated pressure without a unit read as psi" in notices
    assert "rated pressures differ between rows: the lowest was taken" in notices


def test_the_good_register_loads_whole_and_keeps_units_of_the_headings(load):
    outcome = load(GOOD)
    assert (outcome.rows, outcome.new, outcome.to_fix) == (6, 6, 0)
    assert [question.name for question in outcome.questions] == [
        "leaks_known_since",
        "adopted_edition",
    ]
    boathouse = System.objects.get(tag="TI-1")
    assert boathouse.rated_pressure_gauge_pa == pytest.approx(1_210_000)
    assert boathouse.gas_supply == "none"
    given = PipeRun.objects.get(role="feed_main")
    assert (given.wall_mm, given.wall_basis, given.nominal_size) == (4.78, "given", "8")
    assert PipeRun.objects.get(role="riser", system=boathouse).length_m == 6.5
