"""How the book takes an entry of a phone: once, and with what its writer had not seen."""

from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import DiscardedEntry, KeptEntry, Record
from registry.phone.words import kept_words
from registry.views.phone import key_of
from tests.factories import make_record

pytestmark = pytest.mark.django_db


@pytest.fixture
def send(client, world, system):
    client.force_login(world.technician)

    def post(by=world.technician, seen=None, **facts):
        here = timezone.localtime(timezone=system.site.zone)
        typed = {
            "client_key": str(uuid4()), "occurred_at": f"{here:%Y-%m-%dT%H:%M}",
            "pressure_gauge_pa": "60 psi", "held_ms": "1000",
            "seen_sequence": str(system.next_sequence - 1 if seen is None else seen),
            "seen_hash": system.head_hash,
        }  # fmt: skip
        address = reverse("registry:record-new", args=[system.pk, "reading.pressure"])
        return client.post(address, typed | facts, headers={"X-Kept-By": str(by.uuid)})

    return post


def test_the_same_entry_sent_again_is_written_once(send, system):
    key, when = str(uuid4()), "2026-05-01T10:00"
    first = send(client_key=key, occurred_at=when)
    again = send(client_key=key, occurred_at=when, held_ms="90000")
    assert first.json() == again.json()
    assert first.json()["is"] == "written"
    assert system.records.filter(kind="reading.pressure").count() == 1


def test_the_same_key_with_another_body_is_refused_and_says_which_record_it_is(send, system):
    key, when = str(uuid4()), "2026-05-01T10:00"
    sequence = send(client_key=key, occurred_at=when).json()["sequence"]
    refused = send(client_key=key, occurred_at=when, pressure_gauge_pa="61 psi")
    assert refused.status_code == 409
    assert refused.json()["is"] == "other_body"
    assert f"record {sequence}" in refused.json()["says"]
    assert system.records.filter(kind="reading.pressure").count() == 1


def test_an_entry_that_the_book_refuses_may_be_mended_under_its_key(send, system):
    key = str(uuid4())
    refused = send(client_key=key, pressure_gauge_pa="many")
    assert refused.status_code == 200 and "many" in refused.content.decode()
    assert not KeptEntry.objects.exists()
    assert send(client_key=key).json()["is"] == "written"


def test_nobody_sends_what_another_person_kept(send, world, system):
    refused = send(by=world.owner)
    assert refused.status_code == 403
    assert refused.json() == {"is": "someone_else"}
    assert not system.records.filter(kind="reading.pressure").exists()


def test_what_others_wrote_meanwhile_is_said_in_the_ledger(send, client, world, system):
    seen, head = system.next_sequence - 1, system.head_hash
    for _ in range(3):
        make_record(
            system,
            "event.observation",
            timezone.now(),
            by=world.owner,
            now=timezone.now(),
            text="Dry",
        )
    answer = send(seen=seen, seen_hash=head)
    assert answer.json()["unknown"] == [seen + 1, seen + 2, seen + 3]
    said = f"Written without knowing records {seen + 1} to {seen + 3}."
    for page in (system.get_absolute_url(), reverse("reports:ledger", args=[system.pk])):
        assert said in client.get(page).content.decode()
    record = Record.objects.get(kind="reading.pressure")
    assert said in client.get(record.get_absolute_url()).content.decode()


def test_ones_own_entries_are_known_to_oneself(send, system):
    seen = system.next_sequence - 1
    send(seen=seen)
    assert send(seen=seen).json()["unknown"] == []


def test_a_ledger_that_was_another_is_said(send, system):
    send(seen_hash="0" * 64)
    record = Record.objects.select_related("kept_entry").get(kind="reading.pressure")
    assert "another ledger" in kept_words(record)


def test_the_key_is_one_persons_own_and_is_never_stored_on_the_way(client, world):
    client.force_login(world.technician)
    answer = client.get(reverse("registry:phone"))
    assert "no-store" in answer["Cache-Control"]
    assert answer.json()["person"] == str(world.technician.uuid)
    assert len(key_of(world.technician)) == 32
    assert key_of(world.technician) != key_of(world.owner)


def test_what_is_discarded_is_noted(client, world):
    client.force_login(world.technician)
    sent = {"what": ["NQ-1 Reading: 92.9"], "made_at": ["2026-05-01T10:00:00Z"]}
    assert client.post(reverse("registry:phone-discarded"), sent).status_code == 204
    (row,) = DiscardedEntry.objects.all()
    assert (row.person_id, row.what) == (world.technician.pk, "NQ-1 Reading: 92.9")


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"what": ["a"]},
        {"what": ["a"], "made_at": ["2026-05-01"]},
        {"what": ["a"], "made_at": ["x"]},
    ],
)
def test_a_discard_that_says_nothing_clear_is_refused(client, world, sent):
    client.force_login(world.technician)
    assert client.post(reverse("registry:phone-discarded"), sent).status_code == 422
    assert not DiscardedEntry.objects.exists()
