"""A witness: what it cosigns, what it refuses and how, and that it forgets nothing."""

import os
import subprocess
import sys
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256

import pytest

from registry.proof.checkpoints import Checkpoint, witnesses_of
from registry.proof.notes import Note, Signer, Verifier, parse_note
from registry.proof.tree import EMPTY_ROOT, consistency_proof
from registry.proof.witness import Request, open_witness
from tests.registry.proof.packages import LOG_KEY, Book

BOOK = Book()
AT = 1_790_000_000
NAME = "witness.example/pellmoor"


@pytest.fixture
def witness(tmp_path):
    return open_witness(tmp_path, NAME, [LOG_KEY.verifier])


def asking(old: int, new: int, book: Book = BOOK, **other) -> str:
    note = other.get("note") or book.checkpoint(new)
    proof = other.get("proof")
    if proof is None:
        proof = consistency_proof(old, new, book.read) if old <= new else []
    return str(Request(old, tuple(proof), note, Checkpoint.from_text(note.text)))


def test_it_cosigns_a_log_that_grows(witness):
    for old, new in ((0, 7), (7, 7), (7, 32), (32, 60)):
        answer = witness.add_checkpoint(asking(old, new), AT)
        assert answer.status == 200
        note = parse_note(str(BOOK.checkpoint(new)) + answer.body)
        assert witnesses_of(note, [witness.signer.verifier]) == {witness.signer.verifier: AT}


def test_the_last_checkpoint_can_be_asked_for_with_both_signatures(witness):
    origin = sha256(LOG_KEY.name.encode()).hexdigest()
    assert witness.latest(origin).status == 404
    witness.add_checkpoint(asking(0, 60), AT)
    note = parse_note(witness.latest(origin).body)
    keys = [LOG_KEY.verifier, witness.signer.verifier]
    assert note.verified(keys) == keys
    assert witness.latest("../witness.key").status == 404


def test_it_remembers_across_a_restart_and_keeps_its_key_to_itself(witness, tmp_path):
    witness.add_checkpoint(asking(0, 32), AT)
    again = open_witness(tmp_path, NAME, [LOG_KEY.verifier])
    assert again.signer.verifier == witness.signer.verifier
    answer = again.add_checkpoint(asking(0, 60), AT)
    assert (answer.status, answer.body, answer.content_type) == (409, "32\n", "text/x.tlog.size")
    assert os.stat(tmp_path / "witness.key").st_mode & 0o077 == 0


def test_a_book_rewritten_as_a_whole_gets_no_cosignature(witness):
    """With the log's own key, and with every hash, node and checkpoint worked out anew."""
    witness.add_checkpoint(asking(0, 40), AT)
    rewritten = Book(rewritten=11)
    answer = witness.add_checkpoint(asking(40, 60, rewritten), AT)
    assert (answer.status, answer.body) == (
        422,
        "The tree of 60 leaves does not go on from that of 40.\n",
    )
    assert witness.add_checkpoint(asking(40, 40, rewritten), AT).status == 422
    assert witness.add_checkpoint(asking(40, 60), AT).status == 200


STRANGER = Signer.from_seed("other.example/log", bytes(32))
FORGER = Signer.from_seed(LOG_KEY.name, bytes(32))
EMPTY = Checkpoint(LOG_KEY.name, 0, bytes(32)).signed_by(LOG_KEY)


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("", 400),
        ("old 01\n\n" + str(BOOK.checkpoint()), 400),
        ("new 0\n\n" + str(BOOK.checkpoint()), 400),
        ("old 0\nAAAA\n\n" + str(BOOK.checkpoint()), 422),
        ("old 0\n!\n\n" + str(BOOK.checkpoint()), 400),
        ("old 0\n" + "AAAA\n" * 64 + "\n" + str(BOOK.checkpoint()), 400),
        ("old 0\n\nno checkpoint\n", 400),
        (asking(61, 60), 400),
        (asking(0, 60, note=BOOK.checkpoint(key=STRANGER)), 404),
        (asking(0, 60, note=BOOK.checkpoint(key=FORGER)), 403),
        (asking(0, 60, note=Note(BOOK.checkpoint().text, BOOK.checkpoint(59).signatures)), 403),
        (asking(7, 60), 409),
        (asking(0, 0, note=EMPTY, proof=[]), 422),
    ],
    ids=["nothing", "leading zero", "no old", "proof from nothing", "no base64", "long proof",
         "no checkpoint", "old above new", "unknown log", "unknown key", "false signature",
         "another past", "false empty root"],
)  # fmt: skip
def test_what_it_refuses_is_answered_as_the_standard_says(witness, text, status):
    assert witness.add_checkpoint(text, AT).status == status
    assert not list(witness.folder.glob("*.checkpoint"))


def test_an_empty_log_may_begin(witness):
    note = Checkpoint(LOG_KEY.name, 0, EMPTY_ROOT).signed_by(LOG_KEY)
    assert witness.add_checkpoint(asking(0, 0, note=note, proof=[]), AT).status == 200


def test_of_two_futures_at_once_one_is_cosigned(witness):
    futures = [BOOK, Book(rewritten=50)]
    witness.add_checkpoint(asking(0, 40), AT)
    with ThreadPoolExecutor(2) as pool:
        answers = list(
            pool.map(lambda book: witness.add_checkpoint(asking(40, 60, book), AT), futures)
        )
    assert sorted(answer.status for answer in answers) == [200, 409]


def test_the_key_of_another_witness_in_the_folder_is_not_used(witness, tmp_path):
    with pytest.raises(Exception, match="is that of witness.example/pellmoor"):
        open_witness(tmp_path, "witness.example/else", [])


@pytest.fixture
def elsewhere(tmp_path):
    """A witness in a process of its own, as on another machine: its address and its key."""
    command = [
        sys.executable, "-m", "registry.proof.witness", str(tmp_path / "w"), "--name", NAME,
        "--log", LOG_KEY.verifier.vkey, "--port", "0",
    ]  # fmt: skip
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    vkey, _, port = process.stdout.readline().strip().partition(" on port ")
    yield f"http://127.0.0.1:{port}", Verifier.from_vkey(vkey)
    process.terminate()
    process.wait(timeout=30)
    process.stdout.close()


def post(address: str, text: str) -> tuple[int, str]:
    request = urllib.request.Request(f"{address}/add-checkpoint", text.encode(), method="POST")
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def test_a_witness_in_another_process_finds_a_book_that_was_rewritten(elsewhere):
    address, key = elsewhere
    status, line = post(address, asking(0, 40))
    note = parse_note(str(BOOK.checkpoint(40)) + line)
    assert (status, list(witnesses_of(note, [key]))) == (200, [key])
    status, said = post(address, asking(40, 60, Book(rewritten=11)))
    assert (status, "does not go on" in said) == (422, True)
    assert post(address, asking(40, 60))[0] == 200
    origin = sha256(LOG_KEY.name.encode()).hexdigest()
    with urllib.request.urlopen(f"{address}/{origin}/checkpoint", timeout=30) as answer:
        assert Checkpoint.from_text(parse_note(answer.read().decode()).text).size == 60
