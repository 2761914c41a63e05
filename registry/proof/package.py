"""A package of records for somebody outside, written as it streams; docs/proof.md has its format.

No database here: whoever has one hands rows over, in order, and as often as they are asked for.
Memory does not grow with their number. `verify.py` beside this file checks what comes of it.
"""

import json
import zipfile
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Any

from registry.proof.cells import csv_lines
from registry.proof.checkpoints import Checkpoint
from registry.proof.notes import Note, Signer, make_note

FORMAT = "riserbook-package/1"
PIECE = 1 << 16
VERIFIER = Path(__file__).with_name("verify.py")
OF_A_RECORD = ("hash", "previous_hash", "log", "body")


class PackageError(ValueError):
    """Rows that no honest package can be made of."""


@dataclass(frozen=True, slots=True)
class Line:
    """A record in full. `body` is the canonical JSON that its hash covers, `log` its place in the
    owner's log, `words` what the columns of the table say of it."""

    system: str
    sequence: int
    hash: str
    log: int | None
    previous_hash: str
    body: str
    words: Sequence[object] = ()


@dataclass(frozen=True, slots=True)
class Between:
    """A record that the package leaves out: its hash alone, so that the count can be checked."""

    system: str
    sequence: int
    hash: str
    log: int | None


Rows = Callable[[], Iterable[Line | Between]]
"""By system, in the order of their ids, and by number; the same each time it is called."""


@dataclass(frozen=True)
class Ledger:
    """A system of the package and what its ledger has come to."""

    system: str
    tag: str
    site: str
    records: int
    head: str


@dataclass(frozen=True)
class About:
    """What the package is of. `scope` is shown to people; `is_whole` promises every record."""

    owner: str
    made_at: datetime
    made_by: str
    scope: dict[str, Any] = field(default_factory=dict)
    is_whole: bool = False


@dataclass(frozen=True)
class Log:
    """The owner's log as its checkpoint fixes it, and what shows that the records are in it: all
    its leaves, or a proof for each row that is in it, in their order."""

    checkpoint: Note
    leaves: Callable[[], Iterable[bytes]] | None = None
    proofs: Callable[[], Iterable[Sequence[bytes]]] | None = None
    consistency: Iterable[tuple[int, Sequence[bytes]]] = ()
    handed_over: Sequence[Note] = ()  # from key to key, the first one first

    @property
    def size(self) -> int:
        return Checkpoint.from_text(self.checkpoint.text).size


