"""An edition that a person names for a whole file is adopted where nobody has adopted one."""

from datetime import UTC, datetime, timedelta

import pytest

from registry.imports.answers import Answers
from registry.imports.load import run_import
from registry.models import Site
from scheduling import library
from scheduling.models import AdoptedEdition, Occurrence
from scheduling.recurring.setting import adopt_edition

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
ROWS = """Site,System tag,Type,Pipe role,Material,Schedule,Nominal size,Length (m),Installed
Pier,P-1,wet,riser,black steel,40,4,9,2001
Mill,M-1,dry,riser,black steel,40,4,9,2001
"""
FIRST, SECOND = list(library.editions())[:2]


@pytest.fixture
def load(world, tmp_path):
    path = tmp_path / "register.csv"
    path.write_text(ROWS, "utf-8")

    def run(now=NOW, **answers):
        return run_import(
            path, owner=world.owner_organisation, answers=Answers(**answers), now=now,
            recorded_by=world.owner,
        )  # fmt: skip

    return run


def adopted() -> set[tuple[str, str]]:
    return set(AdoptedEdition.objects.in_force().values_list("site__name", "edition"))


def test_nothing_is_adopted_where_nobody_answers_and_the_question_is_asked(load):
    assert "adopted_edition" in {question.name for question in load().questions}
    assert adopted() == set()


def test_the_answer_holds_at_each_site_of_the_file_and_its_work_is_planned(load):
    load(adopted_edition=FIRST)
    assert adopted() == {("Pier", FIRST), ("Mill", FIRST)}
    assert Occurrence.objects.filter(system__tag="P-1").exists()


def test_a_site_keeps_what_it_has_adopted_and_a_second_load_adds_nothing(load, world):
    load()
    pier = Site.objects.get(name="Pier")
    adopt_edition(site=pier, edition=SECOND, adopted_by=world.owner, now=NOW)
    load(NOW + timedelta(days=1), adopted_edition=FIRST)
    load(NOW + timedelta(days=2), adopted_edition=FIRST)
    assert adopted() == {("Pier", SECOND), ("Mill", FIRST)}
    assert AdoptedEdition.objects.count() == 2
