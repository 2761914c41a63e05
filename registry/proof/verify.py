#!/usr/bin/env python3
"""Check a package of maintenance records: python verify.py PACKAGE [--key ...] [--checkpoint ...]

PACKAGE is the ZIP file, or the folder it was unpacked to. This one file needs Python 3.8 or newer
and nothing else, and asks no network. What it checks, step by step, is in docs/proof.md of the
program that made the package, and in the words it prints.

Exit codes: 0 everything holds and the key you named signed it; 3 nothing is wrong, but something
you should want to know could not be shown (as who signed it); 1 something is wrong; 2 the package
could not be read, or the command was not understood.
"""
# One file on purpose, although long: an auditor gets it alone and reads it from top to bottom.
# Nothing here may need a newer Python than 3.8.

from __future__ import annotations

import argparse
import base64
import csv
import hashlib
import io
import json
import os
import re
import sys
import zipfile
from itertools import chain
from typing import Any, BinaryIO, Callable, Iterator, NamedTuple, Tuple

FORMAT = "riserbook-package/1"
HANDED_OVER = "riserbook-key/1"
PIECE = 1 << 20
LONGEST_LINE = 1 << 24
HASH = re.compile(r"[0-9a-f]{64}").fullmatch
HASHES = re.compile(r"[0-9a-f]{64}").findall
HOLDS, WRONG, UNREADABLE, NOT_SHOWN = 0, 1, 2, 3


class Wrong(Exception):
    """Something in the package does not hold."""


class Unreadable(Exception):
    """This is no package, or not one that this program knows."""


# --- Ed25519 signatures, RFC 8032, section 5.1 ---------------------------------------------------

P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)
Point = Tuple[int, int, int, int]  # x = X/Z, y = Y/Z, xy = T/Z
ZERO: Point = (0, 1, 1, 0)


