"""What the tests of recurring work need: a system whose site has adopted an edition."""

from datetime import UTC, datetime

from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling import recurring
from scheduling.models import Occurrence

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
PDF = b"%PDF-1.7\n1 0 obj\n"
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(64)
PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)
NOTHING = {"found": "none"}


def adopt(site, by, edition="nfpa25-2017", now=NOW):
    return recurring.adopt_edition(site=site, edition=edition, adopted_by=by, now=now)


def open_of(system, key) -> Occurrence:
    return Occurrence.objects.with_place().open().get(system=system, item__key=key)


def complete(occurrence, by, on, now=None, **facts):
    facts.setdefault("details", NOTHING)
    return recurring.complete_occurrence(
        occurrence=occurrence, occurred_at=on, recorded_by=by, now=now or on, **facts
    )


def upload(name="drain.jpg", content=JPEG) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)
