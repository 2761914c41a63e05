"""The photos and documents of a record, as its pages show them."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.models import Attachment, Record

SHOWN = ("image/jpeg", "image/png", "image/webp")
MOST_CORRECTIONS = 20


@dataclass(frozen=True)
class ShownFile:
    """`of` is the earlier record that it came with, where this one corrects that."""

    file: Attachment
    of: Record | None = None

    @property
    def is_picture(self) -> bool:
        return self.file.content_type in SHOWN and self.file.is_shown


def files_of(record: Record) -> Sequence[ShownFile]:
    """Its own, and those of the records that it took the place of: a correction keeps them."""
    found = [ShownFile(file) for file in record.attachments.all()]
    earlier = record.supersedes
    for _ in range(MOST_CORRECTIONS):
        if earlier is None or record.is_withdrawal:
            break
        found += [ShownFile(file, earlier) for file in earlier.attachments.all()]
        earlier = earlier.supersedes
    return found
