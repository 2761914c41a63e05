import pytest

from registry.imports.columns import COLUMNS, is_unit_line, likely_languages, match_heading


@pytest.mark.parametrize(
    ("typed", "column", "unit"),
    [
        ("  LENGTH ", "length", ""),
        ("date_installed", "installed", ""),
        ("N2?", "gas_supply", ""),
        ("N₂", "gas_supply", ""),
        ("Mat'l", "material", ""),
        ("Länge (lfm)", "length", "m"),
        ("Laenge", "length", ""),
        ("Length, ft", "length", "ft"),
        ("LF", "length", "ft"),
        ("Année de pose", "installed", ""),
        ("Gebäude", "building", ""),
        ("Länge / Length", "length", ""),
        ("pipe Ø", "nominal_size", ""),
        ("Ø mm", "nominal_size", "mm"),
        ("DN", "nominal_size", "DN"),
        ("Type (K/L/M)", "schedule", ""),
        ("Wall thk (mm)", "wall", "mm"),
        ("Length (approx.)", "length", ""),
        ("PN", "rated_pressure", "bar"),
        ("Riser #", "tag", ""),
    ],
)
def test_a_heading_names_a_column_in_any_of_ten_languages(typed, column, unit):
    match = match_heading(typed)
    assert (match.name, match.unit) == (column, unit)


@pytest.mark.parametrize("typed", ["System", "nave", "classe", "Klasse", "nature"])
def test_headings_with_two_meanings_keep_both(typed):
    assert len(match_heading(typed).columns) == 2


@pytest.mark.parametrize("typed", ["", "Wetterstation", "Problem", "What would be right"])
def test_other_headings_name_nothing(typed):
    assert match_heading(typed).columns == ()


def test_every_label_names_its_own_column():
    for column in COLUMNS:
        assert match_heading(column.label).name == column.name


def test_a_line_of_units_is_told_from_a_row():
    assert is_unit_line(["", "", "mm", "(m)", "bar"])
    assert not is_unit_line(["Mill", "", "4", "12 m"])


def test_the_language_is_that_of_most_headings():
    matches = [match_heading(text) for text in ("Gebäude", "Länge", "Nennweite", "Material")]
    assert likely_languages(matches) == {"de"}
