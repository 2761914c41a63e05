"""Files chosen in a form that comes back with an error are kept meanwhile: a browser keeps none.

Each is its person's alone, and bounded: a day, so many files, so many bytes. What was sent with a
record is let go; the sweep lets go what nobody sent.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from functools import partial
from uuid import UUID, uuid4

from django.core.files.base import ContentFile, File
from django.core.files.storage import default_storage
from django.db import transaction

from registry.models import HeldFile, User
from registry.photos.place import without_place

KEPT_FOR = timedelta(days=1)
MOST_FILES, MOST_BYTES = 30, 100 * 2**20
"""Of one person; what was held first goes first."""


class HeldUpload(ContentFile):
    """A held file as a form and the services take it."""

    def __init__(self, row: HeldFile):
        with default_storage.open(row.stored_as, "rb") as kept:
            super().__init__(kept.read(), name=row.name)
        self.row = row


def placeless(photo: File) -> File:
    """Whoever sees a record need not learn where a person stood."""
    photo.seek(0)
    kept, had_place = without_place(photo.read())
    photo.seek(0)
    return ContentFile(kept, name=photo.name) if had_place else photo


@transaction.atomic
def hold(*, files: Iterable[tuple[File, str, str]], by: User, now: datetime) -> list[HeldFile]:
    """Each with its plain name and its type; where a photo was taken is taken out at once."""
    User.objects.select_for_update(of=("self",)).get(pk=by.pk)
    new = []
    for file, name, content_type in files:
        kept = placeless(file) if content_type.startswith("image/") else file
        stored_as = default_storage.save(f"held/{by.uuid}/{uuid4()}", kept)
        new.append(
            HeldFile.objects.create(
                person=by,
                name=name,
                content_type=content_type,
                size=kept.size,
                stored_as=stored_as,
                held_at=now,
            )  # fmt: skip
        )
        file.seek(0)
    _make_room(by)
    return new


def held_of(by: User, keys: Iterable[UUID], now: datetime) -> list[HeldFile]:
    """Those of the keys that are still there for this person, in the order they were chosen."""
    rows = HeldFile.objects.filter(person=by, uuid__in=list(keys), held_at__gt=now - KEPT_FOR)
    return [row for row in rows if default_storage.exists(row.stored_as)]


def let_go(rows: Iterable[HeldFile]) -> int:
    rows = list(rows)
    if not rows:
        return 0
    names = [row.stored_as for row in rows]
    HeldFile.objects.filter(pk__in=[row.pk for row in rows]).delete()
    transaction.on_commit(partial(_delete, names))
    return len(rows)


def let_go_of_sent(files: Sequence[File]) -> None:
    """What a record holds now need not be kept for its form."""
    sent = [file.row for file in files if isinstance(file, HeldUpload)]
    if sent:
        let_go(sent)


def forget(now: datetime) -> int:
    """What nobody sent within the day."""
    return let_go(HeldFile.objects.filter(held_at__lte=now - KEPT_FOR))


def _make_room(by: User) -> None:
    files, size, too_much = 0, 0, []
    for row in HeldFile.objects.filter(person=by).order_by("-pk"):
        files, size = files + 1, size + row.size
        if files > MOST_FILES or size > MOST_BYTES:
            too_much.append(row)
    let_go(too_much)


def _delete(names: Iterable[str]) -> None:
    for name in names:
        default_storage.delete(name)
