"""The pages of recurring work: one thing that works and what is refused, for each."""

from datetime import date, datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Attachment
from scheduling.models import AdoptedEdition, Occurrence, OwnItem
from scheduling.recurring.replanning import plan_asked
from tests.factories import make_system
from tests.scheduling.recurring_world import (
    adopt,
    complete,
    make_area,
    open_of,
    upload,
)

pytestmark = pytest.mark.django_db


# Views read the clock themselves, so what these tests enter lies a day before it.
YESTERDAY = timezone.now().date() - timedelta(days=1)
NOON = f"{YESTERDAY}T12:00"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def planned(world, system, now):
    adopt(world.site, world.owner, now=now)
    return system


def address(name, *args, **kwargs):
    return reverse(f"scheduling:{name}", args=args, kwargs=kwargs)


def test_work_is_logged_with_findings_readings_and_a_photo(client, world, planned):
    client.force_login(world.technician)
    drain = open_of(planned, "main-drain")
    response = client.post(
        address("occurrence-complete", drain.pk),
        {
            "occurred_at": NOON,
            "found": "noncritical",
            "noncritical": "Sign of the main drain is missing",
            "static_gauge_pa": "82 psi",
            "residual_gauge_pa": "61 psi",
            "files": [upload("drain sign.jpg")],
        },
    )
    (attached,) = Attachment.objects.all()
    record = attached.record
    assert response["Location"] == address("inspection", record.pk)
    assert record.occurred_at == datetime.combine(YESTERDAY, time(12), planned.site.zone)
    assert record.details["noncritical"] == "Sign of the main drain is missing"
    assert record.details["residual_gauge_pa"] == pytest.approx(61 * 6894.757)
    page = client.get(response["Location"]).content.decode()
    assert "drain sign.jpg" in page
    assert "Noncritical deficiency" in page


def test_a_refused_entry_keeps_what_was_typed_and_says_what_is_wrong(client, world, planned):
    client.force_login(world.technician)
    response = client.post(
        address("occurrence-complete", open_of(planned, "gauges").pk),
        {
            "occurred_at": NOON,
            "found": "critical",
            "readings": "Gauge 4 reads 12 low",
            "files": [upload("notes.docx", b"PK\x03\x04word")],
        },
    )
    page = response.content.decode()
    assert "Gauge 4 reads 12 low" in page
    assert "“notes.docx” is not one of JPEG" in page
    assert "a browser does not keep them" in page
    assert not Attachment.objects.exists()


def test_a_class_without_its_finding_is_refused_at_the_field(client, world, planned):
    client.force_login(world.technician)
    response = client.post(
        address("occurrence-complete", open_of(planned, "gauges").pk),
        {"occurred_at": NOON, "found": "critical"},
    )
    assert response.context["form"].errors["critical"] == ["Say what was found, and where."]


def test_a_page_left_lying_tells_that_the_work_was_logged_meanwhile(client, world, planned, now):
    gauges = open_of(planned, "gauges")
    complete(gauges, world.technician, now)
    client.force_login(world.owner)
    response = client.post(
        address("occurrence-complete", gauges.pk),
        {"occurred_at": NOON, "found": "none"},
    )
    assert "done already" in response.content.decode()


def test_an_occurrence_is_skipped_with_a_reason(client, world, planned):
    client.force_login(world.owner)
    gauges = open_of(planned, "gauges")
    client.post(address("occurrence-skip", gauges.pk), {"reason": "Plant shut down"})
    gauges.refresh_from_db()
    assert gauges.status == "skipped"
    assert gauges.record.details["reason"] == "Plant shut down"


def test_work_logged_by_mistake_is_withdrawn_and_due_again(client, world, planned, now):
    due_on = open_of(planned, "gauges").due_on
    written = complete(open_of(planned, "gauges"), world.technician, now)
    client.force_login(world.technician)
    client.post(address("inspection-withdraw", written.pk), {"reason": "Wrong riser"})
    page = client.get(address("inspection", written.pk)).content.decode()
    assert "Wrong riser" in page
    assert open_of(planned, "gauges").due_on == due_on


def test_the_schedule_says_what_is_presumed_and_what_was_done(client, world, planned, now):
    adopted = AdoptedEdition.objects.get()
    complete(open_of(planned, "gauges"), world.technician, now)
    client.force_login(world.viewer)
    page = client.get(address("schedule", planned.pk)).content.decode()
    assert adopted.definition.title in page
    assert "Check the adopted edition" in page
    assert "the stricter interval is presumed" in page
    assert "Read the gauges" in page
    assert "Log it" not in page, "a reader is offered nothing to write"


def test_the_schedule_costs_the_same_queries_however_much_is_on_it(
    client, world, planned, django_assert_max_num_queries
):
    for number in range(5):
        make_area(planned, label=f"Area {number}")
    client.force_login(world.owner)
    with django_assert_max_num_queries(32):
        client.get(address("schedule", planned.pk))


def test_the_list_counts_by_system_with_few_queries(
    client, world, planned, django_assert_max_num_queries
):
    for number in range(5):
        make_system(world.site, world.owner, tag=f"NQ-5{number}")
    adopt(world.site, world.owner, "nfpa25-2020", now=timezone.now())
    client.force_login(world.owner)
    with django_assert_max_num_queries(12):
        response = client.get(address("due"), {"when": "all"})
    assert response.context["page"].paginator.count == 6


