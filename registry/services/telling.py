"""What somebody at a sign tells becomes an unconfirmed record; what they typed stays beside it."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from hashlib import sha256
from secrets import token_hex
from uuid import UUID, uuid5

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext

from registry.chain import canonical_json
from registry.kinds.events import TOLD
from registry.models import Record, RiserSign, System, Telling, User
from registry.services.attaching import check_file, plain_name, record_with_files
from registry.services.ledger import RecordError, lock, withdraw

MOST_OPEN = 5
"""Records that wait for an answer at one system; what comes after is added to the last of them."""
BY_ALL = "sign@riserbook.invalid"


def reporter() -> User:
    """In whose name the ledger holds what was told: nobody's, who can never sign in."""
    user, is_new = User.objects.get_or_create(
        email=BY_ALL, defaults={"name": "Somebody at the sign", "is_active": False}
    )
    if is_new:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    return user


def open_tellings(system: System):
    """Records that nobody has confirmed, corrected or dismissed, the oldest first."""
    return system.records.current().filter(kind=TOLD.code).order_by("sequence")


def digest_of(salt: str, words: str, contact: str) -> str:
    return sha256(canonical_json([salt, words, contact]).encode()).hexdigest()


@transaction.atomic
def tell(
    *,
    sign: RiserSign,
    what: str,
    happened: str,
    now: datetime,
    client_key: UUID,
    steps: Mapping[str, str] | None = None,
    words: str = "",
    contact: str = "",
    photos: Iterable[File] = (),
) -> Telling:
    """Sent twice it is told once; other words under the same key are told beside it."""
    book = lock(sign.system)
    if earlier := _sent_before(book, client_key):
        if _says(earlier, what, happened, words, contact):
            return earlier
        said = canonical_json([what, happened, words, contact, dict(steps or {})])
        client_key = uuid5(client_key, said)
        if earlier := _sent_before(book, client_key):
            return earlier
    if not RiserSign.objects.live().filter(pk=sign.pk).exists():
        raise RecordError({"": gettext("This code was ended while you wrote. Call instead.")})
    has_words = bool(words or contact)
    salt = token_hex(32) if has_words else ""
    digest = digest_of(salt, words, contact) if has_words else ""
    waiting = list(open_tellings(book))
    if len(waiting) < MOST_OPEN:
        details = {"what": what, "happened": happened, "told_sha256": digest, **(steps or {})}
        written = record_with_files(
            system=book, kind=TOLD.code, occurred_at=now, details=details, recorded_by=reporter(),
            client_key=client_key, files=list(_nameless(photos)), now=now,
        )  # fmt: skip
    else:
        written = waiting[-1]
    return Telling.objects.create(
        record=written, sign=sign, what=what, words=words, contact=contact, salt=salt,
        sha256=digest, client_key=client_key, told_at=now,
    )  # fmt: skip


def _sent_before(book: System, client_key: UUID) -> Telling | None:
    """A key is its form's alone: at another system it says nothing."""
    return Telling.objects.filter(client_key=client_key, sign__system=book).first()


def _says(earlier: Telling, what: str, happened: str, words: str, contact: str) -> bool:
    """Erased words cannot be compared, and are not asked for again."""
    if earlier.has_own_record and earlier.record.details.get("happened") != happened:
        return False
    is_same = earlier.is_erased or (earlier.words, earlier.contact) == (words, contact)
    return is_same and earlier.what == what


def dismiss(*, records: Iterable[Record], reason: str, by: User, now: datetime) -> list[Record]:
    """Takes back what was told, with a reason; all of them or none."""
    with transaction.atomic():
        return [withdraw(record=row, reason=reason, recorded_by=by, now=now) for row in records]


@transaction.atomic
def erase(*, telling: Telling, by: User, now: datetime) -> None:
    """What was typed and the salt go for good, and with them any way to guess it from the digest
    in the ledger; so do the photos, of which the ledger keeps the digests."""
    rows = Telling.objects.filter(pk=telling.pk, erased_at__isnull=True)
    if not rows.update(words="", contact="", salt="", erased_at=now, erased_by=by):
        return
    if not telling.has_own_record:
        return  # it was added to a record whose photos are somebody else's
    files = telling.record.attachments.filter(erased_at__isnull=True)
    names = list(files.values_list("stored_as", flat=True))
    files.update(erased_at=now)
    transaction.on_commit(lambda: _delete(names))


def _delete(names: Iterable[str]) -> None:
    for name in names:
        default_storage.delete(name)


def _nameless(photos: Iterable[File]) -> Iterable[File]:
    """A file's own name may be a person's, and the ledger keeps names for good."""
    for number, photo in enumerate(photos, start=1):
        photo.name = plain_name(f"photo-{number}", check_file(photo))
        yield photo
