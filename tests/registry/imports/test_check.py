from hypothesis import given
from hypothesis import strategies as st

from registry.imports.answers import Answers
from registry.imports.check import RowChecker
from registry.imports.columns import COLUMNS
from registry.imports.layout import MADE_UP, Headings, Layout, Part
from registry.imports.mapping import map_columns
from registry.imports.reading import Sheet, SheetRow
from registry.imports.sniff import sniff

from .conftest import NOW

LABELS = [str(column.label) for column in COLUMNS]
GOOD = {
    "Site": "Pier", "System tag": "P-1", "Type": "wet", "Pipe role": "riser",
    "Material": "black steel",
    "Schedule": "40", "Nominal size": "4", "Length": "9 m", "Installed": "2001",
}  # fmt: skip


def checker(headings, rows, answers) -> RowChecker:
    layout = Layout([Part(Sheet("", lambda: iter(rows)), Headings(1, 1, headings, []))],
                    [*headings, *MADE_UP], [""] * (len(headings) + len(MADE_UP)))  # fmt: skip
    mapping = map_columns(layout, rows, answers)
    return RowChecker(mapping, answers, NOW.date(), sniff(rows, mapping, answers))


def check(*headings: str, answers: Answers | None = None, **cells: str):
    """One row under these headings: what it gives, what is wrong with it, and the tally."""
    cells = GOOD | {name.replace("_", " "): value for name, value in cells.items()}
    typed = headings or LABELS
    named = [heading.split(" (")[0] for heading in typed]
    row = SheetRow(2, [*(cells.get(name, "") for name in named), *("" for _ in MADE_UP)])
    made = checker(list(typed), [row], answers or Answers())
    checked = made.check(row)
    return checked.parsed, checked.problems, made.finish()


def test_a_bare_rating_is_read_in_the_only_unit_that_makes_sense_and_that_is_counted():
    for typed, unit, pascal in (("175", "psi", 1_206_583), ("12.1", "bar", 1_210_000),
                                ("1200", "kPa", 1_200_000)):  # fmt: skip
        parsed, problems, tally = check(Rated_pressure=typed)
        assert problems == []
        assert round(parsed.rated_pressure_gauge_pa) == pascal
        assert tally.bare_pressures == {unit: 1}


def test_a_bare_number_with_no_or_several_sensible_units_is_refused():
    for typed in ("60", "1", "999999999", "-20"):
        _, problems, _ = check(Rated_pressure=typed)
        assert problems[0].right == f"Write {typed} psi or {typed} bar."


def test_the_unit_of_a_heading_goes_before_the_answer_for_bare_lengths():
    headings = [label if label != "Length" else "Length (ft)" for label in LABELS]
    parsed, _, _ = check(*headings, answers=Answers(length_unit="m"), Length="10")
    assert parsed.run.length_m == 3.048
    parsed, _, _ = check(answers=Answers(length_unit="m"), Length="10")
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


def test_a_riser_of_ninety_thousand_feet_is_questioned_and_can_be_confirmed():
    _, problems, tally = check(Length="90000 ft")
    assert "likely to be this long" in problems[0].wrong
    assert "length:90000 ft" in tally.unknown
    parsed, problems, _ = check(Length="90000 ft", answers=Answers(words={"length:90000 ft": "ok"}))
    assert (problems, parsed.run.length_m) == ([], 27432)


def test_a_thousand_or_a_thousandth_is_asked_where_nothing_says_which():
    _, problems, tally = check(Length="1.234 m")
    assert problems[0].question == "decimal"
    assert tally.open_numbers == {"1.234 m": 1}
    assert (
        check(Length="1.234 m", answers=Answers(decimal="comma"), Pipe_role="range")[0].run.length_m
        == 1234
    )
    assert (
        check(Length="1.234 m", Wall="3,2 mm", Schedule="", Pipe_role="range")[0].run.length_m
        == 1234
    )


def test_a_tag_that_a_spreadsheet_made_a_date_is_asked_about_and_never_taken():
    for typed in ("\x022026-03-01", "2026-03-01 00:00:00", "1-Mar"):
        _, problems, _ = check(System_tag=typed)
        assert "made a date of this tag" in problems[0].wrong
    answers = Answers(words={"tag:2026 03 01": "MAR-1"})
    assert check(System_tag="\x022026-03-01", answers=answers)[0].tag == "MAR-1"


def test_a_european_series_has_its_own_diameter_and_wall():
    parsed, problems, _ = check(Schedule="mittelschwer", Nominal_size="DN65")
    assert problems == []
    run = parsed.run
    assert (run.outside_diameter_mm, run.wall_mm, run.wall_basis) == (76.1, 3.6, "given")
    assert run.schedule == "EN-medium"


def test_an_empty_cell_may_have_a_value_for_the_whole_file():
    _, problems, tally = check(Schedule="")
    assert problems[0].question == "blank:schedule"
    assert tally.blanks == {"schedule": 1}
    assert check(Schedule="", answers=Answers(blank={"schedule": "40"}))[0].run.schedule == "40"
    assert check(Schedule="-", answers=Answers(blank={"schedule": "usual"}))[0].run.schedule == "10"


def test_rows_that_are_no_pipe_are_left_out_as_a_person_said():
    answers = Answers(words={"role:drain": "leave_out"})
    made = checker(LABELS, [], answers)
    cells = [GOOD.get(label, "") for label in LABELS]
    cells[LABELS.index("Pipe role")] = "drain"
    assert made.check(SheetRow(2, [*cells, "", ""])).left_out == "“drain”"


@given(st.lists(st.text(max_size=30), min_size=len(LABELS), max_size=len(LABELS)))
def test_whatever_stands_in_the_cells_a_row_is_parsed_or_has_problems(cells):
    row = SheetRow(2, [*cells, "", ""])
    checked = checker(LABELS, [row], Answers()).check(row)
    assert (checked.parsed is None) == bool(checked.problems)


def test_the_wall_may_stand_beside_the_diameter_or_the_material():
    heads = [*GOOD, "Outside diameter (mm)"]
    parsed, problems, _ = check(*heads, Schedule="", Outside_diameter="114,3 x 3,6")
    assert (problems, parsed.run.outside_diameter_mm, parsed.run.wall_mm) == ([], 114.3, 3.6)
    parsed, problems, _ = check(*GOOD, Schedule="", Material="black steel 3,2 mm")
    assert (problems, parsed.run.wall_mm) == ([], 3.2)
    parsed, problems, _ = check(*GOOD, Schedule="2.0 mm", Material="stainless steel")
    assert (problems, parsed.run.wall_mm) == ([], 2.0)
    assert check(*GOOD, Schedule="", Material="black steel DN 100")[1]


def test_a_ratio_of_diameter_to_wall_in_the_column_of_walls_is_a_schedule():
    heads = [*GOOD, "Wall (mm)"]
    given = {"Material": "CPVC", "Schedule": "", "Nominal_size": "2"}
    parsed, problems, _ = check(*heads, **given, Wall="SDR 13,5")
    assert (problems, parsed.run.schedule) == ([], "SDR 13.5")
    assert check(*heads, **given, Wall="SDR 99")[1]
