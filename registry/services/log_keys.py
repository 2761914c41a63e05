"""Keys that sign the logs: made at first use, sealed with the secret of the installation.

Whoever has a copy of the database alone cannot sign with them. Whoever sets another SECRET_KEY
keeps the old one among SECRET_KEY_FALLBACKS, or the next checkpoint cannot be signed.
"""

from base64 import b64encode, urlsafe_b64encode
from datetime import UTC, datetime
from urllib.parse import urlsplit
from uuid import uuid4

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from registry.models import LogKey, OwnerLog
from registry.proof.notes import Signer, Verifier, make_note

HANDED_OVER = "riserbook-key/1"
EPOCH = "/epoch-"
PURPOSE = b"riserbook: keys that sign logs"


class LogKeyError(Exception):
    """A key that this installation cannot unseal."""


def new_origin() -> str:
    """A name for a log that no other has; it says where the book is kept, and may outlive that."""
    return f"{urlsplit(settings.PUBLIC_URL).netloc}/log/{uuid4().hex[:12]}"


def make_key(log: OwnerLog, *, now: datetime) -> LogKey:
    signer = Signer.generate(log.origin)
    sealed = _seal().encrypt(signer.key.private_bytes_raw()).decode()
    return LogKey.objects.create(
        log=log, vkey=signer.verifier.vkey, sealed_seed=sealed, made_at=now
    )


def hand_over(log: OwnerLog, *, root: bytes, reason: str, now: datetime) -> LogKey:
    """Another key signs from here on; a note signed by both says from which size, and why. After a
    restore the log has another name too: what was signed under the old one may be more than the
    backup held, and no witness can follow a log that became shorter."""
    old = signer_of(log)
    if reason == LogKey.Reason.RESTORED:
        log.origin = _next_epoch(log.origin)
        log.save(update_fields=["origin"])
    made = make_key(log, now=now)
    new = unsealed(log, made)
    text = (
        f"{HANDED_OVER}\n{old.verifier.vkey}\n{new.verifier.vkey}\n{log.size}\n"
        f"{b64encode(root).decode()}\n{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}\n{reason}\n"
    )
    made.reason, made.size, made.note = reason, log.size, str(make_note(text, old, new))
    made.save(update_fields=["reason", "size", "note"])
    return made


def _next_epoch(origin: str) -> str:
    stem, _, number = origin.partition(EPOCH)
    return f"{stem}{EPOCH}{int(number or 1) + 1}"


def signer_of(log: OwnerLog) -> Signer:
    key = log.keys.order_by("-pk").first()
    if key is None:
        raise LogKeyError(f"The log {log} has no key.")
    return unsealed(log, key)


def unsealed(log: OwnerLog, key: LogKey) -> Signer:
    try:
        seed = _seal().decrypt(key.sealed_seed.encode())
    except InvalidToken as error:
        raise LogKeyError(
            f"The key of the log {log} was sealed with another SECRET_KEY. Put that one among "
            "SECRET_KEY_FALLBACKS."
        ) from error
    signer = Signer.from_seed(Verifier.from_vkey(key.vkey).name, seed)
    if signer.verifier.vkey != key.vkey:
        raise LogKeyError(f"The key of the log {log} is not the one whose public half is kept.")
    return signer


def _seal() -> MultiFernet:
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    return MultiFernet([Fernet(_derived(str(secret))) for secret in secrets])


def _derived(secret: str) -> bytes:
    derive = HKDF(algorithm=SHA256(), length=32, salt=None, info=PURPOSE)
    return urlsafe_b64encode(derive.derive(secret.encode()))
