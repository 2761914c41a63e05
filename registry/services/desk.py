"""What people keep at the desk: prices of an owner, saved views, when they last looked."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext

from registry.kinds import DetailsError
from registry.models import LastVisit, Organisation, OwnerPrices, SavedView, User

MOST_VIEWS = 60
VISIT_ENDS_AFTER = timedelta(hours=2)
SEEN_EVERY = timedelta(minutes=5)


def set_prices(*, owner: Organisation, **said: Any) -> OwnerPrices:
    """Keep an owner's prices; what is None is assumed from now on."""
    row, _ = OwnerPrices.objects.update_or_create(owner=owner, defaults=said)
    return row


@transaction.atomic
def save_view(
    *, organisation: Organisation, name: str, query: str, by: User, now: datetime
) -> SavedView:
    """A name for an address; the same name again means the new address."""
    name = " ".join(name.split())
    if not name:
        raise DetailsError({"name": gettext("Give the view a name, such as Cold halls.")})
    others = SavedView.objects.filter(organisation=organisation).exclude(name=name)
    if others.count() >= MOST_VIEWS:
        raise DetailsError(
            {
                "name": gettext(
                    "An organisation keeps %(most)s views at most; remove one that is not used."
                )
                % {"most": MOST_VIEWS}
            }
        )
    said: Mapping[str, Any] = {"query": query, "made_by": by, "made_at": now}
    view, _ = SavedView.objects.update_or_create(
        organisation=organisation, name=name, defaults=said
    )
    return view


def drop_view(*, view: SavedView) -> None:
    view.delete()


def visit(*, user: User, now: datetime) -> datetime | None:
    """Note that the person looks at the portfolio; when the visit before this one ended.

    A visit lasts until nothing was looked at for two hours, so that what changed since the last
    one stays on the page while it is being worked through. None on the first visit.
    """
    row = LastVisit.objects.filter(user=user).first()
    if row is None:
        LastVisit.objects.get_or_create(user=user, defaults={"began_at": now, "seen_at": now})
        return None
    if now - row.seen_at > VISIT_ENDS_AFTER:
        row.before_at, row.began_at, row.seen_at = row.seen_at, now, now
        row.save(update_fields=["before_at", "began_at", "seen_at"])
    elif now - row.seen_at > SEEN_EVERY:
        LastVisit.objects.filter(pk=row.pk).update(seen_at=now)
    return row.before_at
