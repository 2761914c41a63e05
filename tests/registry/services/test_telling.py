"""What is told at a sign: unconfirmed in the ledger, words beside it, one question, an answer."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.chain import verify
from registry.models import Telling
from registry.services.ledger import links, record
from registry.services.telling import MOST_OPEN, digest_of, dismiss, erase, open_tellings
from scheduling.models import Message, Task
from scheduling.verifying import verify_system
from tests.factories import NOW, make_system
from tests.registry.sign_world import hang_sign, told
from tests.scheduling.ledger import DAY, accept, read
from tests.scheduling.recurring_world import JPEG

pytestmark = pytest.mark.django_db


@pytest.fixture
def system(world):
    system = make_system(world.site, world.owner, now=NOW - 20 * DAY)
    accept(system, NOW - 10 * DAY)
    read(system, NOW - 9 * DAY, 98.6)
    record(
        system=system, kind="event.impairment_end", occurred_at=NOW - 9 * DAY,
        details=dict.fromkeys(
            ("water_filled", "valves_open", "tested", "signals_back", "notified"), "yes"
        ),
        recorded_by=world.owner, now=NOW,
    )  # fmt: skip
    return system


@pytest.fixture
def sign(system, world):
    return hang_sign(system, world.owner, NOW).sign


def state(system):
    return system.spans.filter(starts_at__lte=NOW).order_by("-starts_at").first().state


def protection(system):
    return system.protection_spans.order_by("-starts_at").first().state


def test_a_telling_puts_the_system_in_doubt_and_tells_contractor_and_owner(system, sign, world):
    assert (state(system), protection(system)) == ("inert", "in_service")
    telling = told(sign, "head_break", NOW)
    assert (state(system), protection(system)) == ("in_doubt", "not_known")
    assert telling.record.definition.label == "Told at the sign, unconfirmed"
    assert not telling.record.recorded_by.is_active
    task = Task.objects.open().get(system=system, rule="told")
    assert "not confirmed" in task.why and "A sprinkler opened" in task.why
    people = set(Message.objects.filter(task=task).values_list("person", flat=True))
    assert people == {world.technician.pk, world.owner.pk}


def test_what_was_typed_is_beside_the_ledger_which_holds_its_salted_digest(system, sign):
    telling = told(sign, now=NOW, words="Bay 4", contact="Pat, 555 0199")
    said = telling.record.details["told_sha256"]
    assert said == digest_of(telling.salt, "Bay 4", "Pat, 555 0199") == telling.sha256
    assert "Pat" not in str(telling.record.details) and "Bay 4" not in str(telling.record.details)
    assert told(sign, now=NOW, words="Bay 4", contact="Pat, 555 0199").sha256 != said


def test_twenty_tellings_are_one_question_and_one_message_to_each(system, sign, world):
    for number in range(20):
        told(sign, "leak", NOW + timedelta(minutes=number), words=f"Again, {number}")
    assert open_tellings(system).count() == MOST_OPEN
    assert Telling.objects.filter(record__system=system).count() == 20
    task = Task.objects.open().get(system=system, rule="told")
    assert Message.objects.filter(task=task, person=world.technician).count() == 1
    assert Message.objects.filter(task=task, person=world.owner).count() == 1


def test_sent_twice_it_is_told_once(system, sign):
    key = uuid4()
    first = told(sign, now=NOW, client_key=key, words="Bay 4")
    assert told(sign, now=NOW, client_key=key, words="Bay 4") == first
    assert open_tellings(system).count() == 1


def test_a_dismissal_takes_the_doubt_back_and_closes_the_question(system, sign, world):
    told(sign, now=NOW)
    told(sign, "fire", NOW)
    dismiss(records=list(open_tellings(system)), reason="A drill.", by=world.technician, now=NOW)
    assert (state(system), protection(system)) == ("inert", "in_service")
    assert not Task.objects.open().filter(system=system, rule__in=("told", "in_doubt")).exists()
    withdrawn = system.records.filter(details__reason="A drill.")
    assert withdrawn.count() == 2


def test_a_confirmation_is_the_ordinary_event_and_raises_its_order(system, sign, world):
    telling = told(sign, "head_break", NOW)
    record(
        system=system, kind="event.head_break", occurred_at=NOW, details={"count": 1},
        recorded_by=world.technician, supersedes=telling.record, now=NOW,
    )  # fmt: skip
    assert state(system) == "aerated" and protection(system) == "impaired"
    rules = set(Task.objects.open().filter(system=system).values_list("rule", flat=True))
    assert "aerated" in rules and "told" not in rules


def test_erased_words_and_photos_are_gone_and_the_chain_still_holds(
    system, sign, world, django_capture_on_commit_callbacks
):
    photo = SimpleUploadedFile("Pat Smith.jpg", JPEG)
    telling = told(sign, now=NOW, words="Bay 4", contact="Pat", photos=[photo])
    (kept,) = telling.record.attachments.all()
    assert kept.name == "photo-1.jpg" and "Smith" not in str(telling.record.details)
    assert default_storage.exists(kept.stored_as)
    with django_capture_on_commit_callbacks(execute=True):
        erase(telling=telling, by=world.owner, now=NOW)
    telling.refresh_from_db()
    kept.refresh_from_db()
    assert (telling.words, telling.contact, telling.salt) == ("", "", "")
    assert telling.erased_by == world.owner and telling.sha256
    assert kept.erased_at and not default_storage.exists(kept.stored_as)
    assert not verify(links(system))
    assert not verify_system(system).found


def test_a_photo_that_nobody_erased_and_is_gone_is_found(system, sign):
    telling = told(sign, now=NOW, photos=[SimpleUploadedFile("a.jpg", JPEG)])
    assert not verify_system(system).found
    default_storage.delete(telling.record.attachments.get().stored_as)
    assert verify_system(system).found
