"""The guide names every kind of record, rule and export, and nothing that is not there."""

import re
from pathlib import Path

import pytest
from django.urls import get_resolver

from registry.kinds import KINDS
from registry.kinds.guide import with_kinds
from scheduling.management.commands.guide_rules import BEGIN, END, with_rules
from scheduling.rules import RULES
from tests.test_access import walk

ROOT = Path(__file__).parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
FILES = (".csv", ".pdf", ".ics", ".zip", ".xlsx", ".json")


def test_the_kinds_in_the_guide_are_those_of_the_code():
    assert with_kinds(GUIDE) == GUIDE, "run `make guide`"


@pytest.mark.parametrize("code", KINDS)
def test_every_kind_of_record_is_in_the_guide(code):
    assert f"| `{code}` |" in GUIDE


def test_the_table_of_rules_in_the_guide_is_as_the_rules_are():
    assert with_rules(GUIDE) == GUIDE, "run `python manage.py guide_rules --write`"
    assert GUIDE.count(BEGIN) == GUIDE.count(END) == 1
    assert all(f"| `{rule.code}` | {rule.says} |" in GUIDE for rule in RULES)


def test_every_address_that_hands_out_a_file_is_among_the_exports():
    section = GUIDE.partition("## Exports")[2].partition("\n## ")[0]
    exports = {name for name, route in walk(get_resolver().url_patterns) if route.endswith(FILES)}
    assert exports
    assert exports == set(re.findall(r"`(\w+:[\w-]+)`", section))


def test_the_guide_names_no_file_that_is_not_there():
    named = set(re.findall(r"`((?:registry|scheduling|reports|tests|fixtures)/[\w./-]+)`", GUIDE))
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_the_readme_shows_no_picture_that_is_not_there():
    pictures = re.findall(r"!\[[^]]*\]\(([^)]+)\)", README)
    assert pictures
    assert [name for name in pictures if not (ROOT / name).exists()] == []


def test_the_readme_names_the_two_commands_that_the_makefile_has():
    targets = set(re.findall(r"^(\w+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    assert {"demo", "test"} <= targets
    for command in re.findall(r"(?:^|`)make (\w+)", README + GUIDE, re.MULTILINE):
        assert command in targets


ASVS = ROOT / "docs" / "asvs" / "others.md"


def test_the_asvs_table_names_each_requirement_once_and_no_test_that_is_not_there():
    text = ASVS.read_text(encoding="utf-8")
    rows = [line.split(" | ") for line in text.splitlines() if re.match(r"\| \d", line)]
    numbers = [row[0].strip("| ") for row in rows]
    assert len(numbers) == len(set(numbers)) > 160
    assert {row[2] for row in rows} == {"met", "partly", "not met", "n/a"}
    named = set(re.findall(r"`((?:registry|tests|docs)/[\w./-]+)`", text))
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


ASVS_PAGES = sorted(ASVS.parent.glob("*.md"))


def _asvs_rows():
    for page in ASVS_PAGES:
        for line in page.read_text(encoding="utf-8").splitlines():
            if re.match(r"\| \d", line):
                yield [cell.strip() for cell in line.strip("|").split("|")]


def test_the_asvs_tables_name_no_requirement_twice_and_no_fewer_than_there_are():
    numbers = [row[0] for row in _asvs_rows()]
    assert len(ASVS_PAGES) == 2
    assert len(set(numbers)) == len(numbers) >= 253


def test_every_asvs_row_that_is_met_names_a_test_that_is_there_or_says_that_it_was_read():
    without, missing = [], []
    for number, _subject, state, _how, test in _asvs_rows():
        named = re.findall(r"`([\w./-]+)`", test.replace("`make check`", ""))
        missing += [(number, name) for name in named if not (ROOT / name).exists()]
        if state == "met" and not (named or "make check" in test or "review" in test):
            without.append(number)
    assert (without, missing) == ([], [])
