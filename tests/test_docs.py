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