class Package:
    """A ZIP that grows by one file after another into `out`, which need not be seekable. Nothing
    of it holds before `close`, which signs the list of what went in."""

    def __init__(self, out: IO[bytes], about: About, log: Log, signer: Signer):
        self.about, self.log, self.signer = about, log, signer
        self.zip = zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, allowZip64=True)
        self.files: list[dict[str, Any]] = []
        self.count = {"systems": 0, "records": 0, "between": 0}
        self.add("verify.py", [VERIFIER.read_bytes()], "Checks all of this; run it with Python.")

    def add(self, name: str, pieces: Iterable[bytes], what: str = "") -> None:
        """One more file, from the pieces it consists of."""
        if any(entry["name"] == name for entry in self.files):
            raise PackageError(f"“{name}” is in the package already.")
        digest, size = sha256(), 0
        with self._open(name) as file:
            for piece in pieces:
                file.write(piece)
                digest.update(piece)
                size += len(piece)
        self.files.append({"name": name, "size": size, "sha256": digest.hexdigest(), "what": what})

    def add_systems(self, ledgers: Iterable[Ledger]) -> None:
        self.add("systems.jsonl", _pieces(self._systems(ledgers)), "Systems and their heads.")

    def _systems(self, ledgers: Iterable[Ledger]) -> Iterator[str]:
        last = ""
        for one in ledgers:
            if one.system <= last:
                raise PackageError("Systems come in the order of their ids, each once.")
            last = one.system
            self.count["systems"] += 1
            yield _json(
                system=one.system, tag=one.tag, site=one.site, records=one.records, head=one.head
            )

    def add_records(self, rows: Rows, columns: Sequence[str]) -> None:
        """The records twice, for programs and for people; `columns` name the words of a line."""
        self.add(
            "records.jsonl", _pieces(self._lines(rows)), "Records, as their hashes cover them."
        )
        shown = (
            (*row.words, row.hash, row.previous_hash, _number(row.log), row.body)
            for row in rows()
            if isinstance(row, Line)
        )
        table = csv_lines((*columns, *OF_A_RECORD), shown)
        self.add("records.csv", _pieces(table), "The same records, for a spreadsheet.")
        if self.log.leaves:
            self.add("log/leaves", _joined(self.log.leaves()), "The whole log, 32 bytes a record.")
        elif self.log.proofs:
            proofs = (json.dumps(_encoded(one)) + "\n" for one in self.log.proofs())
            self.add("log/proofs.jsonl", _pieces(proofs), "That each record is in the log.")

    def add_owner(
        self, rows: Rows, proofs: Callable[[], Iterable[Sequence[bytes]]] | None = None
    ) -> None:
        """The owner's own ledger, whose records have no system; `proofs` where the whole log is
        not in the package."""
        self.count["owner"] = 0
        self.add(
            "owner.jsonl", _pieces(self._owner_lines(rows)), "What was decided about the book."
        )
        if proofs:
            lines = (json.dumps(_encoded(one)) + "\n" for one in proofs())
            self.add("log/owner-proofs.jsonl", _pieces(lines), "That each decision is in the log.")

    def _owner_lines(self, rows: Rows) -> Iterator[str]:
        for row in rows():
            self.count["owner"] += 1
            if isinstance(row, Line):
                yield _full(row)
            else:
                yield _json(hash=row.hash, log=row.log, sequence=row.sequence)

    def _lines(self, rows: Rows) -> Iterator[str]:
        for row in rows():
            if isinstance(row, Line):
                self.count["records"] += 1
                yield _full(row)
            else:
                self.count["between"] += 1
                yield _json(hash=row.hash, log=row.log, sequence=row.sequence, system=row.system)

    def close(self) -> str:
        """Key, checkpoint and the signed list of files; returns the SHA-256 of that list."""
        self.add("log/key", [f"{self.signer.verifier.vkey}\n".encode()], "Who signed it.")
        self.add("log/checkpoint", [str(self.log.checkpoint).encode()], "How far the log reaches.")
        consistency = [
            _json(size=size, proof=_encoded(proof)) for size, proof in self.log.consistency
        ]
        if consistency:
            name = "log/consistency.jsonl"
            self.add(name, _pieces(consistency), "That it goes on from older checkpoints.")
        if self.log.handed_over:
            notes = [_json(note=str(note)) for note in self.log.handed_over]
            self.add("log/keys.jsonl", _pieces(notes), "From which key to which it was handed on.")
        manifest = json.dumps(self._manifest(), ensure_ascii=False, indent=1).encode()
        digest = sha256(manifest).hexdigest()
        note = make_note(f"{FORMAT}\n{self.signer.name}\n{digest}\n", self.signer)
        for name, content in (("manifest.json", manifest), ("manifest.note", str(note).encode())):
            with self._open(name) as file:
                file.write(content)
        self.zip.close()
        return digest

    def _manifest(self) -> dict[str, Any]:
        about = self.about
        return {
            "format": FORMAT,
            "owner": about.owner,
            "made_at": about.made_at.astimezone(UTC).isoformat(timespec="seconds"),
            "made_by": about.made_by,
            "scope": about.scope,
            "is_whole": about.is_whole,
            "count": self.count | {"log": self.log.size},
            "files": self.files,
        }

    def _open(self, name: str) -> IO[bytes]:
        made = self.about.made_at.astimezone(UTC).timetuple()[:6]
        info = zipfile.ZipInfo(name, made)
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o644 << 16
        return self.zip.open(info, "w", force_zip64=True)


def _full(row: Line) -> str:
    log = "null" if row.log is None else row.log
    return (
        f'{{"hash":"{row.hash}","log":{log},"previous_hash":"{row.previous_hash}",'
        f'"body":{row.body}}}\n'
    )


def _json(**values: Any) -> str:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")) + "\n"


def _number(value: int | None) -> object:
    return "" if value is None else value


def _encoded(hashes: Iterable[bytes]) -> list[str]:
    return [b64encode(one).decode() for one in hashes]


def _pieces(lines: Iterable[str]) -> Iterator[bytes]:
    return _joined(line.encode() for line in lines)


def _joined(lines: Iterable[bytes]) -> Iterator[bytes]:
    """Short lines put together: each write into a ZIP has its price."""
    held, size = [], 0
    for line in lines:
        held.append(line)
        size += len(line)
        if size >= PIECE:
            yield b"".join(held)
            held, size = [], 0
    if held:
        yield b"".join(held)
