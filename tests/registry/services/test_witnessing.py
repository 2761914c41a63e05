"""Cosignatures collected from a witness, and what happens when it knows more, or is away."""

import pytest

from registry.models import LogCheckpoint, LogWitness
from registry.proof.checkpoints import witnesses_of
from registry.proof.notes import Verifier, parse_note
from registry.proof.witness import open_witness
from registry.services.log import make_checkpoint, number_all
from registry.services.witnessing import ask_witnesses
from registry.verifying import log_differences
from tests.factories import NOW, make_record, make_system

NAME = "witness.example/pellmoor"
AT = 1_790_000_000


def checkpoint_of(owner) -> LogCheckpoint:
    number_all(owner, now=NOW)
    return make_checkpoint(owner, now=NOW)


@pytest.fixture
def place(world, tmp_path):
    """A witness that runs here, and the row that names it."""
    system = make_system(world.site, world.owner)
    checkpoint = checkpoint_of(world.owner_organisation)
    log = checkpoint.log
    witness = open_witness(tmp_path, NAME, [Verifier.from_vkey(log.keys.get().vkey)])
    row = LogWitness.objects.create(
        log=log, url="http://witness.example/", vkey=witness.signer.verifier.vkey
    )

    def send(url: str, text: str) -> tuple[int, str]:
        assert url == "http://witness.example/add-checkpoint"
        answer = witness.add_checkpoint(text, AT)
        return answer.status, answer.body

    return system, checkpoint, witness, row, send


def test_each_checkpoint_is_cosigned_once_and_its_signature_kept(place, world):
    system, checkpoint, witness, row, send = place
    assert ask_witnesses(checkpoint, NOW, send) == 1
    assert ask_witnesses(checkpoint, NOW, send) == 0
    make_record(system, "event.observation", NOW, world.owner, text="Later")
    later = checkpoint_of(world.owner_organisation)
    assert ask_witnesses(later, NOW, send) == 1
    for each in LogCheckpoint.objects.all():
        known = [witness.signer.verifier]
        assert witnesses_of(parse_note(each.note), known) == {known[0]: AT}
    row.refresh_from_db()
    assert (row.size, row.error) == (later.size, "")
    assert list(log_differences(type(checkpoint.log).objects.all())) == []


def test_a_witness_that_remembers_more_than_the_row_is_asked_from_there(place, world):
    system, checkpoint, _witness, row, send = place
    ask_witnesses(checkpoint, NOW, send)
    LogWitness.objects.update(size=0)
    make_record(system, "event.observation", NOW, world.owner, text="Later")
    assert ask_witnesses(checkpoint_of(world.owner_organisation), NOW, send) == 1


def test_a_book_restored_from_an_older_backup_is_said_to_be_behind(place, world):
    system, checkpoint, _witness, row, _send = place
    assert ask_witnesses(checkpoint, NOW, lambda url, text: (409, "5000\n")) == 0
    row.refresh_from_db()
    assert "has seen 5000 records" in row.error


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ((503, "away"), "It answered 503"),
        ((200, "what is this"), "note"),
    ],
)
def test_what_is_no_cosignature_is_kept_in_words_and_changes_nothing(place, answer, words):
    _system, checkpoint, _witness, row, _send = place
    before = checkpoint.note
    assert ask_witnesses(checkpoint, NOW, lambda url, text: answer) == 0
    row.refresh_from_db()
    checkpoint.refresh_from_db()
    assert words in row.error and checkpoint.note == before


def test_a_witness_that_cannot_be_reached_keeps_nothing_from_going_on(place):
    _system, checkpoint, _witness, row, _send = place

    def away(url: str, text: str) -> tuple[int, str]:
        raise ConnectionRefusedError("refused")

    assert ask_witnesses(checkpoint, NOW, away) == 0
    row.refresh_from_db()
    assert row.error == "refused"
