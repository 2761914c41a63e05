"""The digest by which a feed with recurring work and impairments says that nothing changed."""

from datetime import date, timedelta

import pytest
from django.db import connection, models

from registry.models import Building, ProtectionSpan, Site, System
from scheduling.calendars.ics import build_feed
from scheduling.calendars.pulse import Pulse
from scheduling.calendars.scope import other_entries
from scheduling.calendars.tokens import issue_token
from scheduling.models import Occurrence, RecurringItem
from tests.factories import NOW, make_building, make_record
from tests.kept import Kept
from tests.scheduling.recurring_world import adopt

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
SHOWN_OF = (Occurrence, RecurringItem, System, Building, Site, ProtectionSpan)
OTHER = {
    "interval": "2 weeks", "anchor": "calendar", "group": "test",
    "status": "withdrawn", "time_zone": "America/Chicago", "kind": "dry", "state": "in_service",
    "gas_supply": "generator", "hazard": "light", "installed_precision": "year",
    "unanswered": "planned",
}  # fmt: skip
MUST_SHOW = {"Occurrence.due_on", "RecurringItem.title", "System.tag", "Site.name", "Site.address"}


def make_token(world):
    system = System.objects.get()
    System.objects.update(building=make_building(world.site, "Shed 4"))
    adopt(world.site, world.owner)
    make_record(system, "event.impairment_start", NOW - DAY, now=NOW, areas="all of it")
    holds = ("tasks", "recurring", "impairments")
    made, _ = issue_token(user=world.owner, label="All", scope="person", now=NOW, holds=holds)
    return made


TOKEN = Kept(make_token)


@pytest.fixture
def token(world, system):
    return TOKEN(world)


def shown(token) -> bytes:
    return build_feed("All", other_entries(token, NOW))


def digest(token) -> bytes:
    """Of the facts alone: revisions change when changed entries are written, which is too late."""
    return Pulse(token, NOW).beat().facts


def free_fields():
    """Every stored value that could come to be shown, so that one added later is tried too."""
    for model in SHOWN_OF:
        for field in model._meta.concrete_fields:
            is_free = not (field.is_relation or field.primary_key or field.name == "uuid")
            if is_free and not isinstance(field, models.JSONField):
                yield pytest.param(model, field, id=f"{model.__name__}.{field.name}")


def other_value(field, old):
    if field.name in OTHER:
        return OTHER[field.name]
    if isinstance(field, models.DateTimeField):
        return (old or NOW) + timedelta(minutes=7)
    if isinstance(field, models.DateField):
        return (old or date(2020, 1, 1)) + DAY
    if isinstance(field, models.BooleanField):
        return not old
    if isinstance(field, models.IntegerField | models.FloatField):
        return (old or 1) + 1
    return f"{old}b"[-(field.max_length or 1000) :]


def shown_row(model, token):
    """A row that the feed shows: of work, one on the calendars."""
    rows = model.objects.order_by("pk")
    if model is Occurrence:
        rows = rows.filter(status="open", due_on__gte=NOW.date()).order_by("due_on", "pk")
    if model is RecurringItem:
        return shown_row(Occurrence, token).item
    return rows.last() if model is ProtectionSpan else rows.first()


@pytest.mark.parametrize(("model", "field"), list(free_fields()))
def test_a_change_of_any_row_that_is_shown_changes_the_digest(token, model, field):
    """Past every service and signal, straight in the database, one value at a time."""
    before, body = digest(token), shown(token)
    assert body.count(b"BEGIN:VEVENT") > 2 and digest(token) == before
    row = shown_row(model, token)
    changed = {field.name: other_value(field, getattr(row, field.name))}
    if field.name == "due_on":
        changed["closes_on"] = row.closes_on + 2 * DAY
    if field.name == "settled_at":
        changed["status"] = "done"
    if field.name == "status":
        changed["settled_at"] = NOW
    with connection.constraint_checks_disabled():
        model.objects.filter(pk=row.pk).update(**changed)
    judged = digest(token)  # before the entries are made anew
    is_other = shown(token) != body
    if is_other:
        assert judged != before
    if f"{model.__name__}.{field.name}" in MUST_SHOW:
        assert is_other, "nothing that is shown was changed: the test would prove nothing"


def test_what_no_feed_shows_leaves_the_digest_as_it_is(token):
    before = digest(token)
    Site.objects.update(altitude_m=77)
    assert digest(token) == before
