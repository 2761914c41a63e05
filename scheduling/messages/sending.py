"""Sends what is due, parcel by parcel. Any number of workers may do this at once."""

import logging
from collections.abc import Callable
from datetime import datetime

from registry.translation import language_of
from scheduling.messages import mail, outbox, webhooks
from scheduling.messages.outbox import Parcel
from scheduling.messages.quiet import quiet_until
from scheduling.models import MailPreference

log = logging.getLogger(__name__)


def send_due(clock: Callable[[], datetime], on_parcel: Callable[[], None] = lambda: None) -> int:
    """Until nothing is due; the clock is asked for each parcel, as a claim counts from its time."""
    sent = 0
    while deliver_next(clock()):
        sent += 1
        on_parcel()
    return sent


def deliver_next(now: datetime) -> bool:
    """Claim one parcel and settle it; False when nothing is due."""
    parcel = outbox.claim(now)
    if parcel is None:
        return False
    if parcel.attempts > outbox.LAST_ATTEMPT:
        outbox.give_up(parcel, "Each worker that tried to send this died.", now)
        return True
    try:
        _deliver(parcel, now)
    except Exception as error:
        _log(parcel, error)
        _fail(parcel, error, now)
    return True


def _log(parcel: Parcel, error: Exception) -> None:
    """A server that is away is one line in the log; anything else is a fault of ours."""
    is_ours = not isinstance(error, (OSError, webhooks.PostError))
    text = "messages.failed parcel=%s attempt=%s: %s"
    log.warning(text, parcel.key, parcel.attempts, error, exc_info=is_ours)


def _deliver(parcel: Parcel, now: datetime) -> None:
    if parcel.first.endpoint_id:
        webhooks.deliver(parcel, now)
    else:
        _mail(parcel, now)


def _mail(parcel: Parcel, now: datetime) -> None:
    if refusal := _unwanted(parcel):
        return outbox.drop(parcel, parcel.messages, refusal, now)
    if until := _quiet(parcel, now):
        return outbox.put_off(parcel, until)
    person = parcel.first.person
    with language_of(person.language if person else ""):
        drafted = mail.draft(parcel, now)
        if drafted is None:
            return outbox.drop(parcel, parcel.messages, OVER, now)
        mail.send(parcel, drafted)
    outbox.drop(parcel, drafted.needless, OVER, now)
    return outbox.settle_sent(parcel.without(drafted.needless), now)


OVER = "Over, given to somebody else, or not for this reader's eyes any more."


def _unwanted(parcel: Parcel) -> str:
    person = parcel.first.person
    assert person is not None
    if not person.is_active:
        return "This person no longer signs in."
    wants = MailPreference.of(person).wants(parcel.first.kind)
    return "" if wants else "This person does not want this kind of mail."


def _quiet(parcel: Parcel, now: datetime) -> datetime | None:
    preference = MailPreference.objects.filter(person=parcel.first.person).first()
    if preference is None or preference.quiet_from is None or preference.quiet_until is None:
        return None
    return quiet_until(now, preference.zone, preference.quiet_from, preference.quiet_until)


def _fail(parcel: Parcel, error: Exception, now: datetime) -> None:
    is_worded = isinstance(error, webhooks.PostError)
    text = str(error) if is_worded else f"{type(error).__name__}: {error}"
    if mail.is_permanent(error) or isinstance(error, webhooks.Gone):
        outbox.give_up(parcel, text, now)
    else:
        outbox.retry_later(parcel, text, now)
