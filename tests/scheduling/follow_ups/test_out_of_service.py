"""A system that is out of service is shown so wherever it is listed or worked on."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry import services
from registry.models import System
from scheduling.follow_ups.impairments import out_of_service
from tests.factories import NOW, make_record, make_system
from tests.restoration import RESTORED
from tests.scheduling.ledger import DAY
from tests.scheduling.orders_world import book, make_crew, make_order
from tests.scheduling.recurring_world import adopt

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def begin(system, at, now=NOW, areas="Bay 1"):
    return make_record(system, "event.impairment_start", at, now=now, areas=areas)


def end(system, at, now=NOW):
    return make_record(system, "event.impairment_end", at, now=now, ends="all", **RESTORED)


def since(system):
    return System.objects.with_impairment().get(pk=system.pk).impaired_since


def test_the_oldest_that_lasts_says_since_when(system):
    assert since(system) is None
    begin(system, NOW - 5 * HOUR)
    begin(system, NOW - 3 * HOUR, areas="Bay 2")
    assert since(system) == NOW - 5 * HOUR
    end(system, NOW - 2 * HOUR)
    assert since(system) is None
    begin(system, NOW - HOUR)
    assert since(system) == NOW - HOUR


def test_what_was_withdrawn_or_belongs_to_another_system_counts_for_nothing(world, system):
    other = make_system(world.site, world.owner)
    mistaken = begin(system, NOW - 5 * HOUR)
    begin(other, NOW - 3 * HOUR)
    services.withdraw(record=mistaken, reason="Other bay", recorded_by=world.owner, now=NOW)
    assert out_of_service([system.pk, other.pk]) == {other.pk: NOW - 3 * HOUR}


def shown(client, page: str) -> str:
    """The page without the white space that stands before a tag."""
    return re.sub(r"\s+<", "<", client.get(page).text)


def test_every_page_that_lists_it_or_leads_to_its_work_says_so_until_it_is_restored(
    client, world, system
):
    now = timezone.now()
    make_crew(world.contractor, "Van 1", world.technician)
    order = make_order(system, now=now)
    morning = (now + DAY).replace(hour=8, minute=0, second=0, microsecond=0)
    booked = book(
        order, world.technician, morning, now=now, crew=world.contractor.crews.get()
    )  # fmt: skip
    adopt(world.site, world.owner, now=now - 400 * DAY)
    begin(system, now - HOUR, now=now)
    pages = [
        reverse("reports:portfolio"),
        world.site.get_absolute_url(),
        system.get_absolute_url(),
        reverse("scheduling:work"),
        order.get_absolute_url(),
        reverse("scheduling:day") + f"?on={booked.starts_at:%Y-%m-%d}",
        reverse("scheduling:due") + "?when=all",
        reverse("scheduling:schedule", args=[system.pk]),
    ]
    client.force_login(world.technician)
    # Cautions speak of "out of service" too, so the words alone would prove nothing.
    words = (
        '<span class="late">Out of service</span>',
        '<span class="late">Impaired</span>',
        "<span class=out>Impaired since",
        '<section class="caution" aria-labelledby="protection">',
        'id="fire-watch"',
        "is out of service<",
    )
    silent = [page for page in pages if not any(word in shown(client, page) for word in words)]
    assert silent == []
    end(system, now, now=now)
    told = [page for page in pages if any(word in shown(client, page) for word in words)]
    assert told == []
