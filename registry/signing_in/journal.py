"""Writes the log of sign-ins, mostly by listening to what the accounts library tells."""

import hmac
from collections.abc import Iterable
from datetime import datetime, timedelta
from hashlib import sha256
from ipaddress import ip_address, ip_network
from typing import Any

from allauth.account import signals as account
from allauth.account.internal.flows.login import get_authentication_records
from allauth.mfa import signals as mfa
from allauth.socialaccount import signals as social
from django.conf import settings
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext, override

from registry.models import SignIn, User
from registry.signing_in.clients import address_of, browser_of

What = SignIn.What
WHOLE_ADDRESS_FOR = timedelta(days=30)
KEPT_FOR = timedelta(days=400)


def account_key(typed: str) -> str:
    """What stands for an address in the counts: whoever reads the table learns no address that
    was tried, nor a password that somebody typed into the wrong field."""
    key = sha256(b"registry.sign-in:" + settings.SECRET_KEY.encode()).digest()
    return hmac.digest(key, typed.strip().casefold().encode(), "sha256").hex()


def note(
    request: HttpRequest | None, what: str, *, person: User | None, typed: str = "", how: str = ""
) -> SignIn:
    return SignIn.objects.create(
        person=person if person is not None and person.pk else None,
        account=account_key(typed or (person.email if person else "")),
        what=what,
        how=how[:120],
        address=address_of(request) if request else "",
        browser=browser_of(request) if request else "",
        at=timezone.now(),
    )


@receiver(user_logged_in)
def signed_in(request, user, **kwargs: Any) -> None:
    """A password that was right a moment ago becomes the sign-in that it led to."""
    row = getattr(request, "tried_password", None)
    how = _ways(get_authentication_records(request, user))
    if row is not None and row.what == What.HALF:
        SignIn.objects.filter(pk=row.pk).update(
            what=What.IN, how=how, person=user, account=account_key(user.email)
        )
    else:
        note(request, What.IN, person=user, how=how)


@receiver(user_logged_out)
def signed_out(request, user, **kwargs: Any) -> None:
    if user is not None:
        note(request, getattr(request, "session_ended_by", What.OUT), person=user)


@receiver(account.authentication_step_completed)
def proved(request, user, method, **kwargs: Any) -> None:
    if not kwargs.get("reauthenticated"):
        return
    row = getattr(request, "tried_password", None)
    how = _ways([{"method": method, **kwargs}])
    if row is not None and row.what == What.HALF:
        SignIn.objects.filter(pk=row.pk).update(what=What.PROVED, how=how, person=user)
    else:
        note(request, What.PROVED, person=user, how=how)


@receiver(account.password_changed)
@receiver(account.password_set)
def password_changed(request, user, **kwargs: Any) -> None:
    note(request, What.PASSWORD, person=user)


@receiver(account.password_reset)
def password_reset(request, user, **kwargs: Any) -> None:
    note(request, What.RESET, person=user)


@receiver(mfa.authentication_failed)
def code_was_wrong(request, user, **kwargs: Any) -> None:
    note(request, What.WRONG_CODE, person=user)


@receiver(mfa.authenticator_added)
def way_added(request, user, authenticator, **kwargs: Any) -> None:
    is_codes = authenticator.type == "recovery_codes"
    what, how = (What.CODES, "") if is_codes else (What.ADDED, _way(authenticator.type))
    note(request, what, person=user, how=how)


@receiver(mfa.authenticator_removed)
def way_removed(request, user, authenticator, **kwargs: Any) -> None:
    if authenticator.type != "recovery_codes":
        note(request, What.REMOVED, person=user, how=_way(authenticator.type))


@receiver(mfa.authenticator_reset)
def codes_made(request, user, **kwargs: Any) -> None:
    note(request, What.CODES, person=user)


@receiver(social.social_account_added)
def outside_added(request, sociallogin, **kwargs: Any) -> None:
    note(request, What.ADDED, person=sociallogin.user, how=sociallogin.account.provider)


@receiver(social.social_account_removed)
def outside_removed(request, socialaccount, **kwargs: Any) -> None:
    note(request, What.REMOVED, person=socialaccount.user, how=socialaccount.provider)


def _ways(records: Iterable[dict[str, Any]]) -> str:
    ways = []
    for record in records:
        if record["method"] == "mfa":
            ways.append(_way(record.get("type", "")))
        elif record["method"] == "socialaccount":
            ways.append(str(record.get("provider", "")))
        else:
            ways.append(_way(record["method"]))
    return ", ".join(dict.fromkeys(filter(None, ways)))


def _way(method: str) -> str:
    """Stored in English, as all that is stored."""
    with override("en"):
        words = {
            "password": gettext("password"),
            "totp": gettext("authenticator app"),
            "webauthn": gettext("passkey"),
            "recovery_codes": gettext("recovery code"),
            "invitation": gettext("invitation"),
            "first-address": gettext("address of an empty book"),
        }
    return words.get(method, method)


def forget_old(now: datetime) -> tuple[int, int]:
    """Shortens addresses after a month and takes rows away after thirteen; how many of each."""
    gone, _kinds = SignIn.objects.filter(at__lt=now - KEPT_FOR).delete()
    shortened = 0
    old = SignIn.objects.filter(at__lt=now - WHOLE_ADDRESS_FOR)
    whole = (
        old.exclude(address="").exclude(address__endswith="/24").exclude(address__endswith="/48")
    )
    for address in list(whole.order_by().values_list("address", flat=True).distinct()[:10_000]):
        shortened += whole.filter(address=address).update(address=shortened_address(address))
    return shortened, gone


def shortened_address(address: str) -> str:
    """The net alone: enough to see that somebody was abroad, too little to find a household."""
    try:
        version = ip_address(address).version
    except ValueError:
        return ""
    return str(ip_network(f"{address}/{24 if version == 4 else 48}", strict=False))
