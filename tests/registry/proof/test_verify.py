"""`verify.py` as an auditor runs it: what it proves, what it refuses, and in which words."""

import json
import re
import subprocess
import sys
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.proof import tree, verify
from registry.proof.notes import Signer
from registry.proof.package import VERIFIER
from tests.effort import many
from tests.registry.proof import vectors
from tests.registry.proof.packages import (
    LOG_KEY,
    PHOTO,
    WITNESS,
    Book,
    files_of,
    packed,
    resigned,
)
from tests.registry.proof.test_tree import LEAVES, STORED, slow_root

BOOK = Book()
WHOLE = BOOK.package()
KEY = LOG_KEY.verifier.fingerprint
ONE_SYSTEM = BOOK.written[0].system


def run(path: Path, *arguments: str) -> tuple[int, str]:
    """In a Python of its own, that sees nothing but the standard library."""
    command = [sys.executable, "-I", "-S", str(VERIFIER), str(path), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8")
    assert done.stderr == ""
    return done.returncode, done.stdout


@pytest.fixture
def check(tmp_path, capsys):
    """Of the bytes of a package: the exit code, and what was said."""

    def checked(package: bytes, *arguments: str) -> tuple[int, str]:
        path = tmp_path / "package.zip"
        path.write_bytes(package)
        code = verify.main([str(path), *arguments])
        return code, capsys.readouterr().out

    return checked


@pytest.fixture
def kept(tmp_path):
    def keep(note) -> str:
        path = tmp_path / "old-checkpoint"
        path.write_text(str(note), encoding="utf-8")
        return str(path)

    return keep


# Signatures and trees, worked out a second time.


@pytest.mark.parametrize("name", vectors.ED25519)
def test_signatures_of_the_rfc_are_accepted_and_others_are_not(name):
    _, key, message, signature = vectors.ED25519[name]
    key, signature = bytes.fromhex(key), bytes.fromhex(signature)
    assert verify.signed(key, message, signature)
    assert not verify.signed(key, message + b"x", signature)
    for place in (0, 31, 32, 63):
        changed = bytearray(signature)
        changed[place] ^= 1
        assert not verify.signed(key, message, bytes(changed))
    assert not verify.signed(key[::-1], message, signature)


def test_a_signature_with_the_order_added_is_refused():
    """RFC 8032, 5.1.7: S is below the order, so that no signature has a second form."""
    _, key, message, signature = vectors.ED25519["TEST 3"]
    signature = bytes.fromhex(signature)
    scalar = int.from_bytes(signature[32:], "little") + verify.ORDER
    second = signature[:32] + scalar.to_bytes(32, "little")
    assert not verify.signed(bytes.fromhex(key), message, second)


@given(st.binary(min_size=32, max_size=32), st.binary(max_size=100))
@settings(max_examples=many(25), deadline=None)
def test_what_the_library_signs_is_accepted(seed, message):
    signer = Signer.from_seed("any.example", seed)
    signature = signer.key.sign(message)
    assert verify.signed(signer.verifier.public_key, message, signature)


def test_the_published_note_is_accepted():
    note = verify.note_of(vectors.NOTE)
    assert note.is_signed_by(verify.key_of(vectors.NOTE_KEY))
    changed = verify.note_of(vectors.NOTE.replace("example message", "other message"))
    with pytest.raises(verify.Wrong, match="is false"):
        changed.is_signed_by(verify.key_of(vectors.NOTE_KEY))


@given(st.data(), st.integers(1, len(LEAVES)))
def test_roots_and_proofs_agree_with_those_of_the_book(data, size):
    index = data.draw(st.integers(0, size - 1))
    leaf = tree.leaf_hash(LEAVES[index])
    proof = tree.inclusion_proof(index, size, STORED.read)
    assert verify.root_by_inclusion(leaf, index, size, proof) == slow_root(LEAVES[:size])
    old = data.draw(st.integers(1, size))
    roots = slow_root(LEAVES[:old]), slow_root(LEAVES[:size])
    proof = tree.consistency_proof(old, size, STORED.read)
    assert verify.continues(old, roots[0], size, roots[1], proof)
    assert old == size or not verify.continues(old, roots[1], size, roots[1], proof)
    assert not verify.continues(old, roots[0], size, roots[1], [*proof, roots[0]])
    assert not proof or not verify.continues(old, roots[0], size, roots[1], proof[:-1])


# What holds.


def test_a_whole_package_with_the_key_named_holds(tmp_path):
    path = tmp_path / "package.zip"
    path.write_bytes(WHOLE)
    code, said = run(path, "--key", KEY)
    assert code == 0
    assert "60 records of 3 systems are as they were written" in said
    assert "60 records and hashes are in the owner's log" in said
    assert said.endswith("Everything holds.\n")


def test_an_unpacked_package_holds_and_hidden_files_beside_it_do_no_harm(tmp_path):
    path = tmp_path / "package.zip"
    path.write_bytes(WHOLE)
    with zipfile.ZipFile(path) as opened:
        opened.extractall(tmp_path / "folder")
    (tmp_path / "folder" / ".DS_Store").write_bytes(b"x")
    code, said = run(tmp_path / "folder", "--key", " ".join([KEY[:32], KEY[32:].upper()]))
    assert code == 0
    assert "“.DS_Store” is not part of the package" in said


def test_without_a_key_from_elsewhere_the_signer_is_unknown(check):
    code, said = check(WHOLE)
    assert code == 3
    assert "It is consistent with itself, signer unknown." in said
    assert KEY in said


def test_a_package_that_somebody_else_made_of_the_same_records_is_not_the_owners(check):
    forged = BOOK.package(key=Signer.from_seed(LOG_KEY.name, bytes(32)))
    assert check(forged)[0] == 3
    code, said = check(forged, "--key", KEY)
    assert code == 1
    assert "signed with another key than you named" in said


def test_a_part_counts_the_records_between_and_says_so(check):
    part = BOOK.package(is_full=lambda one: one.sequence % 3 == 0, is_whole=False, photo=None)
    full = sum(one.sequence % 3 == 0 for one in BOOK.written)
    code, said = check(part, "--key", KEY)
    assert code == 0
    assert f"{full} records of 3 systems are as they were written" in said
    assert f"{60 - full} records between are not in the package" in said


@pytest.mark.parametrize("proofs", [False, True])
def test_one_system_is_shown_to_be_in_the_owners_log(check, proofs):
    of = lambda one: one.system == ONE_SYSTEM  # noqa: E731
    count = sum(map(of, BOOK.written))
    part = BOOK.package(of=of, is_whole=False, proofs=proofs, photo=None)
    code, said = check(part, "--key", KEY)
    assert code == 0
    assert f"{count} records and hashes are in the owner's log" in said
    assert (f"{60 - count} records of the log belong to systems that are not" in said) != proofs


def test_records_newer_than_the_checkpoint_are_said_to_wait(check):
    code, said = check(BOOK.package(size=50), "--key", KEY)
    assert code == 0
    assert "10 records are newer than the checkpoint" in said
    assert "50 records and hashes are in the owner's log" in said


def test_the_log_goes_on_from_an_older_checkpoint(check, kept):
    for old in (1, 7, 32, 59, 60):
        code, said = check(WHOLE, "--key", KEY, "--checkpoint", kept(BOOK.checkpoint(old)))
        assert (code, f"its first {old} records are unchanged" in said) == (0, True)


def test_a_part_has_a_proof_for_the_older_checkpoint_or_says_that_it_has_none(check, kept):
    part = BOOK.package(proofs=True, is_whole=False, older=[7, 32])
    assert check(part, "--key", KEY, "--checkpoint", kept(BOOK.checkpoint(32)))[0] == 0
    code, said = check(part, "--key", KEY, "--checkpoint", kept(BOOK.checkpoint(33)))
    assert code == 3
    assert "the package has no proof for it" in said


def test_a_checkpoint_newer_than_the_package_shows_nothing(check, kept):
    code, said = check(BOOK.package(size=50), "--key", KEY, "--checkpoint", kept(BOOK.checkpoint()))
    assert code == 3
    assert "newer than this package" in said


@pytest.mark.parametrize("proofs", [False, True])
def test_a_book_rewritten_with_all_its_hashes_is_found_by_one_older_checkpoint(check, kept, proofs):
    rewritten = Book(rewritten=11)
    package = rewritten.package(proofs=proofs, is_whole=False, older=[40])
    assert check(package, "--key", KEY)[0] == 0  # by itself it is a good book
    code, said = check(package, "--key", KEY, "--checkpoint", kept(BOOK.checkpoint(40)))
    assert code == 1
    assert "The log was rewritten" in said


def test_an_older_checkpoint_of_another_signer_is_refused(check, kept):
    stranger = Signer.from_seed(LOG_KEY.name, bytes(32))
    code, said = check(WHOLE, "--checkpoint", kept(BOOK.checkpoint(40, stranger)))
    assert code == 1
    assert "another key signed it" in said


def test_a_witness_is_asked_for_by_its_key(check):
    vkey = WITNESS.verifier.vkey
    code, said = check(BOOK.package(cosigned=True), "--key", KEY, "--witness", vkey)
    assert code == 0
    assert "The witness witness.example/pellmoor saw this state of the log." in said
    code, said = check(WHOLE, "--key", KEY, "--witness", vkey)
    assert code == 3
    assert "did not cosign" in said


def test_it_names_its_own_digest_and_what_it_cannot_know(check):
    _, said = check(WHOLE)
    assert f"verify.py SHA-256 {sha256(VERIFIER.read_bytes()).hexdigest()}" in said
    assert "Whether what people wrote is true" in said


# What does not.


def edited(name: str, old: bytes, new: bytes, count: int = 1):
    def edit(files: dict[str, bytes]) -> None:
        assert old in files[name]
        files[name] = files[name].replace(old, new, count)

    return edit


def lines(name: str, change):
    def edit(files: dict[str, bytes]) -> None:
        rows = files[name].splitlines(keepends=True)
        change(rows)
        files[name] = b"".join(rows)

    return edit


def swap(rows):
    rows[3], rows[4] = rows[4], rows[3]


def unknown_file(files):
    files["notes.txt"] = b"trust me"


def wrong_place_in_log(rows):
    rows[3] = re.sub(rb'"log":\d+', b'"log":0', rows[3])


def left_out_as_between(rows):
    """A record hidden behind its hash in a package that promises the whole book is seen as such;
    here its number is wrong too."""
    rows[3] = rows[4]


def two_keys(rows):
    rows[3] = rows[3].replace(b'"kind":', b'"kind":"x","kind":')


TAMPERINGS = {
    "a record changed": edited("records.jsonl", b"98.5", b"98.6"),
    "a record deleted": lines("records.jsonl", lambda rows: rows.pop(5)),
    "the first record deleted": lines("records.jsonl", lambda rows: rows.pop(0)),
    "the last record deleted": lines("records.jsonl", lambda rows: rows.pop()),
    "a record doubled": lines("records.jsonl", lambda rows: rows.insert(5, rows[5])),
    "two records swapped": lines("records.jsonl", swap),
    "a record in the place of another": lines("records.jsonl", left_out_as_between),
    "a record said twice in one": lines("records.jsonl", two_keys),
    "a record at another place in the log": lines("records.jsonl", wrong_place_in_log),
    "records emptied": lambda files: files.update({"records.jsonl": b""}),
    "a line cut off": lambda files: files.update({"records.jsonl": files["records.jsonl"][:-9]}),
    "a cell of the table's bodies changed": edited("records.csv", b"98.5", b"98.6"),
    "a row of the table deleted": lines("records.csv", lambda rows: rows.pop(5)),
    "a row added to the table": lines("records.csv", lambda rows: rows.append(rows[5])),
    "a system's number of records changed": edited("systems.jsonl", b'"records":', b'"records":1'),
    "a system's head changed": edited("systems.jsonl", b'"head":"', b'"head":"0'),
    "a system left out": lines("systems.jsonl", lambda rows: rows.pop(1)),
    "systems swapped": lines("systems.jsonl", lambda rows: rows.reverse()),
    "a system added": lines(
        "systems.jsonl",
        lambda rows: rows.append(rows[-1].replace(b'"system":"0', b'"system":"f')),
    ),
    "the log shortened": lambda files: files.update({"log/leaves": files["log/leaves"][:-32]}),
    "the log lengthened": lambda files: files.update({"log/leaves": files["log/leaves"] * 2}),
    "a leaf changed": lambda files: files.update({"log/leaves": b"0" + files["log/leaves"][1:]}),
    "the log left out": lambda files: files.pop("log/leaves"),
    "the checkpoint's size changed": edited("log/checkpoint", b"\n60\n", b"\n59\n"),
    "the checkpoint's root changed": edited("log/checkpoint", b"\n60\n", b"\n60\nA"),
    "the checkpoint of another log": edited("log/checkpoint", b"/averhythe\n", b"/dunlore\n"),
    "the checkpoint unsigned": lines("log/checkpoint", lambda rows: rows.pop()),
    "another key": lambda files: files.update(
        {"log/key": Signer.from_seed(LOG_KEY.name, bytes(32)).verifier.vkey.encode()}
    ),
    "the key left out": lambda files: files.pop("log/key"),
    "an attachment changed": edited("attachments/vent.jpg", b"photo", b"other"),
    "an attachment added": lambda files: files.update({"attachments/more.jpg": b"more"}),
    "a file left out": lambda files: files.pop("systems.jsonl"),
}


def tampered(edit) -> dict[str, bytes]:
    files = files_of(WHOLE)
    edit(files)
    return files


@pytest.mark.parametrize("name", TAMPERINGS)
def test_a_package_that_was_changed_on_the_way_is_refused(check, name):
    """By whoever has no key: the manifest stays, or is written anew and cannot be signed."""
    code, said = check(packed(tampered(TAMPERINGS[name])), "--key", KEY)
    assert (code, said.split(":")[0]) == (1, "WRONG")
    stranger = Signer.from_seed(LOG_KEY.name, bytes(32))
    code, said = check(resigned(tampered(TAMPERINGS[name]), stranger), "--key", KEY)
    assert code in (1, 2)


@pytest.mark.parametrize("name", TAMPERINGS)
def test_a_package_that_the_holder_of_the_key_changed_is_refused_too(check, name):
    code, said = check(resigned(tampered(TAMPERINGS[name])), "--key", KEY)
    assert code in (1, 2), said


@pytest.mark.parametrize(
    "edit",
    [
        unknown_file,
        edited("manifest.json", b"Olive", b"Oscar"),
        edited("manifest.json", b"Averhythe", b"Morrow"),
        edited("manifest.note", b"riserbook-package/1", b"riserbook-package/2"),
        lambda files: files.pop("manifest.note"),
        lambda files: files.pop("verify.py"),
        edited("verify.py", b"refuse", b"accept") if b"refuse" in VERIFIER.read_bytes()
        else edited("verify.py", b"Wrong", b"Right"),
    ],
    ids=["unknown file", "who made it", "owner", "note", "no note", "no program", "program"],
)  # fmt: skip
def test_a_changed_manifest_program_or_file_beside_is_refused(check, edit):
    assert check(packed(tampered(edit)), "--key", KEY)[0] in (1, 2)


def test_a_record_hidden_behind_its_hash_is_counted_and_its_neighbours_show_it(check):
    """Hidden in a package that has the rest: the count says so, and a wrong hash cannot be put
    there, since the next record holds the right one."""
    hidden = BOOK.written[7]
    part = BOOK.package(is_full=lambda one: one is not hidden)
    code, said = check(part, "--key", KEY)
    assert (code, "1 records between are not in the package" in said) == (0, True)
    files = files_of(part)
    files["records.jsonl"] = files["records.jsonl"].replace(
        f'{{"hash":"{hidden.hash}"'.encode(), f'{{"hash":"{"0" * 64}"'.encode()
    )
    assert check(resigned(files), "--key", KEY)[0] == 1


def test_a_system_left_out_of_the_whole_book_is_found_by_the_log(check):
    package = BOOK.package(of=lambda one: one.system != ONE_SYSTEM, photo=None)
    code, said = check(package, "--key", KEY)
    assert code == 1
    assert "It should hold the whole book" in said


def test_a_false_proof_is_refused(check):
    files = files_of(BOOK.package(proofs=True, is_whole=False))
    rows = files["log/proofs.jsonl"].splitlines(keepends=True)
    rows[2], rows[3] = rows[3], rows[2]
    files["log/proofs.jsonl"] = b"".join(rows)
    code, said = check(resigned(files), "--key", KEY)
    assert (code, "is not in the log" in said or "proof" in said) == (1, True)
    files["log/proofs.jsonl"] = b"".join(rows[:-1])
    assert check(resigned(files), "--key", KEY)[0] == 1


@pytest.mark.parametrize("kept_bytes", [100, 10_000])
def test_a_truncated_zip_cannot_be_read(check, kept_bytes):
    code, said = check(WHOLE[:kept_bytes])
    assert code == 2
    assert said.startswith("This package cannot be read:")


def test_bytes_changed_within_the_zip_are_found(check):
    where = WHOLE.index(b"records.jsonl") + 4000
    damaged = bytearray(WHOLE)
    damaged[where] ^= 0xFF
    assert check(bytes(damaged), "--key", KEY)[0] in (1, 2)


def test_a_file_that_unpacks_to_more_than_it_says_is_not_read_to_its_end(check):
    files = files_of(WHOLE)
    files["records.jsonl"] = bytes(50_000_000)
    code, said = check(packed(files), "--key", KEY)
    assert (code, "was changed after the package was made" in said) == (1, True)


@pytest.mark.parametrize("text", [b"{}", b"[]", b"no json", b'{"format":"riserbook-package/9"}'])
def test_what_is_no_package_is_said_not_to_be_one(check, text):
    assert check(packed({"manifest.json": text}))[0] == 2


def test_a_link_in_a_folder_is_refused(tmp_path, capsys):
    for name, content in files_of(WHOLE).items():
        path = tmp_path / "folder" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    (tmp_path / "folder" / "systems.jsonl").unlink()
    (tmp_path / "folder" / "systems.jsonl").symlink_to("/dev/zero")
    assert verify.main([str(tmp_path / "folder")]) == 1
    assert "is a link to something else" in capsys.readouterr().out


def test_a_fingerprint_that_is_none_is_refused_with_what_would_be_right(capsys):
    with pytest.raises(SystemExit) as error:
        verify.main(["package.zip", "--key", "1234"])
    assert error.value.code == 2
    assert "a fingerprint has 64 digits" in capsys.readouterr().err


def test_the_whole_key_may_stand_for_its_fingerprint(check):
    assert check(WHOLE, "--key", LOG_KEY.verifier.vkey)[0] == 0


def test_the_program_in_the_package_is_the_one_that_was_tested():
    assert files_of(WHOLE)["verify.py"] == VERIFIER.read_bytes()
    assert json.loads(files_of(WHOLE)["manifest.json"])["files"][0]["name"] == "verify.py"
    assert PHOTO in files_of(WHOLE).values()
