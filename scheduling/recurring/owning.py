"""An owner changes the library for itself: the seed stays, its own version goes in its place."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.crypto import get_random_string
from django.utils.text import slugify

from registry.models import Organisation, User
from registry.services import RecordError
from registry.services.locking import hold
from scheduling import library
from scheduling.models import OwnItem
from scheduling.recurring.replanning import ask_for_plan

OWN = "own-"


@transaction.atomic
def save_item(
    *, owner: Organisation, row: str, cells: Mapping[str, Any], changed_by: User, now: datetime
) -> OwnItem:
    """Write the owner's version of a row, or a new row when `row` is empty; a job plans again."""
    hold(owner)
    item = OwnItem.objects.filter(owner=owner, row=row).first() if row else None
    if item is None:
        item = OwnItem(owner=owner, row=row or _new_row(cells["title"]))
    seed = seed_row(item.row)
    item.key = seed.key if seed else item.row
    for name, value in cells.items():
        setattr(item, name, value)
    item.changed_by, item.changed_at = changed_by, now
    item.full_clean()
    _check(item)
    item.save()
    ask_for_plan(owner=owner, now=now)
    return item


@transaction.atomic
def restore_item(*, owner: Organisation, row: str, now: datetime) -> None:
    """Take the owner's version away: the seed's row holds again, or the further row is gone."""
    owner.own_items.filter(row=row).delete()
    ask_for_plan(owner=owner, now=now)


def seed_row(row: str) -> library.LibraryItem | None:
    return next((item for item in library.items() if item.row == row), None)


def _new_row(title: str) -> str:
    return f"{OWN}{slugify(title)[:60]}-{get_random_string(6).lower()}"


def _check(item: OwnItem) -> None:
    try:
        item.item()
    except ValueError as error:
        raise RecordError({"interval": str(error)}) from error
