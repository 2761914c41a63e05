"""My work and the page of one follow-up: what is shown to whom, in which order."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Building, Fitting
from scheduling.models import Task
from tests.factories import make_site, make_system
from tests.scheduling.ledger import DAY, accept, head_break, read

pytestmark = pytest.mark.django_db
WORK = reverse("scheduling:work")


@pytest.fixture
def now():
    """The pages read the clock, so these ledgers stand in the present."""
    return timezone.now()


@pytest.fixture
def order(system, now):
    head_break(system, now - DAY, now=now - DAY)
    return Task.objects.get()


def page(client, person, address, **query):
    client.force_login(person)
    return client.get(address, query)


def titles(response):
    return [row.task.title for group in response.context["groups"] for row in group.rows]


def test_my_work_lists_what_is_open_with_system_place_state_and_term(client, order, technician):
    response = page(client, technician, WORK)
    html = response.content.decode()
    assert "1 open follow-up." in html
    assert "NQ-101" in html and "North Quay" in html
    assert 'class="state state-aerated"' in html
    assert "Due by" in html
    assert order.get_absolute_url() in html


def test_my_work_asks_for_a_sign_in(client):
    response = client.get(WORK)
    assert response.status_code == 302
    assert reverse("account_login") in response["Location"]


def test_a_stranger_sees_none_of_it(client, order, stranger):
    assert titles(page(client, stranger, WORK)) == []
    assert page(client, stranger, order.get_absolute_url()).status_code == 404


def test_groups_say_what_is_overdue_what_comes_this_week_and_what_comes_later(client, world, now):
    for days_known, tag in ((20, "NQ-1"), (12, "NQ-2"), (1, "NQ-3")):
        one = make_system(world.site, world.owner, tag=tag)
        head_break(one, now - days_known * DAY, now=now - days_known * DAY)
    groups = page(client, world.technician, WORK).context["groups"]
    assert [(g.name, [row.task.system.tag for row in g.rows]) for g in groups] == [
        ("Overdue", ["NQ-1"]),
        ("In the next 7 days", ["NQ-2"]),
        ("Later", ["NQ-3"]),
    ]
    assert "6 days late" in page(client, world.technician, WORK).content.decode()


def test_orders_come_first_for_those_who_carry_them_out(client, world, now):
    accepted = make_system(world.site, world.owner, tag="NQ-1")
    accept(accepted, now - DAY / 2, now=now)
    read(accepted, now, 98.5, now=now)
    broken = make_system(world.site, world.owner, tag="NQ-2")
    head_break(broken, now - DAY, now=now + 20 * DAY)
    confirm, order = "30-day nitrogen check", "Re-inerting order"
    Task.objects.filter(title=confirm).update(due_at=now + 30 * DAY)
    Task.objects.filter(title=order).update(due_at=now + 34 * DAY)
    assert titles(page(client, world.technician, WORK))[:2] == [order, confirm]
    assert titles(page(client, world.owner, WORK))[:2] == [confirm, order]


def test_the_list_can_be_narrowed_to_a_site_and_to_my_organisation(client, world, order, now):
    unserved = make_site(world.owner_organisation, name="South Quay")
    head_break(make_system(unserved, world.owner, tag="SQ-1"), now - DAY, now=now)

    def tags(**query):
        groups = page(client, world.owner, WORK, **query).context["groups"]
        return {row.task.system.tag for group in groups for row in group.rows}

    assert tags() == {"NQ-101", "SQ-1"}
    assert tags(site=unserved.pk) == {"SQ-1"}
    assert tags(whose="us") == {"SQ-1"}
    assert tags(site="nonsense", whose="nonsense") == {"NQ-101", "SQ-1"}


def test_a_site_of_a_stranger_cannot_be_asked_for(client, world, order):
    response = page(client, world.stranger, WORK, site=world.site.pk)
    assert response.status_code == 200
    assert titles(response) == []
    assert "North Quay" not in response.content.decode()


def test_an_empty_list_says_how_work_appears(client, technician):
    assert "A follow-up appears by itself" in page(client, technician, WORK).content.decode()


@pytest.mark.parametrize("count", [2, 8])
def test_my_work_asks_the_same_number_of_questions_however_long_it_is(
    client, world, now, count, django_assert_num_queries
):
    for number in range(count):
        one = make_system(world.site, world.owner, tag=f"NQ-{number}")
        head_break(one, now - DAY, now=now)
    client.force_login(world.technician)
    with django_assert_num_queries(13):
        client.get(WORK)


def test_the_order_page_holds_what_the_worker_needs(client, order, system, world, now):
    building = Building.objects.create(
        site=system.site, name="Shed 4", access_note="Ask at the gate for the key to the riser room"
    )
    system.building = building
    system.save()
    Fitting.objects.create(system=system, kind="vent", label="V-3", location="north end")
    read(system, now - timedelta(hours=2), 85.0, now=now)
    html = page(client, world.technician, order.get_absolute_url()).content.decode()
    for words in (
        "Ask at the gate",
        "1 Quay Road",
        "Europe/London",
        "Black steel",
        "V-3, north end",
        "Nitrogen: 85",
        "30",
        "weakest component",
        "Draining takes the fire protection away",
        "authority having jurisdiction",
        order.cause.get_absolute_url(),
        reverse("registry:run-plan", args=[system.pk]),
        reverse("registry:record-new", args=[system.pk, "reading.gas"]),
    ):
        assert words in html, words


def test_a_reader_sees_the_order_and_no_buttons(client, order, viewer):
    html = page(client, viewer, order.get_absolute_url()).content.decode()
    assert "Re-inerting order" in html
    assert "Start the inerting run" not in html


def test_a_closed_order_says_what_closed_it(client, order, system, technician, now):
    run = accept(system, now - timedelta(hours=1), now=now)
    html = page(client, technician, order.get_absolute_url()).content.decode()
    assert "Done" in html
    assert run.get_absolute_url() in html
    assert "Start the inerting run" not in html


def test_a_confirming_reading_says_from_when_it_counts(client, system, technician, now):
    accept(system, now - timedelta(hours=1), now=now)
    task = Task.objects.get(title="30-day nitrogen check")
    html = page(client, technician, task.get_absolute_url()).content.decode()
    assert "Window opens" in html
    assert "Draining takes" not in html
