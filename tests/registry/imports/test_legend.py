"""Codes that another sheet of the same workbook explains."""

from registry.imports.answers import Answers
from registry.imports.legend import with_legend
from registry.imports.table import open_table

from .test_layouts import PLAIN, ROW, write

CODES = [["Code", "Meaning"], ["V", "wet pipe"], ["SS", "black steel"], ["CP", "CPVC"]]


def told(path, **words):
    with open_table(path, Answers(words=words)) as table:
        answers, notices = with_legend(Answers(words=words), table.book, table.layout)
        return answers.words, notices


def test_codes_are_read_as_the_sheet_beside_the_table_says_and_that_is_shown(tmp_path):
    words, notices = told(write(tmp_path, ("A", [PLAIN, ROW]), ("Codes", CODES)))
    assert words == {"kind:v": "wet", "material:ss": "black_steel", "material:cp": "cpvc"}
    assert notices == [
        "The sheet “Codes” says what codes mean: “V” is wet pipe, “SS” is black steel, “CP” is "
        "CPVC."
    ]


def test_what_a_person_answered_goes_before_the_sheet(tmp_path):
    path = write(tmp_path, ("A", [PLAIN, ROW]), ("Codes", CODES))
    assert told(path, **{"kind:v": "deluge"})[0]["kind:v"] == "deluge"


def test_a_code_explained_in_two_ways_and_a_sheet_of_other_pairs_say_nothing(tmp_path):
    twice = [*CODES, ["GR", "riser"], ["GR", "branch"]]
    words, _ = told(write(tmp_path, ("A", [PLAIN, ROW]), ("Codes", twice)))
    assert "role:gr" not in words
    few = [["Buildings", "4"], ["wet", "wet pipe"], ["note", "see drawings"]]
    assert told(write(tmp_path, ("A", [PLAIN, ROW]), ("Cover", few))) == ({}, [])
