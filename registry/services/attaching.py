"""Photos and documents: what they are is read from their bytes; where they lie is our choice."""

import hashlib
import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.kinds.parts import FILES
from registry.models import Attachment, Record, System, User
from registry.services.holding import let_go_of_sent, placeless
from registry.services.ledger import RecordError, SentBefore, lock, record, sent_before

LARGEST = 10 * 1024 * 1024
MOST = 10
HEAD = 32
ACCEPTED = _("JPEG, PNG, WebP or HEIC photos and PDF documents")
EXTENSIONS = {
    "image/jpeg": (".jpg", ".jpeg"),
    "image/png": (".png",),
    "image/webp": (".webp",),
    "image/heic": (".heic", ".heif"),
    "application/pdf": (".pdf",),
}
HEIC_BRANDS = (b"heic", b"heix", b"mif1", b"heim", b"heis")


@dataclass(frozen=True)
class Stored:
    name: str
    content_type: str
    size: int
    sha256: str
    stored_as: str

    @property
    def said(self) -> str:
        """As the ledger keeps it, so that a file put in its place would not go unseen."""
        return f"{self.name} {self.sha256}"


def sniff(head: bytes) -> str | None:
    """The type that the first bytes of a file declare; None for anything the book does not keep."""
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head.startswith(b"%PDF-"):
        return "application/pdf"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "image/webp"
    if head[4:8] == b"ftyp" and head[8:12] in HEIC_BRANDS:
        return "image/heic"
    return None


def plain_name(name: str, content_type: str) -> str:
    """The last part of a name without control characters, ending as its type does."""
    last = PurePosixPath(PureWindowsPath(name).as_posix()).name
    kept = "".join(sign for sign in last if sign.isprintable() and sign not in '"/\\<>:|?*')
    allowed = EXTENSIONS[content_type]
    path = PurePosixPath(kept.strip(". ") or "file")
    ending = path.suffix.lower()
    stem = path.stem if ending else path.name
    return stem[:100] + (ending if ending in allowed else allowed[0])


def check_file(file: File) -> str:
    """The type of a file that the book keeps; raises RecordError saying what would be right."""
    if file.size > LARGEST:
        raise RecordError(
            {
                "files": gettext(
                    "“{name}” is larger than {LARGEST} MB, the most for one file."
                ).format(name=file.name, LARGEST=LARGEST // 2**20)
            }
        )
    file.seek(0)
    content_type = sniff(file.read(HEAD))
    file.seek(0)
    if content_type is None:
        raise RecordError(
            {
                "files": gettext("“{name}” is not one of {ACCEPTED}.").format(
                    name=file.name, ACCEPTED=ACCEPTED
                )
            }
        )
    return content_type


@contextmanager
def stored(files: Iterable[File], system: System) -> Iterator[list[Stored]]:
    """The files written to storage; taken away again when what follows fails."""
    files = list(files)
    if len(files) > MOST:
        raise RecordError(
            {
                "files": gettext("{files} files at once; {MOST} are the most.").format(
                    files=len(files), MOST=MOST
                )
            }
        )
    checked = [(file, check_file(file)) for file in files]
    kept: list[Stored] = []
    try:
        for file, content_type in checked:
            kept.append(_store(file, content_type, system))
        yield kept
        let_go_of_sent(files)
    except BaseException:
        discard(kept)
        raise


def discard(files: Iterable[Stored]) -> None:
    for file in files:
        default_storage.delete(file.stored_as)


def _store(file: File, content_type: str, system: System) -> Stored:
    if content_type.startswith("image/"):
        file = placeless(file)
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    wanted = f"attachments/{system.uuid}/{uuid.uuid4()}"
    return Stored(
        name=plain_name(file.name or "", content_type),
        content_type=content_type,
        size=file.size,
        sha256=digest.hexdigest(),
        stored_as=default_storage.save(wanted, file),
    )


def said_of(files: Iterable[Stored]) -> str:
    return "; ".join(file.said for file in files)


@transaction.atomic
def record_with_files(
    *, system: System, files: Iterable[File] = (), now: datetime | None = None, **facts: Any
) -> Record:
    """A record with photos or documents, whose digests it holds; the same `client_key` again, with
    the same answers and files, returns the record it made the first time."""
    given, now = list(files), now or timezone.now()
    book = lock(system)
    said = {
        name: facts[name]
        for name in ("kind", "note", "recorded_by", "supersedes", "occurred_at")
        if name in facts
    }
    key, details = facts.get("client_key"), facts["details"]
    if earlier := sent_before(book, key, details, added=(FILES.name,), **said):
        if given and not _are_of(earlier, given):
            raise SentBefore(earlier)
        let_go_of_sent(given)
        return earlier
    with stored(given, book) as kept:
        named = {FILES.name: said_of(kept)} if kept else {}
        written = record(
            system=book, is_held=True, now=now, **(facts | {"details": {**details, **named}})
        )
        attach(record=written, files=kept, uploaded_by=written.recorded_by, now=now)
    system.next_sequence, system.head_hash = book.next_sequence, book.head_hash
    return written


def _are_of(earlier: Record, files: Iterable[File]) -> bool:
    """Blanking the place of a photo leaves its length."""
    sent = sorted((plain_name(file.name or "", check_file(file)), file.size) for file in files)
    return sent == sorted((row.name, row.size) for row in earlier.attachments.all())


def attach(*, record: Record, files: Iterable[Stored], uploaded_by: User, now: datetime) -> None:
    Attachment.objects.bulk_create(
        Attachment(
            system=record.system,
            record=record,
            name=file.name,
            content_type=file.content_type,
            size=file.size,
            sha256=file.sha256,
            stored_as=file.stored_as,
            uploaded_by=uploaded_by,
            uploaded_at=now,
        )
        for file in files
    )
