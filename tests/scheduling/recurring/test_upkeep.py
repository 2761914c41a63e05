"""From adopted edition and ledger to open occurrences; history stays as it was judged."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.services import RecordError, add_fitting
from scheduling import library, recurring
from scheduling.models import Occurrence, RecurringItem
from scheduling.models.recurring import name_new
from scheduling.recurring.at_system import conditions_of, library_of
from scheduling.recurring.replanning import plan_asked
from tests.factories import make_system
from tests.scheduling.recurring_world import NOW, adopt, complete, make_area, open_of

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 1)


@pytest.fixture
def planned(world, system):
    adopt(world.site, world.owner)
    return system


def answer(system, **answers):
    recurring.answer_questions(system=system, answers=answers, now=NOW)


def test_nothing_is_planned_before_an_edition_is_adopted(system):
    recurring.plan_recurring(system=system, now=NOW)
    assert not system.recurring_items.exists()


def test_adopting_an_edition_plans_every_system_of_the_site(world, system):
    dry = make_system(world.site, world.owner, tag="NQ-202", kind="dry")
    adopt(world.site, world.owner)
    assert open_of(system, "gauges").due_on == date(2026, 7, 1)
    assert dry.recurring_items.filter(key="dry-valve-full-trip").exists()
    assert not system.recurring_items.filter(key="dry-valve-full-trip").exists()


def test_planning_twice_is_the_same_as_once(planned):
    before = list(planned.occurrences.values().order_by("pk"))
    result = recurring.plan_recurring(system=planned, now=NOW + timedelta(hours=1))
    assert (result.moved, result.withdrawn) == (0, 0)
    assert list(planned.occurrences.values().order_by("pk")) == before


def test_many_items_are_planned_in_as_many_statements_as_few(world, system):
    adopt(world.site, world.owner)
    few = make_system(world.site, world.owner, tag="NQ-301", kind="deluge")
    counts = []
    for one in (few, system):
        Occurrence.objects.filter(system=one).delete()
        with CaptureQueriesContext(connection) as captured:
            recurring.plan_recurring(system=one, now=NOW)
        counts.append(len(captured))
    assert few.recurring_items.count() != system.recurring_items.count()
    assert counts[0] == counts[1]


def test_names_given_at_once_are_those_given_one_by_one(planned):
    """The name that is taken passes to the next in line, whoever else is named with it."""
    rows = list(planned.occurrences.order_by("pk"))
    names = {row.pk: row.uuid for row in rows}
    kept = rows.pop(0)
    planned.occurrences.exclude(pk=kept.pk).delete()
    again = [Occurrence(item=row.item, system=planned, due_on=row.due_on) for row in [kept, *rows]]
    name_new(again)
    assert [row.uuid for row in again[1:]] == [names[row.pk] for row in rows]
    assert again[0].uuid != kept.uuid
    kept.delete()
    alone = Occurrence(item=kept.item, system=planned, due_on=kept.due_on)
    name_new([alone])
    assert alone.uuid == kept.uuid


def test_an_occurrence_is_late_from_the_end_of_its_last_day_at_the_site(planned):
    gauges = open_of(planned, "gauges")
    assert gauges.late_at == datetime(2026, 7, 1, 23, tzinfo=UTC), "London is an hour ahead"
    assert gauges in Occurrence.objects.late(gauges.late_at)
    assert gauges not in Occurrence.objects.late(gauges.late_at - timedelta(seconds=1))


def test_a_new_system_is_first_due_an_interval_after_it_was_installed(world):
    new = make_system(world.site, world.owner, installed_on=date(2026, 3, 1))
    adopt(world.site, world.owner)
    assert open_of(new, "internal-assessment").due_on == date(2031, 3, 1)


def test_the_day_work_was_last_done_before_the_book_counts_even_when_long_past(planned):
    item = planned.recurring_items.get(key="internal-assessment")
    recurring.set_last_done(item=item, last_done_on=date(2019, 4, 1), now=NOW)
    assert open_of(planned, "internal-assessment").due_on == date(2024, 4, 1)


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2026, 6, 2), "in the future"),
        (date(2005, 2, 28), "before the system was installed"),
        (date(2026, 5, 30), "The ledger tells what was done from 30 May 2026"),
    ],
)
def test_when_work_was_last_done_before_the_book_must_lie_before_it(world, planned, day, said):
    complete(open_of(planned, "gauges"), world.technician, NOW - timedelta(days=2), now=NOW)
    item = planned.recurring_items.get(key="gauges")
    with pytest.raises(RecordError, match=said):
        recurring.set_last_done(item=item, last_done_on=day, now=NOW)


def test_an_answer_moves_open_work_and_leaves_what_was_done(world, planned):
    answer(planned, backflow_only_supply=False)
    done = complete(open_of(planned, "main-drain"), world.technician, NOW)
    assert open_of(planned, "main-drain").due_on == date(2027, 6, 1)
    later = NOW + timedelta(days=1)
    recurring.answer_questions(system=planned, answers={"backflow_only_supply": True}, now=later)
    assert open_of(planned, "main-drain").due_on == date(2026, 9, 1)
    assert open_of(planned, "main-drain").first_due_on == date(2027, 6, 1)
    kept = Occurrence.objects.get(record=done)
    assert (kept.status, kept.timing, kept.due_on) == ("done", "on_time", date(2026, 7, 1))


def test_a_stricter_rule_is_not_late_on_the_day_it_comes_into_force(world, planned):
    answer(planned, backflow_only_supply=False)
    complete(open_of(planned, "main-drain"), world.technician, NOW)
    later = NOW + timedelta(days=200)
    recurring.answer_questions(system=planned, answers={"backflow_only_supply": True}, now=later)
    assert open_of(planned, "main-drain").due_on == later.date()


def test_taking_an_answer_back_presumes_the_stricter_row_again(planned):
    answer(planned, backflow_only_supply=False)
    assert planned.recurring_items.get(key="main-drain").presumed == ""
    answer(planned, backflow_only_supply=None)
    item = planned.recurring_items.get(key="main-drain")
    assert (item.interval, item.presumed) == ("3 months", "backflow_only_supply")


def test_another_edition_of_a_standard_takes_the_place_of_the_one_before(world, planned):
    adopt(world.site, world.owner, "nfpa25-2011")
    in_force = world.site.adopted_editions.in_force()
    assert [row.edition for row in in_force] == ["nfpa25-2011"]
    item = planned.recurring_items.get(key="internal-assessment")
    assert not item.is_active
    assert [row.status for row in item.occurrences.all()] == ["withdrawn"]


def test_an_edition_of_another_standard_holds_beside_it(world, planned):
    adopt(world.site, world.owner, "cfr1910-159")
    assert world.site.adopted_editions.in_force().count() == 2
    assert planned.recurring_items.filter(key="inspectors-test", is_active=True).exists()


def test_adopting_an_edition_twice_changes_nothing(world, planned):
    first = world.site.adopted_editions.get()
    assert adopt(world.site, world.owner) == first


def test_an_unknown_edition_is_refused(world):
    with pytest.raises(RecordError, match="not an edition"):
        adopt(world.site, world.owner, "nfpa25-1492")


def test_giving_an_edition_up_lets_its_items_rest_and_taking_it_up_wakes_them(world, planned):
    done = complete(open_of(planned, "gauges"), world.technician, NOW)
    adopted = world.site.adopted_editions.get()
    recurring.give_up_edition(adopted=adopted, ended_by=world.owner, now=NOW)
    assert not planned.occurrences.open().exists()
    assert Occurrence.objects.get(record=done).status == "done"
    adopt(world.site, world.owner, now=NOW + timedelta(days=1))
    assert open_of(planned, "gauges").due_on == date(2026, 7, 1)


def test_frost_follows_the_winter_of_the_site(world, planned):
    answer(planned, can_freeze=True)
    assert open_of(planned, "building-heat").due_on == date(2026, 10, 31)
    recurring.set_winter(
        site=world.site, has_frost=True, ready_by="09-15", over_from="05-01", now=NOW
    )
    assert open_of(planned, "building-heat").due_on == date(2026, 9, 15)
    recurring.set_winter(
        site=world.site, has_frost=False, ready_by="09-15", over_from="05-01", now=NOW
    )
    assert not planned.occurrences.open().filter(item__key="building-heat").exists()


def test_the_register_answers_what_it_can_prove(world, planned):
    assert "backflow_fitted" not in conditions_of(planned)
    assert conditions_of(planned)["pipe_all_plastic"] is False
    add_fitting(system=planned, recorded_by=world.owner, kind="backflow_preventer", now=NOW)
    assert conditions_of(planned)["backflow_fitted"] is True


def test_a_sample_area_is_planned_by_its_type_and_the_edition(world, planned):
    area = make_area(planned, sprinkler_type="dry", installed_on=date(2010, 1, 1), count=250)
    item = planned.recurring_items.get(area=area)
    assert item.title.endswith("4 of 250")
    assert open_of(planned, item.key).due_on == date(2020, 1, 1)
    adopt(world.site, world.owner, "nfpa25-2020")
    assert open_of(planned, item.key).due_on == date(2025, 1, 1)


def test_a_tested_sample_area_is_next_due_after_its_repeat(world, planned):
    area = make_area(planned, sprinkler_type="standard_response", installed_on=date(1950, 6, 1))
    key = f"sprinkler-sample-{area.pk}"
    complete(open_of(planned, key), world.technician, NOW, details={"found": "none", "tested": 4})
    assert open_of(planned, key).due_on == date(2031, 6, 1), "every 5 years from 75"


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"installed_on": date(2030, 1, 1)}, "installed_on"),
        ({"installed_on": date(1, 1, 1)}, "installed_on"),
        ({"last_tested_on": date(1940, 1, 1)}, "last_tested_on"),
        ({"count": 0}, "count"),
    ],
)
def test_a_sample_area_must_make_sense(planned, facts, field):
    with pytest.raises(Exception, match=field):
        make_area(planned, **facts)
    assert not planned.sprinkler_areas.exists()


def test_an_owners_version_of_a_row_holds_for_that_owner_alone(world, planned):
    _own(world, "main-drain-backflow-only-supply", interval="2 months", before="1 week")
    assert planned.recurring_items.get(key="main-drain").interval == "2 months"
    assert library_of(world.other_owner) == library.items()


def test_a_row_that_is_not_used_is_no_longer_asked_for(world, planned):
    _own(world, "gauges-wet", is_used=False)
    assert not planned.recurring_items.get(key="gauges").is_active


def test_restoring_a_row_brings_the_seed_back(world, planned):
    _own(world, "gauges-wet", interval="1 week", before="1 day")
    recurring.restore_item(owner=world.owner_organisation, row="gauges-wet", now=NOW)
    plan_asked(lambda: NOW)
    assert planned.recurring_items.get(key="gauges").interval == "1 month"


def test_an_owner_adds_a_row_of_its_own(world, planned):
    cells = _cells(library.items()[0]) | {
        "title": "Walk the pump room", "interval": "1 week", "before": "1 day", "standard": "",
        "how_known": "common practice, no source", "edition_from": None,
    }  # fmt: skip
    item = recurring.save_item(
        owner=world.owner_organisation, row="", cells=cells, changed_by=world.owner, now=NOW
    )
    plan_asked(lambda: NOW)
    assert open_of(planned, item.key).due_on == TODAY + timedelta(weeks=1)


def _own(world, row, **changes):
    seed = next(item for item in library.items() if item.row == row)
    recurring.save_item(
        owner=world.owner_organisation,
        row=row,
        cells=_cells(seed) | changes,
        changed_by=world.owner,
        now=NOW,
    )
    plan_asked(lambda: NOW)


def _cells(seed):
    return {
        "title": seed.title, "group": seed.group, "system_kinds": " ".join(seed.system_kinds),
        "interval": seed.interval.text, "trigger": "", "before": seed.before.text,
        "after": seed.after.text, "anchor": seed.anchor.value, "season": seed.season,
        "condition": seed.condition, "standard": seed.standard,
        "edition_from": seed.edition_from, "edition_to": seed.edition_to, "clause": seed.clause,
        "source": seed.source, "how_known": seed.how_known, "note": seed.note, "is_used": True,
    }  # fmt: skip


def test_items_of_a_system_are_named_once(planned):
    keys = list(RecurringItem.objects.filter(system=planned).values_list("key", flat=True))
    assert len(keys) == len(set(keys))
