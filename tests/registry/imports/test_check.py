from hypothesis import given
from hypothesis import strategies as st

from registry.imports.answers import Answers
from registry.imports.check import RowChecker
from registry.imports.headers import COLUMNS, match_headings
from registry.imports.reader import SheetRow

from .conftest import NOW

LABELS = [column.label for column in COLUMNS]
GOOD = {
    "Site": "Pier", "System tag": "P-1", "Type": "wet", "Pipe role": "riser", "Material": "BS",
    "Schedule": "40", "Nominal size": "4", "Length": "9 m", "Installed": "2001",
}  # fmt: skip


def check(*headings: str, unit_of_length: str | None = None, **cells: str):
    cells = GOOD | {name.replace("_", " "): value for name, value in cells.items()}
    typed = headings or LABELS
    checker = RowChecker(match_headings(typed), Answers(length_unit=unit_of_length), NOW.date())
    named = {heading.split(" (")[0]: heading for heading in typed}
    row = SheetRow(2, [cells.get(name, "") for name in named])
    return *checker.check(row), checker.tally


def test_a_bare_rating_is_read_in_the_only_unit_that_makes_sense_and_that_is_counted():
    for typed, unit, pascal in (("175", "psi", 1_206_583), ("12.1", "bar", 1_210_000),
                                ("1200", "kPa", 1_200_000)):  # fmt: skip
        parsed, problems, tally = check(Rated_pressure=typed)
        assert problems == []
        assert round(parsed.rated_pressure_gauge_pa) == pascal
        assert tally.bare_pressures == {(typed, unit): 1}


def test_a_bare_number_with_no_or_several_sensible_units_is_refused():
    for typed in ("60", "1", "999999999", "-20"):
        _, problems, _ = check(Rated_pressure=typed)
        assert problems[0].right == f"Write {typed} psi or {typed} bar."


def test_the_unit_of_a_heading_goes_before_the_answer_for_bare_lengths():
    headings = [label if label != "Length" else "Length (ft)" for label in LABELS]
    parsed, _, _ = check(*headings, unit_of_length="m", Length="10")
    assert parsed.run.length_m == 3.048
    parsed, _, _ = check(unit_of_length="m", Length="10")
    assert parsed.run.length_m == 10


def test_a_given_wall_needs_no_schedule():
    parsed, problems, _ = check(Schedule="", Wall="0.188 in", Nominal_size="8")
    assert problems == []
    assert (parsed.run.wall_mm, parsed.run.wall_basis) == (4.7752, "given")


def test_what_no_schedule_can_be_is_refused_beside_a_given_wall_too():
    parsed, problems, _ = check(Schedule="see drawing 12-A of 1987", Wall="6 mm")
    assert parsed is None
    assert (problems[0].field, problems[0].wrong) == ("Schedule", "no schedule has 24 characters")


def test_a_wall_thicker_than_the_pipe_is_refused():
    _, problems, _ = check(Schedule="", Wall="60 mm")
    assert problems[0].field == "Wall"


def test_schedule_ten_in_the_sizes_sold_as_light_wall_is_pointed_out():
    assert check(Schedule="10", Nominal_size="8")[2].light_wall_rows == 1
    assert check(Schedule="light", Nominal_size="8")[2].light_wall_rows == 0


def test_every_field_is_judged_even_when_another_is_wrong():
    _, problems, _ = check(Type="", Material="gold", Length="0 m", Installed="soon")
    assert [problem.field for problem in problems] == ["Type", "Material", "Length", "Installed"]


@given(st.lists(st.text(max_size=30), min_size=len(LABELS), max_size=len(LABELS)))
def test_whatever_stands_in_the_cells_a_row_is_parsed_or_has_problems(cells):
    checker = RowChecker(match_headings(LABELS), Answers(), NOW.date())
    parsed, problems = checker.check(SheetRow(2, cells))
    assert (parsed is None) == bool(problems)