def _add(one: Point, two: Point) -> Point:
    a = (one[1] - one[0]) * (two[1] - two[0]) % P
    b = (one[1] + one[0]) * (two[1] + two[0]) % P
    c = 2 * D * one[3] * two[3] % P
    d = 2 * one[2] * two[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % P, g * h % P, f * g % P, e * h % P


def _times(number: int, point: Point) -> Point:
    total = ZERO
    for bit in bin(number)[2:]:
        total = _add(total, total)
        if bit == "1":
            total = _add(total, point)
    return total


def _point(encoded: bytes) -> Point | None:
    """The point of the curve that 32 bytes stand for; None when they stand for none."""
    number = int.from_bytes(encoded, "little")
    y, sign = number & ((1 << 255) - 1), number >> 255
    if y >= P:
        return None
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if x * x % P != square:
        x = x * ROOT_OF_MINUS_ONE % P
    if x * x % P != square or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = P - x
    return x, y, 1, x * y % P


def _encoded(point: Point) -> bytes:
    inverse = pow(point[2], P - 2, P)
    x, y = point[0] * inverse % P, point[1] * inverse % P
    return (y | ((x & 1) << 255)).to_bytes(32, "little")


BASE = _point((4 * pow(5, P - 2, P) % P).to_bytes(32, "little")) or ZERO


def signed(public_key: bytes, message: bytes, signature: bytes) -> bool:
    """Whether the holder of the key signed the message."""
    if len(public_key) != 32 or len(signature) != 64:
        return False
    key, scalar = _point(public_key), int.from_bytes(signature[32:], "little")
    if key is None or scalar >= ORDER:
        return False
    digest = hashlib.sha512(signature[:32] + public_key + message).digest()
    factor = int.from_bytes(digest, "little") % ORDER
    minus_key = (P - key[0], key[1], key[2], P - key[3])
    return _encoded(_add(_times(scalar, BASE), _times(factor, minus_key))) == signature[:32]


# --- The log: a Merkle tree as RFC 6962, section 2.1, has it -------------------------------------


def leaf_hash(data: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def joined(peaks: list[bytes]) -> bytes:
    if not peaks:
        return hashlib.sha256(b"").digest()
    root = peaks[-1]
    for peak in reversed(peaks[:-1]):
        root = node_hash(peak, root)
    return root


def roots_of(leaves: bytes, wanted: set[int]) -> dict[int, bytes]:
    """The roots of the tree at the wanted sizes, from its leaves of 32 bytes each."""
    peaks: list[bytes] = []
    roots = {0: joined(peaks)}
    sha256 = hashlib.sha256
    for number in range(len(leaves) // 32):
        node = sha256(b"\x00" + leaves[32 * number : 32 * number + 32]).digest()
        full = number
        while full & 1:
            node = sha256(b"\x01" + peaks.pop() + node).digest()
            full >>= 1
        peaks.append(node)
        if number + 1 in wanted:
            roots[number + 1] = joined(peaks)
    return roots


def root_by_inclusion(leaf: bytes, index: int, size: int, proof: list[bytes]) -> bytes:
    """The root to which a leaf and the hashes beside its way up lead."""
    if not 0 <= index < size:
        raise Wrong("A proof is for a place that the log does not have.")
    last = size - 1
    for beside in proof:
        if last == 0:
            raise Wrong("A proof is longer than the way to the root.")
        if index & 1 or index == last:
            leaf = node_hash(beside, leaf)
            while not index & 1 and index:
                index, last = index >> 1, last >> 1
        else:
            leaf = node_hash(leaf, beside)
        index, last = index >> 1, last >> 1
    if last:
        raise Wrong("A proof ends before the root.")
    return leaf


def continues(old: int, old_root: bytes, new: int, new_root: bytes, proof: list[bytes]) -> bool:
    """Whether the tree of `new` leaves holds all of that of `old`, in its order."""
    if old == new:
        return old_root == new_root and not proof
    if not 0 < old < new:
        return False
    path = list(proof)
    if not old & (old - 1):
        path.insert(0, old_root)
    if not path:
        return False
    index, last = old - 1, new - 1
    while index & 1:
        index, last = index >> 1, last >> 1
    small = large = path[0]
    for beside in path[1:]:
        if last == 0:
            return False
        if index & 1 or index == last:
            small, large = node_hash(beside, small), node_hash(beside, large)
            while not index & 1 and index:
                index, last = index >> 1, last >> 1
        else:
            large = node_hash(large, beside)
        index, last = index >> 1, last >> 1
    return last == 0 and small == old_root and large == new_root


# --- Signed notes: C2SP signed-note, tlog-checkpoint, tlog-cosignature ---------------------------


class Key(NamedTuple):
    name: str
    kind: int  # 1: signs notes; 4: a witness, which cosigns checkpoints
    public: bytes

    @property
    def fingerprint(self) -> str:
        return hashlib.sha256(
            self.name.encode() + b"\n" + bytes([self.kind]) + self.public
        ).hexdigest()


def unbase64(text: str) -> bytes:
    try:
        value = base64.b64decode(text, validate=True)
    except ValueError:
        raise Wrong("What should be base64 is not.") from None
    if base64.b64encode(value).decode() != text:
        raise Wrong("What should be base64 is written in another way than it must be.")
    return value


def key_of(vkey: str) -> Key:
    name, _, rest = vkey.strip().partition("+")
    key_id, _, encoded = rest.partition("+")
    value = unbase64(encoded)
    if len(value) != 33 or value[0] not in (1, 4) or not name:
        raise Wrong("A key is not of a kind that this program knows.")
    key = Key(name, value[0], value[1:])
    if key.fingerprint[:8] != key_id:
        raise Wrong("A key and its id do not belong together.")
    return key


class Note(NamedTuple):
    text: str
    signatures: list[tuple[str, bytes]]

    def is_signed_by(self, key: Key) -> bool:
        """False: it did not sign. Raises Wrong where a signature under its name is false."""
        found = False
        for name, value in self.signatures:
            if name != key.name or value[:4].hex() != key.fingerprint[:8]:
                continue
            message, signature = self.text.encode(), value[4:]
            if key.kind == 4:
                time = int.from_bytes(signature[:8], "big")
                message = f"cosignature/v1\ntime {time}\n".encode() + message
                signature = signature[8:]
            if not signed(key.public, message, signature):
                raise Wrong(f"The signature of {name} is false.")
            found = True
        return found


def note_of(whole: str) -> Note:
    text, blank, lines = whole.rpartition("\n\n")
    if not blank or not whole.endswith("\n"):
        raise Wrong("What should be a signed note is not.")
    signatures = []
    for line in lines[:-1].split("\n"):
        dash, _, rest = line.partition(" ")
        name, _, encoded = rest.partition(" ")
        if dash != "\u2014" or not name:
            raise Wrong("A signature of a note is not well formed.")
        signatures.append((name, unbase64(encoded)))
    return Note(text + "\n", signatures)


class Checkpoint(NamedTuple):
    origin: str
    size: int
    root: bytes
    note: Note


def checkpoint_of(whole: str) -> Checkpoint:
    note = note_of(whole)
    lines = note.text.split("\n")
    if len(lines) < 4 or not re.fullmatch(r"0|[1-9][0-9]{0,18}", lines[1]):
        raise Wrong("What should be a checkpoint of the log is not.")
    return Checkpoint(lines[0], int(lines[1]), unbase64(lines[2]), note)


class HandOver(NamedTuple):
    """From one key to the next: how far the log was then, and why."""

    old: Key
    new: Key
    size: int
    root: bytes
    when: str
    reason: str


def hand_over_of(whole: str) -> HandOver:
    note = note_of(whole)
    lines = note.text.split("\n")
    if len(lines) != 8 or lines[0] != HANDED_OVER or lines[6] not in ("rotated", "restored"):
        raise Wrong("What should hand the log from one key to the next does not.")
    old, new = key_of(lines[1]), key_of(lines[2])
    if not (note.is_signed_by(old) and note.is_signed_by(new)):
        raise Wrong("The log was handed to another key, and not both of the two signed that.")
    return HandOver(old, new, int(lines[3]), unbase64(lines[4]), lines[5], lines[6])


# --- Where the files are -------------------------------------------------------------------------


class Zipped:
    def __init__(self, path: str):
        self.zip = zipfile.ZipFile(path)
        infos = [info for info in self.zip.infolist() if not info.is_dir()]
        self.names = [info.filename for info in infos]
        self.ignored: list[str] = []

    def open(self, name: str) -> BinaryIO:
        return io.BufferedReader(self.zip.open(name), PIECE)  # type: ignore[arg-type, type-var]


class Unpacked:
    def __init__(self, path: str):
        self.path = path
        self.names: list[str] = []
        self.ignored: list[str] = []
        for folder, folders, files in os.walk(path):
            for name in files + folders:
                full = os.path.join(folder, name)
                if os.path.islink(full):
                    raise Wrong(f"“{name}” is a link to something else, not a file.")
            for name in files:
                full = os.path.relpath(os.path.join(folder, name), path)
                hidden = name.startswith(".")
                (self.ignored if hidden else self.names).append(full.replace(os.sep, "/"))

    def open(self, name: str) -> BinaryIO:
        return open(os.path.join(self.path, *name.split("/")), "rb", buffering=PIECE)


def lines_of(file: BinaryIO) -> Iterator[bytes]:
    while True:
        line = file.readline(LONGEST_LINE)
        if not line:
            return
        if not line.endswith(b"\n"):
            raise Wrong("A line of the records is cut off or far too long.")
        yield line[:-1]


# --- The checks ----------------------------------------------------------------------------------

KIND_OF = {"done": "inspection.completed", "skipped": "inspection.skipped"}
READ = json.JSONDecoder().raw_decode
PLAIN = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


def plain_encoder() -> Callable[[Any], str]:
    """The same without what `encode` sets up anew for each call, which costs as much again, where
    this Python has its encoder in C as it was from 3.8 on."""
    try:
        make, text = json.encoder.c_make_encoder, json.encoder.encode_basestring  # type: ignore
        encode = make(None, None, text, None, ":", ",", True, False, False)

        def plain(value: Any) -> str:
            return "".join(encode(value, 0))

        tried = {"b": [1.5, None, True], "a": '“é” \n"'}
        return plain if plain(tried) == PLAIN(tried) else PLAIN
    except (AttributeError, TypeError):
        return PLAIN


plain = plain_encoder()


class Row(NamedTuple):
    """A record in full, or of one that is not in the package its number and hash alone. Those of
    the owner's own ledger have no system."""

    system: str
    sequence: int
    hash: str
    log: int | None
    previous: str | None
    body: bytes
    said: dict[str, Any]


def row_of(line: bytes, file: str = "records.jsonl") -> Row:
    text = line.decode("utf-8")
    head, is_full, body = line.partition(b',"body":')
    try:
        given, end = READ(text)
        if end != len(text):
            raise ValueError
        if is_full:
            said, body = given["body"], body[:-1]
            previous = given["previous_hash"]
            system = said["system"] if file == "records.jsonl" else ""
            row = Row(system, said["sequence"], given["hash"], given["log"], previous, body, said)
            if plain(said).encode() != body:
                raise Wrong(f"Record {named(row)} is not written as its hash demands.")
        else:
            system = given["system"] if file == "records.jsonl" else ""
            row = Row(system, given["sequence"], given["hash"], given["log"], None, b"", {})
        if not HASH(row.hash):
            raise ValueError
    except (ValueError, KeyError, TypeError):
        raise Wrong(f"A line of {file} is not well formed: {text[:80]}") from None
    return row


def named(row: Row) -> str:
    whose = f"system {row.system}" if row.system else "the owner's ledger"
    return f"{row.sequence} of {whose}"


class Table:
    """records.csv, row by row beside the records. Most rows have nothing in quotes but the body, at
    their end: those are compared as they stand, which takes a tenth of reading their cells."""

    END = ["hash", "previous_hash", "log", "body"]

    def __init__(self, file: BinaryIO):
        csv.field_size_limit(LONGEST_LINE)
        self.lines = iter(file.readline, b"")
        columns = self._cells(next(self.lines, b"")) or []
        if columns and columns[0].startswith("\ufeff"):
            columns[0] = columns[0][1:]
        self.hash_at, self.body_at = columns.index("hash"), columns.index("body")
        self.before = self.hash_at if columns[self.hash_at :] == self.END else -1

    def shows(self, row: Row) -> bool:
        line = next(self.lines, b"")
        log = b"%d" % row.log if isinstance(row.log, int) else b""
        end = b',%s,%s,%s,"%s"\r\n' % (
            row.hash.encode(), (row.previous or "").encode(), log, row.body.replace(b'"', b'""'),
        )  # fmt: skip
        words = line[: -len(end)]
        if line.endswith(end) and self._are_plain(words):
            return True
        cells = self._cells(line)
        return (
            cells is not None
            and cells[self.hash_at] == row.hash
            and cells[self.body_at].encode() == row.body
        )

    def _are_plain(self, words: bytes) -> bool:
        """Whether they are as many cells as stand before the hash."""
        is_one_row = b'"' not in words and b"\r" not in words
        return is_one_row and words.count(b",") + 1 == self.before

    def _cells(self, line: bytes) -> list[str] | None:
        """Of the row that begins with a line, and may go on in those after it."""
        texts = (each.decode("utf-8") for each in chain([line] if line else [], self.lines))
        try:
            return next(csv.reader(texts), None)
        except csv.Error:
            return None

    def is_at_end(self) -> bool:
        return next(self.lines, None) is None


def what_was_done(kind: str, item: str, due_on: str) -> bytes:
    """A record of recurring work, as a row of demanded.csv must tell it."""
    return hashlib.sha256(f"{kind}\n{item}\n{due_on}".encode()).digest()[:16]


class Package:
    """What was found on the way; each check adds to it, or raises Wrong."""

    def __init__(self, path: str):
        self.files = Unpacked(path) if os.path.isdir(path) else Zipped(path)
        self.proved: list[str] = []
        self.open_questions: list[str] = []
        self.full = self.bare = self.waiting = self.systems = self.unused = 0
        self.named_files: set[bytes] = set()
        self.files_by_record: dict[str, set[bytes]] = {}
        self.taken_back: set[bytes] = set()
        self.manifest: dict[str, Any] = {}
        self.key = Key("", 1, b"")
        self.checkpoint = Checkpoint("", 0, b"", Note("", []))
        self.leaves: bytes | None = None
        self.used = bytearray()
        self.keys: list[tuple[Key, HandOver | None]] = []
        self.demanded: dict[bytes, bytes] = {}
        self.decisions: set[str] = set()

    def text(self, name: str) -> str:
        if name not in self.files.names:
            raise Unreadable(f"There is no {name} in it.")
        with self.files.open(name) as file:
            return file.read(LONGEST_LINE).decode("utf-8")

    def has(self, name: str) -> bool:
        return name in self.files.names

    def check_files(self) -> None:
        """The manifest, that every file is there as it names it, and that there is no other."""
        text = self.text("manifest.json")
        self.manifest = json.loads(text)
        if not isinstance(self.manifest, dict) or self.manifest.get("format") != FORMAT:
            raise Unreadable(f"It is of another format than {FORMAT}.")
        listed = {entry["name"]: entry for entry in self.manifest["files"]}
        there = self.files.names
        if len(set(there)) != len(there) or len(listed) != len(self.manifest["files"]):
            raise Wrong("A file is in it twice.")
        beside = {"manifest.json", "manifest.note"}
        for name in sorted(set(there) - set(listed) - beside):
            raise Wrong(f"“{name}” is in it, and the manifest does not name it.")
        for name in sorted(set(listed) - set(there)):
            raise Wrong(f"“{name}” is missing.")
        for name, entry in listed.items():
            self._check_file(name, entry)
        self.digest = hashlib.sha256(text.encode()).hexdigest()
        self.proved.append(
            f"All {len(listed)} files are there, each byte for byte as the manifest names it."
        )

    def _check_file(self, name: str, entry: dict[str, Any]) -> None:
        digest, size = hashlib.sha256(), 0
        try:
            with self.files.open(name) as file:
                while True:
                    piece = file.read(PIECE)
                    if not piece:
                        break
                    digest.update(piece)
                    size += len(piece)
                    if size > entry["size"]:
                        break
        except (zipfile.BadZipFile, EOFError):
            raise Wrong(f"“{name}” is damaged.") from None
        if size != entry["size"] or digest.hexdigest() != entry["sha256"]:
            raise Wrong(f"“{name}” was changed after the package was made.")

    def check_signatures(self, wanted: str | None, witnesses: list[str]) -> None:
        self.key = key_of(self.text("log/key"))
        if self.key.kind != 1:
            raise Wrong("The key in it is not one that signs a log.")
        self._read_keys()
        if wanted and wanted not in [key.fingerprint for key, _ in self.keys]:
            raise Wrong(
                "It is signed with another key than you named: its own has the fingerprint "
                f"{self.key.fingerprint}."
            )
        note = note_of(self.text("manifest.note"))
        if note.text != f"{FORMAT}\n{self.key.name}\n{self.digest}\n":
            raise Wrong("The signature on the manifest belongs to another manifest.")
        self.checkpoint = checkpoint_of(self.text("log/checkpoint"))
        if self.checkpoint.origin != self.key.name:
            raise Wrong("The checkpoint is of another log than the key.")
        for signed_note in (note, self.checkpoint.note):
            if not signed_note.is_signed_by(self.key):
                raise Wrong("The key in the package did not sign it.")
        if wanted:
            self.proved.append(
                "The manifest and the checkpoint of the log are signed with the key you named."
            )
        else:
            self.proved.append("It is consistent with itself, signer unknown.")
            self.open_questions.append(
                "Who signed it. Ask the owner, by another way than this package came, for the "
                "fingerprint of the key, and name it with --key. The one in here is\n    "
                f"{self.key.fingerprint}"
            )
        self._check_witnesses(witnesses)

    def _read_keys(self) -> None:
        """The keys of this log, the first one first, each handed over by the one before."""
        if self.has("log/keys.jsonl"):
            with self.files.open("log/keys.jsonl") as file:
                for line in lines_of(file):
                    step = hand_over_of(json.loads(line)["note"])
                    if self.keys and self.keys[-1][1] and step.old != self.keys[-1][1].new:
                        raise Wrong("The keys in it do not follow each other.")
                    self.keys.append((step.old, step))
            if self.keys[-1][1] and self.keys[-1][1].new != self.key:
                raise Wrong("The keys in it do not lead to the one that signed it.")
        self.keys.append((self.key, None))
        for old, after in self.keys:
            if after and after.reason == "rotated":
                self.proved.append(
                    f"Key {old.fingerprint[:8]} handed the log to key "
                    f"{after.new.fingerprint[:8]} on {after.when}, at {after.size} records; both "
                    "signed that."
                )
            elif after:
                self.open_questions.append(
                    f"On {after.when} the book was restored from an older backup, at {after.size} "
                    "records of its log. What was recorded between that backup and the restore is "
                    "gone from it; a checkpoint of that time covers more than the book has."
                )

    def _check_witnesses(self, witnesses: list[str]) -> None:
        for text in witnesses:
            witness = key_of(text)
            if witness.kind == 4 and self.checkpoint.note.is_signed_by(witness):
                self.proved.append(f"The witness {witness.name} saw this state of the log.")
            else:
                self.open_questions.append(f"The witness {witness.name} did not cosign.")

    def check_records(self) -> None:
        """Every hash, every chain from its first record to its head, and where each is in the
        log; the table of records line by line beside them."""
        for name in ("systems.jsonl", "records.jsonl", "records.csv"):
            if not self.has(name):
                raise Unreadable(f"There is no {name} in it.")
        self._read_leaves()
        self.used = bytearray(self.checkpoint.size if self.leaves is not None else 0)
        systems, proofs = self._systems(), self._proofs("log/proofs.jsonl")
        table = Table(self.files.open("records.csv"))
        system, expected, previous, last_log = "", 1, "", -1
        head: dict[str, Any] = {}
        with self.files.open("records.jsonl") as file:
            for line in lines_of(file):
                row = row_of(line)
                if row.system != system:
                    self._end_of(head, system, expected, previous)
                    head = next(systems, {})
                    system, expected, previous, last_log = row.system, 1, "", -1
                    if head.get("system") != system:
                        raise Wrong(f"System {system} is not where systems.jsonl has it.")
                if row.sequence != expected:
                    raise Wrong(f"Record {expected} of system {system} is missing.")
                if row.previous is None:
                    self.bare += 1
                else:
                    self.full += 1
                    self._check_full(row, previous)
                    self._check_table(row, table)
                self._check_done(row)
                last_log = self._check_log(row, last_log, proofs)
                expected, previous = expected + 1, row.hash
        self._end_of(head, system, expected, previous)
        if next(systems, None) is not None:
            raise Wrong("Of a system in systems.jsonl there is no record.")
        if not table.is_at_end() or next(proofs, None) is not None:
            raise Wrong("There are rows or proofs of records that are not there.")

    def _check_full(self, row: Row, previous: str) -> None:
        if row.previous != previous:
            raise Wrong(f"Record {named(row)} does not follow the one before it.")
        if hashlib.sha256(b"%s\n%s" % (previous.encode(), row.body)).hexdigest() != row.hash:
            raise Wrong(f"Record {named(row)} was altered after it was written.")
        self._note_files(row.said)

    def _note_files(self, said: dict[str, Any]) -> None:
        """Files that a record names, and those that it takes back."""
        details = said.get("details", {})
        named = {bytes.fromhex(one) for one in HASHES(str(details.get("files") or ""))}
        if named:
            self.named_files |= named
            self.files_by_record[str(said.get("record"))] = named
        if said.get("kind") == "register.withdrawn":
            self.taken_back |= self.files_by_record.get(str(said.get("supersedes")), set())
        elif said.get("kind") == "register.file_taken_back":
            self.taken_back |= {bytes.fromhex(one) for one in HASHES(str(details.get("file")))}

    def _check_done(self, row: Row) -> None:
        """That demanded.csv tells of the record what it says itself."""
        told = self.demanded.pop(bytes.fromhex(row.hash), None) if self.demanded else None
        if told is None or row.previous is None:
            return
        details = row.said.get("details", {})
        says = what_was_done(row.said["kind"], details.get("item", ""), details.get("due_on", ""))
        if says != told:
            raise Wrong(f"demanded.csv tells of record {named(row)} what it does not say.")

    def _check_log(self, row: Row, last: int, proofs: Iterator[Any]) -> int:
        if row.log is None:
            self.waiting += 1
            return self.checkpoint.size
        if not isinstance(row.log, int) or not last < row.log < self.checkpoint.size:
            raise Wrong(f"Record {named(row)} is not in the order of the log.")
        leaf = bytes.fromhex(row.hash)
        if self.leaves is not None:
            if self.leaves[32 * row.log : 32 * row.log + 32] != leaf:
                raise Wrong(f"Record {named(row)} is not in the log where it should be.")
            self.used[row.log] = 1
        else:
            proof = next(proofs, None)
            if proof is None:
                raise Wrong(f"There is no proof that record {named(row)} is in the log.")
            way = [unbase64(one) for one in proof]
            root = root_by_inclusion(leaf_hash(leaf), row.log, self.checkpoint.size, way)
            if root != self.checkpoint.root:
                raise Wrong(f"Record {named(row)} is not in the log.")
        return row.log

    def _end_of(self, head: dict[str, Any], system: str, expected: int, last: str) -> None:
        if not system:
            return
        self.systems += 1
        if head["records"] != expected - 1:
            raise Wrong(f"Of system {system} the last records are missing.")
        if head["head"] != last:
            raise Wrong(f"The last record of system {system} is not the head of its ledger.")

    def _systems(self) -> Iterator[dict[str, Any]]:
        before = ""
        with self.files.open("systems.jsonl") as file:
            for line in lines_of(file):
                entry = json.loads(line)
                if entry["system"] <= before:
                    raise Wrong("The systems are not in order, or one is there twice.")
                before = entry["system"]
                yield entry

    def _proofs(self, name: str) -> Iterator[list[str]]:
        if self.has(name):
            with self.files.open(name) as file:
                for line in lines_of(file):
                    yield json.loads(line)

    def _check_table(self, row: Row, table: Table) -> None:
        if not table.shows(row):
            raise Wrong(f"records.csv does not show record {named(row)} as it is.")

    def _read_leaves(self) -> None:
        if not self.has("log/leaves"):
            return
        with self.files.open("log/leaves") as file:
            leaves = file.read(32 * self.checkpoint.size + 1)
        if len(leaves) != 32 * self.checkpoint.size:
            raise Wrong("The log in it is longer or shorter than its checkpoint says.")
        if roots_of(leaves, {self.checkpoint.size})[self.checkpoint.size] != self.checkpoint.root:
            raise Wrong("The log in it is not the one that the checkpoint is of.")
        self.leaves = leaves

    def check_owner(self) -> None:
        """The owner's own ledger: its chain, its places in the log, and the names it gives."""
        if not self.has("owner.jsonl"):
            self.open_questions.append(
                "What the owner decided about the book, such as work set aside or names changed: "
                "its own ledger is not in the package."
            )
            return
        proofs = self._proofs("log/owner-proofs.jsonl")
        expected, previous, last_log, full, waiting = 1, "", -1, 0, self.waiting
        names: list[list[str]] = []
        with self.files.open("owner.jsonl") as file:
            for line in lines_of(file):
                row = row_of(line, "owner.jsonl")
                if row.sequence != expected:
                    raise Wrong(f"Record {expected} of the owner's ledger is missing.")
                if row.previous is not None:
                    full += 1
                    self._check_full(row, previous)
                    if row.said["subject"] == "person" and row.said["facts"]:
                        names.append([row.said["key"], row.said["facts"]["name"], row.hash])
                self.decisions.add(row.hash)
                last_log = self._check_log(row, last_log, proofs)
                expected, previous = expected + 1, row.hash
        if expected == 1 or next(proofs, None) is not None:
            raise Wrong("The owner's ledger is empty, or there are proofs of what is not there.")
        if expected - 1 != self.manifest["count"].get("owner"):
            raise Wrong("Of the owner's ledger the last records are missing.")
        if self.has("names.csv") and self._cells("names.csv", ["id", "name", "hash"]) != names:
            raise Wrong("names.csv does not show the names that the owner's ledger gives.")
        self.proved.append(
            f"{full} records of the owner's own ledger, of what was decided about the book and of "
            "who was called what, are as they were written, in an unbroken chain."
        )
        if expected - 1 - full:
            self.open_questions.append(
                f"{expected - 1 - full} records of the owner's ledger are there by their hashes "
                "alone: they are about what the package is not of."
            )
        if self.waiting > waiting:
            self.open_questions.append(
                f"{self.waiting - waiting} records of the owner's ledger are not yet in the log."
            )
        self.waiting = waiting

    def _cells(self, name: str, columns: list[str]) -> list[list[str]]:
        return [[row[column] for column in columns] for row in self._rows(name)]

    def _rows(self, name: str) -> Iterator[dict[str, str]]:
        with self.files.open(name) as file:
            csv.field_size_limit(LONGEST_LINE)
            yield from csv.DictReader(io.TextIOWrapper(file, encoding="utf-8-sig", newline=""))

    def read_demanded(self) -> None:
        """What the schedule demanded, before the records that answer it are read."""
        self.outcomes: dict[str, int] = {}
        self.decided: set[str] = set()
        if self.has("not-demanded.csv"):
            self.decided.update(row["decision_hash"] for row in self._rows("not-demanded.csv"))
        self.decided.discard("")
        if not self.has("demanded.csv"):
            return
        for row in self._rows("demanded.csv"):
            outcome, record = row["outcome"], row["record_hash"]
            self.outcomes[outcome] = self.outcomes.get(outcome, 0) + 1
            if outcome in KIND_OF and not HASH(record):
                raise Wrong("demanded.csv says that work was recorded, and names no record of it.")
            if outcome in KIND_OF:
                told = what_was_done(KIND_OF[outcome], row["item"], row["due_on"])
                self.demanded[bytes.fromhex(record)] = told
            if row["decision_hash"]:
                self.decided.add(row["decision_hash"])

    def check_demanded(self) -> None:
        if self.demanded:
            raise Wrong("demanded.csv names a record that is not in the package.")
        if self.decided - self.decisions:
            raise Wrong("A table names a decision that is not in the owner's ledger.")
        if not self.outcomes:
            return
        told = ", ".join(f"{count} {name}" for name, count in sorted(self.outcomes.items()))
        self.proved.append(
            f"demanded.csv tells what the schedule asked for ({told}); each “done” and “skipped” "
            "in it is the record that it names, each decision one of the owner's ledger."
        )
        self.open_questions.append(
            "Whether demanded.csv shows all that was demanded: it is the schedule as the book kept "
            "it, and signed by whoever made the package."
        )

    def tell(self) -> None:
        self.proved.append(
            f"{self.full} records of {self.systems} systems are as they were written, in unbroken "
            "chains from the first to the head of each ledger; records.csv shows the same."
        )
        logged = self.full + self.bare - self.waiting
        self.proved.append(
            f"{logged} records and hashes are in the owner's log, as its checkpoint of "
            f"{self.checkpoint.size} records fixes it."
        )
        if self.waiting:
            self.open_questions.append(
                f"{self.waiting} records are newer than the checkpoint: not yet in the log."
            )
        if self.bare:
            self.open_questions.append(
                f"{self.bare} records between are not in the package; their numbers and hashes "
                "are, so none is left out of the count. What they say, and that it is beside the "
                "scope of the package, cannot be seen here: ask for them by their numbers."
            )
        if self.leaves is not None:
            self.unused = len(self.used) - sum(self.used)
            if self.manifest.get("is_whole") and self.unused:
                raise Wrong(
                    f"It should hold the whole book, and {self.unused} records of the log are not "
                    "in it."
                )
            if self.unused:
                self.open_questions.append(
                    f"{self.unused} records of the log belong to systems that are not in it, or to "
                    "the owner's own ledger where that is not in it."
                )
        elif self.manifest.get("is_whole"):
            raise Wrong("It should hold the whole book, and the log is not in it.")

    def check_attachments(self) -> None:
        held = [
            bytes.fromhex(entry["sha256"])
            for entry in self.manifest["files"]
            if entry["name"].startswith("attachments/")
        ]
        for digest in held:
            if digest not in self.named_files:
                raise Wrong(f"No record names the attached file with SHA-256 {digest.hex()}.")
        if held:
            self.proved.append(f"{len(held)} attached files are those that the records name.")
        back = len(self.named_files & self.taken_back - set(held))
        if back:
            self.proved.append(f"{back} files were taken back, as records say, and are not in it.")
        missing = len(self.named_files - self.taken_back - set(held))
        if missing:
            self.open_questions.append(f"{missing} files that records name are not in the package.")

    def check_continues(self, whole: str) -> None:
        """That the log goes on from a checkpoint that the reader kept."""
        old = checkpoint_of(whole)
        names = [key for key, _ in self.keys if key.name == old.origin]
        signers = [key for key in names if old.note.is_signed_by(key)]
        if not signers:
            raise Wrong("The older checkpoint is not of this log: another key signed it.")
        for step in self._epochs_after(signers[0]):
            if old.size > step.size:
                self.open_questions.append(
                    f"Your checkpoint covers {old.size} records. The book was restored on "
                    f"{step.when} from a backup that had {step.size}: the last "
                    f"{old.size - step.size} of yours are not in it any more, and whether the "
                    "others are the same this checkpoint cannot show. Use one of that size or "
                    "smaller, and ask the owner for what is gone."
                )
                return
        if old.size > self.checkpoint.size:
            self.open_questions.append(
                "Your checkpoint is newer than this package: ask for a package made after it."
            )
            return
        says = self._continues(old)
        if says is None:
            self.open_questions.append(
                f"Whether the log goes on from your checkpoint of {old.size} records: the package "
                "has no proof for it. Ask for one made for that checkpoint."
            )
        elif not says:
            raise Wrong(
                "The log was rewritten: it does not go on from your checkpoint of "
                f"{old.size} records."
            )
        else:
            self.proved.append(
                f"The log goes on from your checkpoint: its first {old.size} records are unchanged."
            )

    def _epochs_after(self, signer: Key) -> Iterator[HandOver]:
        begin = [key for key, _ in self.keys].index(signer)
        for _, step in self.keys[begin:]:
            if step and step.reason == "restored":
                yield step

    def _continues(self, old: Checkpoint) -> bool | None:
        if old.size in (0, self.checkpoint.size):
            return old.root == (self.checkpoint.root if old.size else joined([]))
        if self.leaves is not None:
            return roots_of(self.leaves[: 32 * old.size], {old.size})[old.size] == old.root
        if self.has("log/consistency.jsonl"):
            with self.files.open("log/consistency.jsonl") as file:
                for line in lines_of(file):
                    entry = json.loads(line)
                    if entry["size"] == old.size:
                        proof = [unbase64(one) for one in entry["proof"]]
                        new = self.checkpoint
                        return continues(old.size, old.root, new.size, new.root, proof)
        return None


ALWAYS_OPEN = (
    "Whether what people wrote is true, and whether something was never written at all.",
    "Whether this program is what it should be: one that came in the package may have been changed "
    "with it. Take it from somewhere you trust, or compare its SHA-256 below.",
)


def report(package: Package) -> None:
    print("What holds:")
    for text in package.proved:
        print("  + " + text)
    print("What this does not show:")
    for text in (*package.open_questions, *ALWAYS_OPEN):
        print("  - " + text)
    for name in package.files.ignored:
        print(f"  - “{name}” is not part of the package and was left alone.")
    with open(os.path.abspath(__file__), "rb") as file:
        print(f"verify.py SHA-256 {hashlib.sha256(file.read()).hexdigest()}")


def check(path: str, key: str | None, checkpoint: str | None, witnesses: list[str]) -> int:
    package = Package(path)
    package.check_files()
    package.check_signatures(key, witnesses)
    package.read_demanded()
    package.check_records()
    package.check_owner()
    package.tell()
    package.check_demanded()
    package.check_attachments()
    if checkpoint:
        with open(checkpoint, encoding="utf-8") as file:
            package.check_continues(file.read())
    report(package)
    asked = checkpoint is None or any("goes on from your" in text for text in package.proved)
    seen = sum("saw this state" in text for text in package.proved) == len(witnesses)
    return HOLDS if key and asked and seen else NOT_SHOWN


def fingerprint(text: str) -> str:
    """As people pass it on: with spaces or colons, or the whole key in one line."""
    if "+" in text:
        try:
            return key_of(text).fingerprint
        except Wrong as error:
            raise argparse.ArgumentTypeError(str(error)) from None
    plain = re.sub(r"[\s:]", "", text).lower()
    if not HASH(plain):
        raise argparse.ArgumentTypeError("a fingerprint has 64 digits from 0 to 9 and a to f")
    return plain


UNREADABLE_FOR = (
    Unreadable, OSError, ValueError, KeyError, TypeError, AttributeError, IndexError,
    RecursionError, csv.Error, zipfile.BadZipFile,
)  # fmt: skip
"""Files may hold anything at all."""


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description="Check a package of maintenance records.",
        epilog="Exit codes: 0 all holds; 3 nothing wrong, but not all was shown; 1 something is "
        "wrong; 2 not readable.",
    )
    parser.add_argument("package", help="the ZIP file, or the folder it was unpacked to")
    parser.add_argument("--key", type=fingerprint, help="fingerprint of the owner's key")
    parser.add_argument("--checkpoint", help="file with an older checkpoint that you kept")
    parser.add_argument("--witness", action="append", default=[], help="key of a witness you trust")
    given = parser.parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        code = check(given.package, given.key, given.checkpoint, given.witness)
    except Wrong as error:
        print(f"WRONG: {error}\nDo not rely on this package.")
        return WRONG
    except UNREADABLE_FOR as error:
        print("This package cannot be read: %s" % (error or type(error).__name__))
        return UNREADABLE
    print("Everything holds." if code == HOLDS else "Nothing is wrong; not everything was shown.")
    return code


if __name__ == "__main__":
    sys.exit(main())
