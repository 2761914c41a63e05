"""The log of an owner handed on: to another key, or to a new epoch after a restore."""

import logging
from datetime import datetime

from django.db import transaction

from registry.models import LogKey, Organisation, OwnerLog, User
from registry.proof.tree import Growth
from registry.services.log import LogError, log_of, make_checkpoint, number_all, reader
from registry.services.log_keys import LogKeyError, hand_over
from registry.services.owner_ledger import begin_ledger

log = logging.getLogger(__name__)


def rotate_key(owner: Organisation, *, by: User | None, now: datetime) -> LogKey:
    """Another key signs the owner's log from now on; the owner's ledger says so, and the next
    checkpoint is of that record too. LogError or LogKeyError where the log cannot be signed."""
    return _hand_on(owner, LogKey.Reason.ROTATED, by, now)


def begin_epochs(now: datetime) -> int:
    """After a restore: nobody here knows what was signed after the backup was made, so each log
    goes on under another name. One that cannot be signed stays as it is, and says so."""
    count = 0
    for held in OwnerLog.objects.select_related("owner").order_by("pk"):
        try:
            _hand_on(held.owner, LogKey.Reason.RESTORED, None, now)
            count += 1
        except (LogError, LogKeyError):
            log.exception("log.no_epoch owner=%s", held.owner_id)
    return count


def _hand_on(owner: Organisation, reason: str, by: User | None, now: datetime) -> LogKey:
    """After a restore nothing more is signed under the old name: it may differ from what was."""
    log_of(owner, now=now)
    if reason == LogKey.Reason.ROTATED:
        number_all(owner, now=now)
        make_checkpoint(owner, now=now)  # refused where the log does not go on from the last one
    with transaction.atomic():
        held = OwnerLog.objects.select_for_update().get(owner=owner)
        root = Growth.at(held.size, reader(held)).root
        made = hand_over(held, root=root, reason=reason, now=now)
        begin_ledger(owner, now=now, by=by)
    number_all(owner, now=now)
    make_checkpoint(owner, now=now)
    return made
