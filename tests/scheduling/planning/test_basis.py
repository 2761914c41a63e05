"""What plans rest on, typed on pages or read from a file, and checked at its field."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from scheduling.models import Crew, Depot, Place, PlanningPolicy, WorkTime
from scheduling.planning.said.degrees import PlaceError, parse_place, place_text
from tests.factories import make_building, make_user
from tests.scheduling.orders_world import make_crew, make_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(world):
    return make_user(world.contractor, "manager", "Mo Dispatcher")


@pytest.mark.parametrize(
    "typed, read",
    [
        ("52.0511, 1.1483", (52.0511, 1.1483)),
        ("52.0511 N 1.1483 W", (52.0511, -1.1483)),
        ("-33.9, 18.4", (-33.9, 18.4)),
        ("52,0511; 1,1483", (52.0511, 1.1483)),
        ("", None),
    ],
)
def test_places_are_read_as_maps_show_them(typed, read):
    assert parse_place(typed) == read


@pytest.mark.parametrize("typed", ["91, 0", "0, 181", "North Quay", "52.1"])
def test_places_that_cannot_be_say_what_would_be_right(typed):
    with pytest.raises(PlaceError, match="latitude"):
        parse_place(typed)


def test_a_place_reads_as_it_is_shown():
    assert parse_place(place_text(52.05114, -1.14832)) == (52.05114, -1.14832)


def test_a_contractors_technician_says_where_a_site_lies_and_when_it_opens(client, world, system):
    make_order(system)
    client.force_login(world.technician)
    address = reverse("scheduling:place-edit", args=[world.site.pk])
    wrong = client.post(address, {"where": "here", "hours": "mornings"})
    html = wrong.content.decode()
    assert "cannot be read" in html and "no day of the week" in html and "mornings" in html
    client.post(address, {"where": "52.05, 1.15", "hours": "10:00 to 15:00"})
    place = Place.objects.get(site=world.site)
    assert (place.latitude, place.hours) == (52.05, "Mon-Sun 10:00-15:00")
    assert "Mon-Sun 10:00-15:00" in client.get(reverse("scheduling:planning")).content.decode()
    client.post(address, {"where": "", "hours": ""})
    assert not Place.objects.exists()


def test_hours_that_never_open_are_questioned(client, world):
    client.force_login(world.owner)
    address = reverse("scheduling:place-edit", args=[world.site.pk])
    html = client.post(address, {"where": "", "hours": "closed"}).content.decode()
    assert "lets no order in" in html


def test_a_building_has_hours_of_its_own(client, world):
    shed = make_building(world.site, "Shed")
    client.force_login(world.owner)
    client.post(
        reverse("scheduling:place-building", args=[world.site.pk, shed.pk]),
        {"where": "", "hours": "Sat 9-12"},
    )
    assert Place.objects.get(building=shed).hours == "Sat 09:00-12:00"


def test_a_manager_sets_up_a_depot_and_counting_it_is_dated(client, world, manager):
    client.force_login(manager)
    address = reverse("scheduling:depot-new", args=[world.contractor.pk])
    data = {"name": "Yard", "where": "52, 1", "full_cylinders": "12", "deliveries": "Monday"}
    assert "write a day and a number" in client.post(address, data).content.decode()
    assert client.post(address, data | {"deliveries": "2026-12-01 6"}).status_code == 302
    depot = Depot.objects.get()
    assert (depot.full_cylinders, depot.latitude) == (12, 52.0) and depot.counted_on
    assert "already" in client.post(address, data | {"deliveries": ""}).content.decode()


def test_a_manager_states_how_long_work_takes_and_the_mark_goes(client, world, manager):
    client.force_login(manager)
    page = reverse("scheduling:planning")
    before = client.get(page).content.decode().count("assumed")
    address = reverse("scheduling:work-time", args=[world.contractor.pk, "reinerting_order"])
    client.post(
        address, {"minutes": "150", "minutes_per_m3": "20", "skills": "Lift", "impairs": "on"}
    )
    row = WorkTime.objects.get()
    assert (row.minutes, row.skills, row.impairs) == (150, "lift", True)
    assert client.get(page).content.decode().count("assumed") == before - 1


def test_a_manager_states_ways_and_breaks(client, world, manager):
    client.force_login(manager)
    address = reverse("scheduling:planning-policy", args=[world.contractor.pk])
    data = {
        "speed": "60", "detour_percent": "130", "minutes_unplaced": "20", "break_minutes": "30",
        "break_from": "12:00", "break_to": "11:00", "restock_minutes": "20", "cylinder": "large",
        "drive_cost": "2", "overtime_cost": "6", "move_cost": "100",
    }  # fmt: skip
    assert "earlier than the hour before" in client.post(address, data).content.decode()
    client.post(address, data | {"break_to": "13:00"})
    assert PlanningPolicy.objects.get().metres_per_minute == 1000


def test_a_crews_hours_and_days_away_are_checked_at_their_fields(client, world, manager):
    crew = make_crew(world.contractor)
    client.force_login(manager)
    address = reverse("scheduling:crew-edit", args=[crew.pk])
    data = {"name": "Van 1", "people": [world.technician.pk], "is_active": "on"}
    html = client.post(address, data | {"hours": "8-", "absences": "Monday"}).content.decode()
    assert html.count("cannot be read") >= 2
    client.post(address, data | {"hours": "mon-fri 8-16", "cylinder_places": "0"})
    crew.refresh_from_db()
    assert (crew.hours, crew.cylinder_places) == ("Mon-Fri 08:00-16:00", 0)


HEADINGS = (
    "site;building;depot;crew;work;latitude;longitude;access hours;hours;skills;cylinder places;"
    "full cylinders;minutes;out of service;Colour\n"
)
FILE = f"""{HEADINGS}North Quay;;;;;52,05;1,15;10:00 to 15:00;;;;;;;
;;Yard;;;52.0;1.0;;;;;24;;;
;;Yard;Van 7;;;;;Mon-Fri 7-16;lift, camera;8;;;;
;;;;Re-inerting order;;;;;;;;150;yes;
Nowhere;;;;;1;1;;;;;;;;
;;;Van 8;;;;;8-;;;;;;
;;;;Dancing;;;;;;;;10;;
;;;;Nitrogen check;;;;;;;;soon;;
"""


def test_all_of_it_comes_from_one_file_and_bad_rows_are_named(client, world, manager):
    client.force_login(manager)
    address = reverse("scheduling:planning-import", args=[world.contractor.pk])
    given = SimpleUploadedFile("planning.csv", FILE.encode("utf-8-sig"))
    html = client.post(address, {"file": given}).content.decode()
    assert "4 rows are taken" in html and "Colour" in html
    for words in (
        "Row 6: there is no one site “Nowhere”", "Row 7: “8-” cannot be read",
        "Row 8: “Dancing” is no work of the book", "Row 9: minutes must be a whole number",
    ):  # fmt: skip
        assert words in html, words
    assert Place.objects.get().latitude == 52.05
    crew = Crew.objects.get()
    assert (crew.hours, crew.skills, crew.depot.full_cylinders) == (
        "Mon-Fri 07:00-16:00", "camera, lift", 24,
    )  # fmt: skip
    assert WorkTime.objects.get().impairs
    again = SimpleUploadedFile("planning.csv", FILE.encode())
    client.post(address, {"file": again})
    assert (Crew.objects.count(), Depot.objects.count()) == (1, 1)


@pytest.mark.parametrize("content", [b"\xff\xfe", b""])
def test_a_file_that_is_no_csv_in_utf8_is_refused_at_its_field(client, world, manager, content):
    client.force_login(manager)
    address = reverse("scheduling:planning-import", args=[world.contractor.pk])
    response = client.post(address, {"file": SimpleUploadedFile("x.csv", content)})
    assert b"UTF-8" in response.content or b"empty" in response.content
