"""Signed notes after C2SP `signed-note` v1.0.0: a text, a blank line, and lines of signatures.

Two kinds of signature are known: Ed25519 over the text, by whoever keeps a log, and the cosignature
of a witness with its time (C2SP `tlog-cosignature`). Lines of others are kept and not believed.
"""

import base64
import binascii
from collections.abc import Iterable
from dataclasses import dataclass, field
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

ED25519, COSIGNATURE = 0x01, 0x04
MOST_SIGNATURES = 64
LONGEST = 1_000_000
DASH = "\u2014 "
LATEST = 2**63 - 1


class NoteError(ValueError):
    """A note or key that is not well formed, or that no known key vouches for."""


@dataclass(frozen=True)
class Verifier:
    """A name with a public key, and for which kind of signature it stands."""

    name: str
    public_key: bytes
    kind: int = ED25519

    def __post_init__(self) -> None:
        if not self.name or "+" in self.name or any(sign.isspace() for sign in self.name):
            raise NoteError(f"“{self.name}” cannot name a key: no spaces, no plus sign.")
        if self.kind not in (ED25519, COSIGNATURE) or len(self.public_key) != 32:
            raise NoteError("Only Ed25519 keys of 32 bytes are known here.")

    @property
    def fingerprint(self) -> str:
        """SHA-256 of name, kind and key, in hex; the key id is its first four bytes."""
        text = self.name.encode() + b"\n" + bytes([self.kind]) + self.public_key
        return sha256(text).hexdigest()

    @property
    def key_id(self) -> bytes:
        return bytes.fromhex(self.fingerprint[:8])

    @property
    def vkey(self) -> str:
        key = base64.b64encode(bytes([self.kind]) + self.public_key).decode()
        return f"{self.name}+{self.key_id.hex()}+{key}"

    @classmethod
    def from_vkey(cls, text: str) -> "Verifier":
        name, _, rest = text.partition("+")
        key_id, _, encoded = rest.partition("+")
        key = from_base64(encoded)
        verifier = cls(name, key[1:], key[0] if key else 0)
        if verifier.key_id.hex() != key_id:
            raise NoteError("The id of this key does not belong to it.")
        return verifier

    def verifies(self, text: str, signature: bytes) -> bool:
        try:
            key = Ed25519PublicKey.from_public_bytes(self.public_key)
            if self.kind == ED25519:
                key.verify(signature, text.encode())
            else:
                stamp, signature = signature[:8], signature[8:]
                key.verify(signature, cosigned_text(text, int.from_bytes(stamp)))
        except (InvalidSignature, ValueError):
            return False
        return True


@dataclass(frozen=True)
class Signer:
    name: str
    key: Ed25519PrivateKey = field(repr=False)
    kind: int = ED25519

    @classmethod
    def generate(cls, name: str, kind: int = ED25519) -> "Signer":
        return cls(name, Ed25519PrivateKey.generate(), kind)

    @classmethod
    def from_seed(cls, name: str, seed: bytes, kind: int = ED25519) -> "Signer":
        return cls(name, Ed25519PrivateKey.from_private_bytes(seed), kind)

    @property
    def verifier(self) -> Verifier:
        return Verifier(self.name, self.key.public_key().public_bytes_raw(), self.kind)

    def sign(self, text: str) -> "Signature":
        if self.kind != ED25519:
            raise NoteError("A witness's key signs checkpoints alone, with a time.")
        return Signature(self.name, self.verifier.key_id, self.key.sign(text.encode()))

    def cosign(self, text: str, timestamp: int) -> "Signature":
        """A witness's word for a checkpoint: that it goes on from all it saw before."""
        if self.kind != COSIGNATURE:
            raise NoteError("The key of a log does not cosign.")
        signed = self.key.sign(cosigned_text(text, timestamp))
        return Signature(self.name, self.verifier.key_id, timestamp.to_bytes(8) + signed)


def cosigned_text(text: str, timestamp: int) -> bytes:
    if not 0 <= timestamp <= LATEST:
        raise NoteError("The time of a cosignature is a number of seconds since 1970.")
    return f"cosignature/v1\ntime {timestamp}\n{text}".encode()


@dataclass(frozen=True)
class Signature:
    name: str
    key_id: bytes
    value: bytes

    @property
    def line(self) -> str:
        return f"{DASH}{self.name} {base64.b64encode(self.key_id + self.value).decode()}\n"

    @property
    def timestamp(self) -> int:
        """When it was given; for a cosignature alone."""
        return int.from_bytes(self.value[:8])

    def is_by(self, verifier: Verifier) -> bool:
        return self.name == verifier.name and self.key_id == verifier.key_id


@dataclass(frozen=True)
class Note:
    text: str
    signatures: tuple[Signature, ...] = ()

    def __str__(self) -> str:
        return self.text + "\n" + "".join(signature.line for signature in self.signatures)

    def signed(self, *signatures: Signature) -> "Note":
        return Note(self.text, (*self.signatures, *signatures))

    def verified(self, verifiers: Iterable[Verifier]) -> list[Verifier]:
        """Those of these keys that signed, in their order; NoteError when one of them signed
        another text than this, or when none of them signed."""
        found = []
        for verifier in verifiers:
            own = [signature for signature in self.signatures if signature.is_by(verifier)]
            if any(not verifier.verifies(self.text, signature.value) for signature in own):
                raise NoteError(f"The signature of {verifier.name} does not belong to this text.")
            found += [verifier] if own else []
        if not found:
            raise NoteError("None of the known keys signed this.")
        return found


def make_note(text: str, *signers: Signer) -> Note:
    _check_text(text)
    return Note(text, tuple(signer.sign(text) for signer in signers))


def parse_note(whole: str) -> Note:
    """The parts of a note. Nothing in it is to be believed before `verified` was asked."""
    _check_text(whole)
    text, blank, lines = whole.rpartition("\n\n")
    if not blank or not lines:
        raise NoteError("A note has a text, a blank line and signatures.")
    found = lines.removesuffix("\n").split("\n")
    if len(found) > MOST_SIGNATURES:
        raise NoteError(f"More than {MOST_SIGNATURES} signatures are not read.")
    return Note(text + "\n", tuple(_signature(line) for line in found))


def _check_text(text: str) -> None:
    if len(text) > LONGEST:
        raise NoteError("This is too long for a note.")
    if not text.endswith("\n"):
        raise NoteError("A note ends with a line feed.")
    if any(sign < " " and sign != "\n" for sign in text):
        raise NoteError("A note has no control characters but line feeds.")


def _signature(line: str) -> Signature:
    name, space, encoded = line.removeprefix(DASH).partition(" ")
    value = from_base64(encoded)
    if not line.startswith(DASH) or not name or not space or len(value) < 5:
        raise NoteError("A signature is a dash, a name and 4 bytes or more in base64.")
    return Signature(name, value[:4], value[4:])


def from_base64(text: str) -> bytes:
    """Only the one text that stands for these bytes: what a hash covers has no second form."""
    try:
        value = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise NoteError("This is not base64.") from error
    if base64.b64encode(value).decode() != text:
        raise NoteError("This is not base64 as it is written.")
    return value
