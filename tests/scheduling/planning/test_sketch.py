"""The blank grid: to scale, and never with what somebody may not see."""

import re

import pytest
from django.urls import reverse

from scheduling.planning.said.sketch import HEIGHT, WIDTH, Known, sketch_of
from tests.factories import make_organisation, make_site
from tests.scheduling.planning_world import HOME, KM_EAST, KM_NORTH, make_depot, place


def km_apart(one, two, sketch):
    km_a_unit = sketch.km_a_square / sketch.square
    return ((one.x - two.x) ** 2 + (one.y - two.y) ** 2) ** 0.5 * km_a_unit


def test_distances_are_to_scale_and_north_is_up():
    north = Known("North", HOME[0] + 60 * KM_NORTH, HOME[1], "site")
    east = Known("East", HOME[0], HOME[1] + 80 * KM_EAST, "site")
    home = Known("Yard", *HOME, "depot")
    sketch = sketch_of([home, north, east])
    at = {mark.name: mark for mark in sketch.marks}
    assert km_apart(at["Yard"], at["North"], sketch) == pytest.approx(60, rel=0.01)
    assert km_apart(at["Yard"], at["East"], sketch) == pytest.approx(80, rel=0.01)
    assert at["North"].y < at["Yard"].y and at["East"].x > at["Yard"].x
    assert all(0 < mark.x < WIDTH and 0 < mark.y < HEIGHT for mark in sketch.marks)


@pytest.mark.parametrize("where", [(0.0, 0.0), (89.9, 10.0), (-45.0, 179.9)])
def test_a_click_on_a_mark_gives_its_degrees_back(where):
    sketch = sketch_of([Known("Here", *where, "here")])
    (mark,) = sketch.marks
    latitude = sketch.north - mark.y * sketch.per_y
    longitude = sketch.east + mark.x * sketch.per_x
    assert (latitude, longitude) == pytest.approx(where, abs=0.002 * max(1, sketch.per_x * 1000))


def test_nothing_known_gives_no_sketch():
    assert sketch_of([]) is None


@pytest.mark.django_db
def test_the_page_draws_what_the_person_may_record_at_and_nothing_else(client, world):
    make_depot(world.contractor)
    own = make_site(world.owner_organisation, world.contractor, name="Asked")
    seen = make_site(world.owner_organisation, world.contractor, name="Seen")
    other = make_site(make_organisation(), name="Hidden")
    place(seen, world.owner, north_km=5)
    place(other, world.owner, north_km=7)
    client.force_login(world.technician)
    html = client.get(reverse("scheduling:place-edit", args=[own.pk])).content.decode()
    names = re.findall(r"<title>(\w+)</title></circle>", html)
    assert sorted(names) == ["Seen", "Yard"]
    assert 'id="sketch-own" class="here" r="9" cx="300" cy="200" hidden' in html