def test_the_list_says_how_late_by_the_day_at_the_site(client, world, planned):
    late_at = timezone.now() - timedelta(days=3)
    Occurrence.objects.filter(pk=open_of(planned, "gauges").pk).update(late_at=late_at)
    client.force_login(world.technician)
    page = client.get(address("due"), {"when": "late"}).content.decode()
    assert "3 days late" in page or "4 days late" in page


def test_an_edition_is_adopted_and_given_up_on_the_page_of_the_site(client, world, system):
    client.force_login(world.owner)
    client.post(address("site-edition", world.site.pk), {"edition": "nfpa25-2014"})
    adopted = AdoptedEdition.objects.get()
    assert system.occurrences.open().exists()
    client.post(address("site-edition-end", adopted.pk))
    assert not system.occurrences.open().exists()
    page = client.get(address("site-edition", world.site.pk)).content.decode()
    assert "ended by Olive Manager" in page


@pytest.mark.parametrize("day", ["31 October", "02-30", "13-01"])
def test_a_winter_needs_days_of_the_year(client, world, day):
    client.force_login(world.owner)
    response = client.post(
        address("site-winter", world.site.pk),
        {"has_frost": "on", "ready_by": day, "over_from": "04-15"},
    )
    assert "ready_by" in response.context["form"].errors


def test_answers_for_one_system_can_hold_for_all_of_its_kind(client, world, planned):
    twin = make_system(world.site, world.owner, tag="NQ-102")
    dry = make_system(world.site, world.owner, tag="NQ-103", kind="dry")
    client.force_login(world.owner)
    client.post(
        address("schedule-answers", planned.pk), {"backflow_only_supply": "no", "for_all": "on"}
    )
    assert planned.answers.get().answer is False
    assert twin.answers.get().answer is False
    assert not dry.answers.exists()


def _row(**changes):
    return {
        "title": "Main drain test", "group": "test", "system_kinds": ["wet", "dry"],
        "interval": "6 months", "before": "1 month", "after": "", "anchor": "completion",
        "season": "", "condition": "", "standard": "NFPA 25", "source": "Our insurer asks for it",
        "how_known": "read", "is_used": "on", **changes,
    }  # fmt: skip


def test_an_owner_changes_a_row_and_takes_the_change_back(client, world, planned):
    client.force_login(world.owner)
    row = {"pk": world.owner_organisation.pk, "row": "main-drain-backflow-only-supply"}
    client.post(address("library-row", **row), _row(condition="backflow_only_supply"))
    plan_asked(timezone.now)
    assert planned.recurring_items.get(key="main-drain").interval == "6 months"
    page = client.get(address("library-owner", row["pk"])).content.decode()
    assert "Own version" in page
    client.post(address("library-restore", **row))
    plan_asked(timezone.now)
    assert planned.recurring_items.get(key="main-drain").interval == "3 months"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"interval": "now and then"}, "interval"),
        ({"interval": "", "trigger": ""}, "interval"),
        ({"interval": "0 days"}, "interval"),
        ({"interval": "9999 years"}, "interval"),
        ({"before": "7 months"}, "before"),
        ({"edition_from": "2020", "edition_to": "2014"}, "edition_to"),
        ({"season": "before_freezing", "interval": "1 year"}, "anchor"),
        ({"season": "before_freezing", "anchor": "calendar"}, "interval"),
        ({"system_kinds": []}, "system_kinds"),
        ({"source": ""}, "source"),
    ],
)
def test_a_row_that_cannot_recur_is_refused_at_its_field(client, world, changes, field):
    client.force_login(world.owner)
    response = client.post(address("library-new", world.owner_organisation.pk), _row(**changes))
    assert field in response.context["form"].errors
    assert not OwnItem.objects.exists()


def test_a_row_that_is_not_in_the_library_is_not_found(client, world):
    client.force_login(world.owner)
    path = address("library-row", world.owner_organisation.pk, "no-such-row")
    assert client.get(path).status_code == 404


def test_the_day_work_was_last_done_is_set_on_its_page(client, world, planned):
    item = planned.recurring_items.get(key="internal-assessment")
    client.force_login(world.owner)
    client.post(address("last-done", item.pk), {"last_done_on": "2023-05-01"})
    assert open_of(planned, item.key).due_on == date(2028, 5, 1)
    response = client.post(address("last-done", item.pk), {"last_done_on": "2123-05-01"})
    assert "in the future" in response.content.decode()


def test_a_sample_area_is_entered_and_taken_out(client, world, planned):
    client.force_login(world.owner)
    facts = {
        "label": "Cold store", "sprinkler_type": "dry", "environment": "", "count": "250",
        "installed_on": "2010-01-01",
    }  # fmt: skip
    client.post(address("sprinklers-new", planned.pk), facts)
    area = planned.sprinkler_areas.get()
    assert open_of(planned, f"sprinkler-sample-{area.pk}").due_on == date(2020, 1, 1)
    client.post(address("sprinklers-edit", area.pk), facts | {"is_removed": "on"})
    assert not planned.occurrences.open().filter(item__area=area).exists()


def test_two_sample_areas_of_a_name_are_refused(client, world, planned):
    make_area(planned, label="Cold store")
    client.force_login(world.owner)
    facts = {"label": "Cold store", "sprinkler_type": "dry", "count": "5"}
    response = client.post(
        address("sprinklers-new", planned.pk), facts | {"installed_on": "2010-01-01"}
    )
    assert response.status_code == 200
    assert planned.sprinkler_areas.count() == 1
