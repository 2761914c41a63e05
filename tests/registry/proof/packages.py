"""Packages of an invented book, made without a database, and ways to tamper with them."""

import io
import json
import random
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from hashlib import sha256
from uuid import UUID

from registry.chain import canonical_json, record_hash
from registry.proof.checkpoints import Checkpoint
from registry.proof.notes import COSIGNATURE, Note, Signer, make_note
from registry.proof.package import FORMAT, About, Between, Ledger, Line, Log, Package
from registry.proof.tree import Growth, consistency_proof, inclusion_proof, leaf_hash, root_at

MADE_AT = datetime(2026, 6, 1, 12, tzinfo=UTC)
LOG_KEY = Signer.from_seed("book.example/averhythe", bytes(range(32)))
WITNESS = Signer.from_seed("witness.example/pellmoor", bytes(range(1, 33)), COSIGNATURE)
PHOTO = b"\xff\xd8\xff a photo"
COLUMNS = ("site", "system_tag", "kind", "said")


@dataclass(frozen=True)
class Written:
    system: str
    sequence: int
    previous_hash: str
    hash: str
    body: dict


@dataclass
class Book:
    """Systems whose records are in a log in the order in which they were written."""

    systems: int = 3
    records: int = 20
    rewritten: int | None = None  # a record that says another thing, with all hashes after it
    written: list[Written] = field(default_factory=list)
    nodes: dict[tuple[int, int], bytes] = field(default_factory=dict)

    def __post_init__(self):
        heads, growth = {}, Growth()
        draw = random.Random(1)
        for number in range(self.systems * self.records):
            place = number if number < self.systems else draw.randrange(self.systems)
            system = str(UUID(int=place * 7919 + 1))
            sequence, previous = heads.get(system, (0, ""))
            body = self._body(system, sequence + 1, number)
            one = Written(system, sequence + 1, previous, record_hash(previous, body), body)
            heads[system] = one.sequence, one.hash
            self.written.append(one)
            growth, full = growth.add(leaf_hash(bytes.fromhex(one.hash)))
            self.nodes |= {(node.level, node.number): node.hash for node in full}
        self.heads = heads

    def _body(self, system: str, sequence: int, number: int) -> dict:
        details = {"n2_percent": 98.5, "where": "=Far vent “Süd”"}
        if number == 5:
            details["files"] = f"vent.jpg {sha256(PHOTO).hexdigest()}"
        if number == self.rewritten:
            details["n2_percent"] = 99.9
        return {
            "system": system, "sequence": sequence, "record": str(UUID(int=number)),
            "kind": "reading.gas", "occurred_at": "2026-05-03T10:00:00.000000+00:00",
            "recorded_at": "2026-05-03T10:00:00.000000+00:00", "recorded_by": str(UUID(int=9)),
            "details": details, "note": "", "supersedes": None, "inerting_run": None,
        }  # fmt: skip

    def read(self, level: int, number: int) -> bytes:
        return self.nodes[level, number]

    def checkpoint(self, size: int | None = None, key: Signer = LOG_KEY) -> Note:
        size = len(self.written) if size is None else size
        return Checkpoint(key.name, size, root_at(size, self.read)).signed_by(key)

    @cached_property
    def in_order(self) -> list[tuple[int, Written]]:
        places = enumerate(self.written)
        return sorted(places, key=lambda one: (one[1].system, one[1].sequence))

    def rows(self, size: int, is_full=lambda one: True, of=lambda one: True) -> Iterator:
        for place, one in self.in_order:
            log = place if place < size else None
            if not of(one):
                continue
            if is_full(one):
                words = ("North Quay", "NQ-1", "gas reading", one.body["details"]["where"])
                yield Line(
                    one.system, one.sequence, one.hash, log, one.previous_hash,
                    canonical_json(one.body), words,
                )  # fmt: skip
            else:
                yield Between(one.system, one.sequence, one.hash, log)

    def package(
        self, size=None, is_full=lambda one: True, of=lambda one: True, older=(), cosigned=False,
        proofs=False, is_whole=True, key=LOG_KEY, photo=PHOTO, **more,
    ) -> bytes:  # fmt: skip
        size = len(self.written) if size is None else size
        note = self.checkpoint(size, key)
        if cosigned:
            note = note.signed(WITNESS.cosign(note.text, 1_790_000_000))
        rows = lambda: self.rows(size, is_full, of)  # noqa: E731
        log = Log(
            note,
            leaves=None if proofs else lambda: self._leaves(size),
            proofs=(lambda: self._proofs(rows(), size)) if proofs else None,
            consistency=[(old, consistency_proof(old, size, self.read)) for old in older],
        )
        out = io.BytesIO()
        about = About("Averhythe Quays", MADE_AT, "Olive Manager", is_whole=is_whole)
        package = Package(out, about, log, key)
        package.add_systems(
            Ledger(system, "NQ-1", "North Quay", *self.heads[system])
            for system in sorted({row.system for row in rows()})
        )
        package.add_records(rows, COLUMNS)
        if photo:
            package.add("attachments/vent.jpg", [photo])
        package.close()
        return out.getvalue()

    def _leaves(self, size: int) -> Iterator[bytes]:
        return (bytes.fromhex(one.hash) for one in self.written[:size])

    def _proofs(self, rows, size: int) -> Iterator[list[bytes]]:
        return (inclusion_proof(row.log, size, self.read) for row in rows if row.log is not None)


def files_of(package: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(package)) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def packed(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, content in files.items():
            made.writestr(name, content)
    return out.getvalue()


def resigned(files: dict[str, bytes], key: Signer = LOG_KEY) -> bytes:
    """The manifest brought in line with changed files and signed anew: as the holder of the key
    would tamper."""
    manifest = json.loads(files["manifest.json"])
    beside = ("manifest.json", "manifest.note")
    manifest["files"] = [
        {"name": name, "size": len(content), "sha256": sha256(content).hexdigest(), "what": ""}
        for name, content in files.items()
        if name not in beside
    ]
    text = json.dumps(manifest, ensure_ascii=False).encode()
    note = make_note(f"{FORMAT}\n{key.name}\n{sha256(text).hexdigest()}\n", key)
    return packed(files | {"manifest.json": text, "manifest.note": str(note).encode()})
