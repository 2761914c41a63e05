"""The tag of a feed's file: another wherever the file is another, the same where it is not."""

from datetime import date, timedelta

import pytest
from django.db import connection, models, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from registry.models import Building, Organisation, ServiceContract, Site, System
from scheduling.calendars import file as calendar
from scheduling.calendars.file import CalendarFile
from scheduling.calendars.tokens import issue_token
from scheduling.models import Crew, FeedToken, Task
from tests.effort import many
from tests.factories import NOW, make_building, make_system
from tests.kept import Kept
from tests.scheduling.ledger import DAY, accept, head_break

pytestmark = [pytest.mark.django_db, pytest.mark.thorough]
HOUR = timedelta(hours=1)
SHOWN_OF = (Task, System, Building, Site, Organisation, Crew)
NOT_FREE = {"id", "uuid", "site", "system", "owner"}
SELDOM_SHOWN = {"due_at", "closing_note"}  # by its day alone; only once it is closed
OTHER = {
    "status": "withdrawn", "work_state": "accepted",
    "kind": {Task: "obstruction", System: "dry", Organisation: "auditor"},
    "rule": "in_doubt", "time_zone": "America/Chicago", "gas_supply": "generator",
    "hazard": "light", "installed_precision": "year",
}  # fmt: skip


def make_token(world):
    """Of a person with one open and one closed follow-up, in a building, one with a crew."""
    System.objects.update(building=make_building(world.site, "Shed 4"))
    head_break(System.objects.get(), NOW - 2 * DAY)
    other = make_system(world.site, world.owner, tag="NQ-102")
    head_break(other, NOW - 2 * DAY)
    accept(other, NOW - DAY)
    crew = Crew.objects.create(organisation=world.contractor, name="Van 1")
    Task.objects.update(crew=crew)
    made, _ = issue_token(user=world.technician, label="Work", scope="person", now=NOW)
    return made


TOKEN = Kept(make_token)


@pytest.fixture
def token(world, system):
    return TOKEN(world)


def read(token, now=NOW) -> tuple[str, bytes]:
    """Tag and file as a reader gets them who has nothing of before, from a process that has not."""
    calendar.PIECES.clear()
    file = CalendarFile(token, now)
    body = file.body()
    return file.tag, body


def tag(token, now=NOW) -> str:
    """What the answer to a reader who has the file already is judged by."""
    return CalendarFile(token, now).tag


def free_fields():
    """Every stored value that could come to be shown, whether or not it is today."""
    for model in SHOWN_OF:
        for field in model._meta.concrete_fields:
            if field.name not in NOT_FREE and not field.is_relation:
                yield pytest.param(model, field, id=f"{model.__name__}.{field.name}")


def other_value(model, field, old):
    if field.name in OTHER:
        other = OTHER[field.name]
        return other[model] if isinstance(other, dict) else other
    if isinstance(field, models.DateTimeField):
        return (old or NOW) + timedelta(minutes=7)
    if isinstance(field, models.DateField):
        return (old or date(2020, 1, 1)) + DAY
    if isinstance(field, models.BooleanField):
        return not old
    if isinstance(field, models.IntegerField | models.FloatField):
        return (old or 1) + 1
    return f"{old}b"[-(field.max_length or 1000) :]


@pytest.mark.parametrize(("model", "field"), list(free_fields()))
def test_a_change_of_any_stored_value_changes_the_tag_where_it_changes_the_file(
    token, model, field
):
    """Past every service and signal, straight in the database; one field at a time, and all of
    them, so that one added later is tried too."""
    before, body = read(token)
    assert tag(token) == before
    row = model.objects.order_by("pk").first()
    value = other_value(model, field, getattr(row, field.name))
    changed = {field.name: value}
    if field.name == "status":
        changed["closed_at"] = NOW
    if field.name == "starts_at":
        changed["ends_at"] = value + 3 * HOUR
    if field.name == "closed_at":
        changed["status"] = "done"
    with connection.constraint_checks_disabled():
        model.objects.filter(pk=row.pk).update(**changed)
    judged = tag(token, NOW + HOUR)
    after, new_body = read(token, NOW + HOUR)
    if new_body != body:
        assert judged != before
    if field.name not in SELDOM_SHOWN:
        assert (new_body != body) == (after != before)
    assert tag(token, NOW + HOUR) == after, "a reader who has the file need not fetch it again"


