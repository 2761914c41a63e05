"""Checkpoints after C2SP `tlog-checkpoint`, and proofs to hand out after C2SP `tlog-proof`."""

import base64
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from registry.proof.notes import (
    Note,
    NoteError,
    Signer,
    Verifier,
    from_base64,
    make_note,
    parse_note,
)
from registry.proof.tree import HASH_BYTES, ProofError, check_inclusion

NUMBER = re.compile(r"0|[1-9][0-9]{0,18}")
PROOF_HEADER = "c2sp.org/tlog-proof@v1"
MOST_HASHES = 63


@dataclass(frozen=True)
class Checkpoint:
    """How far a log reaches, and the root over all of it."""

    origin: str
    size: int
    root: bytes
    extensions: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        root = base64.b64encode(self.root).decode()
        return "".join(f"{line}\n" for line in (self.origin, self.size, root, *self.extensions))

    def signed_by(self, signer: Signer) -> Note:
        if signer.name != self.origin:
            raise NoteError("A log signs under its own origin.")
        return make_note(self.text, signer)

    @classmethod
    def from_text(cls, text: str) -> "Checkpoint":
        """What a checkpoint says, signed or not."""
        lines = text.removesuffix("\n").split("\n")
        if not text.endswith("\n") or len(lines) < 3 or not all(lines):
            raise NoteError("A checkpoint has an origin, a size and a root, each on its line.")
        origin, size, root = lines[:3]
        checkpoint = cls(origin, _number(size), from_base64(root), tuple(lines[3:]))
        if len(checkpoint.root) != HASH_BYTES:
            raise NoteError(f"The root of a log has {HASH_BYTES} bytes.")
        return checkpoint


def open_checkpoint(whole: str, log: Verifier) -> Checkpoint:
    """The checkpoint in a note that this log signed; NoteError when it did not."""
    note = parse_note(whole)
    checkpoint = Checkpoint.from_text(note.text)
    if checkpoint.origin != log.name:
        raise NoteError(f"This is a checkpoint of {checkpoint.origin}, not of {log.name}.")
    note.verified([log])
    return checkpoint


def witnesses_of(note: Note, known: Iterable[Verifier]) -> dict[Verifier, int]:
    """The known witnesses that cosigned, each with the latest time of its word."""
    found: dict[Verifier, int] = {}
    for witness in known:
        own = [signature for signature in note.signatures if signature.is_by(witness)]
        if own and witness in note.verified([witness]):
            found[witness] = max(signature.timestamp for signature in own)
    return found


@dataclass(frozen=True)
class LogProof:
    """That a leaf is in a log: anybody checks it without asking the log."""

    index: int
    hashes: tuple[bytes, ...]
    note: Note
    extra: bytes = b""

    def __str__(self) -> str:
        extra = [f"extra {base64.b64encode(self.extra).decode()}"] if self.extra else []
        hashes = [base64.b64encode(one).decode() for one in self.hashes]
        head = [PROOF_HEADER, *extra, f"index {self.index}", *hashes]
        return "\n".join(head) + f"\n\n{self.note}"

    @classmethod
    def from_text(cls, text: str) -> "LogProof":
        head, blank, note = text.partition("\n\n")
        lines = head.split("\n")
        if not blank or lines.pop(0) != PROOF_HEADER:
            raise NoteError(f"A proof begins with {PROOF_HEADER} and ends with a checkpoint.")
        extra = b""
        if lines and lines[0].startswith("extra "):
            extra = from_base64(lines.pop(0).removeprefix("extra "))
        if not lines or not lines[0].startswith("index "):
            raise NoteError("A proof says the index of its leaf.")
        index = _number(lines.pop(0).removeprefix("index "))
        return cls(index, _hashes(lines), parse_note(note), extra)

    def check(self, leaf: bytes, log: Verifier) -> Checkpoint:
        """The checkpoint that holds this leaf hash. NoteError: the log did not sign it; ProofError:
        the leaf is not in it."""
        checkpoint = open_checkpoint(str(self.note), log)
        check_inclusion(leaf, self.index, checkpoint.size, self.hashes, checkpoint.root)
        return checkpoint


def _number(text: str) -> int:
    if not NUMBER.fullmatch(text):
        raise NoteError(f"“{text[:20]}” is not a number as logs write it.")
    return int(text)


def _hashes(lines: Sequence[str]) -> tuple[bytes, ...]:
    hashes = tuple(from_base64(line) for line in lines)
    if len(hashes) > MOST_HASHES or any(len(one) != HASH_BYTES for one in hashes):
        raise ProofError(f"A proof holds at most {MOST_HASHES} hashes of {HASH_BYTES} bytes.")
    return hashes
