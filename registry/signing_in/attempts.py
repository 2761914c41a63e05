"""Passwords cannot be guessed without end: after so many wrong ones there is a wait.

Counted by account and by the machine that asks, so that a stranger does not shut a person out; by
account alone with a higher limit, for guesses that come from many machines; and by machine alone,
for one password tried on many accounts. The rows of the log are the count, so it is one for all
processes, with Redis or without. A try is written before it is judged: of many that come at once
no more are judged than the limit lets through.
"""

from datetime import timedelta
from ipaddress import ip_address, ip_network

from django.http import HttpRequest
from django.utils import timezone

from registry.models import SignIn, User
from registry.signing_in.clients import address_of
from registry.signing_in.journal import account_key, note

MOST_FROM_ONE, MOST_FROM_ALL, MOST_OF_MACHINE = 10, 100, 100
WAIT = timedelta(minutes=15)
What = SignIn.What


def begin(request: HttpRequest, typed: str) -> SignIn:
    """The row of this try; `LIMITED` when it is one too many and may not be judged."""
    person = User.objects.filter(email__iexact=typed.strip()).first()
    row = note(request, What.TRIED, person=person, typed=typed)
    if _is_over(request, typed, 1):
        row.what = What.LIMITED
        row.save(update_fields=["what"])
    return row


def must_wait(request: HttpRequest, typed: str) -> bool:
    """Whether the next try would be refused."""
    return _is_over(request, typed, 0)


def end(row: SignIn, *, is_right: bool) -> None:
    row.what = What.HALF if is_right else What.WRONG
    row.save(update_fields=["what"])


def _is_over(request: HttpRequest, typed: str, own: int) -> bool:
    """`own` is 1 where the try at hand is among those counted."""
    since = timezone.now() - WAIT
    wrong = SignIn.objects.filter(what__in=SignIn.WRONG_ONES, at__gt=since)
    of_account = wrong.filter(account=account_key(typed))
    machine = address_of(request)
    here = of_account.filter(address=machine)
    last = _last_sign_in(typed, machine)
    if last is not None:
        here = here.filter(pk__gt=last)
    return (
        here.count() >= MOST_FROM_ONE + own
        or of_account.count() >= MOST_FROM_ALL + own
        or _of_net(wrong, machine).count() >= MOST_OF_MACHINE + own
    )


def _last_sign_in(typed: str, machine: str) -> int | None:
    """Signing in forgets the wrong ones before it, on that machine."""
    signed_in = SignIn.objects.filter(
        account=account_key(typed), address=machine, what__in=(What.IN, What.RESET)
    )
    return signed_in.order_by("-pk").values_list("pk", flat=True).first()


def _of_net(wrong, machine: str):
    """A network of version 6 gives one household more addresses than can be counted."""
    if ip_address(machine).version == 4:
        return wrong.filter(address=machine)
    net = ip_network(f"{machine}/64", strict=False).network_address
    groups = net.exploded.split(":")[:4]
    short = ":".join(group.lstrip("0") or "0" for group in groups)
    return wrong.filter(address__startswith=f"{short}:")