CHANGES = {
    "site": lambda word: Site.objects.update(name=f"Quay {word}"),
    "address": lambda word: Site.objects.update(address=f"{word} Road\nAverhythe"),
    "building": lambda word: Building.objects.update(name=f"Shed {word}"),
    "tag": lambda word: System.objects.filter(tag__startswith="NQ-101").update(tag=f"NQ-101{word}"),
    "party": lambda word: Organisation.objects.filter(kind="contractor").update(name=f"T {word}"),
    "crew": lambda word: Crew.objects.update(name=f"Van {word}"),
    "title": lambda word: Task.objects.filter(status="open").update(title=f"Order {word}"),
    "why": lambda word: Task.objects.update(why=f"Because {word}"),
    "moved": lambda word: Task.objects.update(
        starts_at=models.F("starts_at") + len(word) * HOUR,
        ends_at=models.F("ends_at") + len(word) * HOUR,
    ),
    "unseen": lambda word: Task.objects.update(turn=models.F("turn") + 1),
    "left": lambda word: ServiceContract.objects.update(ends_on=date(2021, 1, 1)),
    "back": lambda word: ServiceContract.objects.update(ends_on=None),
    "label": lambda word: FeedToken.objects.update(label=f"Work {word}"),
    "alarm": lambda word: FeedToken.objects.update(alarm="hour" if len(word) % 2 else "week"),
    "detail": lambda word: FeedToken.objects.update(detail="brief" if len(word) % 2 else "full"),
}


@examples(
    max_examples=many(25),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(
        st.tuples(st.sampled_from(sorted(CHANGES)), st.sampled_from(["a", "b", "aa"])), max_size=6
    )
)
def test_over_any_changes_equal_tags_and_equal_files_go_together(token, changes):
    """Also back and forth, so that an older file may come again."""
    with transaction.atomic():
        _go_through(token, changes)
        transaction.set_rollback(True)


def _go_through(token, changes):
    seen: dict[str, bytes] = {}
    tags: dict[bytes, str] = {}
    for hour, change in enumerate([None, *changes]):
        if change:
            CHANGES[change[0]](change[1])
        reader = FeedToken.objects.select_related("user").get(pk=token.pk)
        judged = tag(reader, NOW + hour * HOUR)
        file = CalendarFile(reader, NOW + hour * HOUR)
        found, mark = file.body(), file.tag
        if judged in seen:
            assert found == seen[judged], "a reader was told that nothing changed"
        assert seen.setdefault(mark, found) == found
        assert tag(reader, NOW + hour * HOUR) == mark
        # An empty file is the same for every alarm, and the one thing with several tags.
        assert b"VEVENT" not in found or tags.setdefault(found, mark) == mark


def test_what_leaves_by_time_alone_changes_the_tag(token):
    before, body = read(token)
    later = NOW + 40 * DAY
    judged = tag(token, later)
    after, new_body = read(token, later)
    assert new_body != body and before not in (judged, after)
    assert tag(token, later) == after


def test_a_remembered_entry_is_the_one_that_would_be_written_now(token):
    _, fresh = read(token)
    Task.objects.filter(status="open").update(title="Order of another name")
    warm = CalendarFile(token, NOW + HOUR).body()
    assert read(token, NOW + HOUR)[1] == warm != fresh


def test_two_feeds_of_the_same_follow_ups_do_not_share_a_tag(token, world):
    loud, _ = issue_token(user=token.user, label="Work", scope="person", now=NOW, alarm="week")
    assert tag(loud) != tag(token)


def test_telling_that_nothing_changed_asks_one_question(token):
    read(token)
    with CaptureQueriesContext(connection) as asked:
        tag(token)
    assert len(asked) == 1


def test_a_feed_at_another_public_address_has_another_tag(token, settings):
    before = tag(token)
    settings.PUBLIC_URL = "https://book.averhythe.example"
    assert tag(token) != before
