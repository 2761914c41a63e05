"""The log as Go's own checksum log is read: checkpoints, roots, inclusion and continuation."""

import json
import os
import shutil
import subprocess
from base64 import b64encode
from pathlib import Path

import pytest

from registry.proof.notes import Signer
from registry.proof.tree import consistency_proof, inclusion_proof, root_at
from tests.readers.tools import HERE, need
from tests.registry.proof.packages import LOG_KEY, WITNESS, Book

LIBRARY = Path("/usr/share/gocode/src/golang.org/x/mod/sumdb/tlog")
BOOK = Book(records=25)
ALL = len(BOOK.written)
SIZES = range(1, ALL + 1)


@pytest.fixture(scope="module")
def ask(tmp_path_factory):
    """Puts questions to a Go program built of Debian's golang-golang-x-mod-dev."""
    need(shutil.which("go"), "go is missing (Debian: golang-go)")
    need(LIBRARY.is_dir(), "Debian's golang-golang-x-mod-dev is missing")
    folder = tmp_path_factory.mktemp("go")
    program = folder / "read-log"
    paths = {"GO111MODULE": "off", "GOPATH": "/usr/share/gocode", "GOCACHE": str(folder / "cache")}
    build = ["go", "build", "-o", str(program), str(HERE / "log" / "main.go")]
    subprocess.run(build, env={**os.environ, **paths}, check=True, capture_output=True)

    def asked(**question) -> list[str]:
        text = json.dumps({"Key": LOG_KEY.verifier.vkey, **question})
        done = subprocess.run([program], input=text, capture_output=True, text=True, check=True)
        return done.stdout.splitlines()

    return asked


def b64(value: bytes) -> str:
    return b64encode(value).decode()


def leaves() -> list[str]:
    return [one.hash for one in BOOK.written]


def root(size: int) -> str:
    return b64(root_at(size, BOOK.read))


def record(index: int, size: int) -> dict:
    proof = inclusion_proof(index, size, BOOK.read)
    return {
        "Leaf": BOOK.written[index].hash, "Root": root(size), "Index": index, "Size": size,
        "Proof": [b64(one) for one in proof],
    }  # fmt: skip


def grown(old: int, new: int) -> dict:
    proof = consistency_proof(old, new, BOOK.read)
    return {
        "OldRoot": root(old), "NewRoot": root(new), "Old": old, "New": new,
        "Proof": [b64(one) for one in proof],
    }  # fmt: skip


def test_checkpoints_of_every_size_are_opened_and_their_roots_worked_out_again(ask):
    notes = [str(BOOK.checkpoint(size)) for size in SIZES]
    said = ask(Checkpoints=notes, Leaves=leaves())
    assert said == ["checkpoint accepted", "root accepted"] * ALL


def test_a_checkpoint_with_a_witness_is_opened_too(ask):
    note = BOOK.checkpoint()
    note = note.signed(WITNESS.cosign(note.text, 1_790_000_000))
    said = ask(Checkpoints=[str(note)], Leaves=leaves())
    assert said == ["checkpoint accepted", "root accepted"]


def test_a_checkpoint_of_another_key_or_text_is_refused(ask):
    stranger = BOOK.checkpoint(key=Signer.from_seed(LOG_KEY.name, bytes(32)))
    changed = str(BOOK.checkpoint()).replace(f"\n{ALL}\n", f"\n{ALL - 1}\n")
    said = ask(Checkpoints=[str(stranger), changed], Leaves=leaves())
    assert [line.split(":")[0] for line in said] == ["checkpoint refused"] * 2


def test_every_record_is_accepted_in_trees_of_many_sizes(ask):
    records = [record(index, size) for size in (1, 2, 7, 64, ALL) for index in range(size)]
    assert ask(Records=records) == ["record accepted"] * len(records)


def test_a_record_at_another_place_is_refused(ask):
    wrong = [{**record(index, ALL), "Index": index + 1} for index in range(ALL - 1)]
    said = ask(Records=wrong)
    assert [line.split(":")[0] for line in said] == ["record refused"] * len(wrong)


def test_every_size_goes_on_from_every_smaller_one(ask):
    trees = [grown(old, new) for new in SIZES for old in range(1, new)]
    assert ask(Trees=trees) == ["tree accepted"] * len(trees)


def test_a_log_that_was_rewritten_is_refused(ask):
    before = root(40)
    rewritten = Book(records=25, rewritten=11)
    proof = [b64(one) for one in consistency_proof(40, ALL, rewritten.read)]
    now = b64(root_at(ALL, rewritten.read))
    (said,) = ask(
        Trees=[{"OldRoot": before, "NewRoot": now, "Old": 40, "New": ALL, "Proof": proof}]
    )
    assert said.startswith("tree refused")
