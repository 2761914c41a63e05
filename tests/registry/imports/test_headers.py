import pytest

from registry.imports.headers import COLUMNS, match_headings
from registry.imports.problems import ImportFileError

NEEDED = [
    "Site",
    "System tag",
    "Type",
    "Pipe role",
    "Material",
    "Nominal size",
    "Length",
    "Installed",
]


def test_headings_are_known_by_their_synonyms_in_any_order_and_spelling():
    typed = ["  LENGTH ", "date_installed", "N2?", "Size", "Mat'l", "Pipe", "System Type", "tag"]
    found = match_headings([*typed, "PROPERTY"])
    assert found.cell(["41 ft", "1998", "none", "4"], "length") == "41 ft"
    assert found.position["gas_supply"] == 2
    assert found.position["site"] == 8
    assert found.label("material") == "Mat'l"


def test_a_unit_in_the_heading_is_kept_for_bare_numbers():
    assert match_headings([*NEEDED[:6], "Length (m)", "Installed"]).units == {"length": "m"}


def test_unknown_columns_are_reported_and_not_an_error():
    assert match_headings([*NEEDED, "Drawing no.", ""]).unknown == ["Drawing no."]


def test_a_missing_column_is_named_with_those_found():
    with pytest.raises(ImportFileError, match=r"missing: Length, Installed. Found: “Site”"):
        match_headings(NEEDED[:6])


def test_two_columns_of_one_meaning_are_refused():
    with pytest.raises(ImportFileError, match="Two columns mean Length: “Length” and “Run length”"):
        match_headings([*NEEDED, "Run length"])


def test_the_columns_this_program_added_to_a_mended_file_are_left_aside():
    found = match_headings(["Problem", *NEEDED, "What would be right"])
    assert found.unknown == []
    assert found.kept(["old problem", *NEEDED]) == NEEDED


def test_no_synonym_means_two_columns():
    synonyms = [synonym for column in COLUMNS for synonym in column.synonyms]
    assert len(synonyms) == len(set(synonyms))


def test_every_label_is_a_synonym_of_its_own_column():
    for column in COLUMNS:
        found = match_headings([*NEEDED, *([column.label] if column.label not in NEEDED else [])])
        assert column.name in found.position
