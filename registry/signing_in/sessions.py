"""How long a session lasts, and what of it a browser may keep."""

import time
from typing import Any

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.utils import timezone
from django.utils.translation import ngettext

from registry.signing_in.clients import address_of
from registry.signing_in.journal import What

BEGUN, SEEN, ENDED_BY = "begun", "seen", "ended_by"
NOTED_EVERY_S = 60


@receiver(user_logged_in)
def begins(request, user, **kwargs: Any) -> None:
    request.session[BEGUN] = request.session[SEEN] = time.time()


def how_long(seconds: int) -> str:
    hours, minutes = seconds // 3600, seconds // 60
    if seconds % 3600:
        return ngettext("{n} minute", "{n} minutes", minutes).format(n=minutes)
    return ngettext("{n} hour", "{n} hours", hours).format(n=hours)


class SessionLimits:
    """Ends what lasted too long before anything is done with it, and keeps what a signed-in person
    is shown out of every cache. It comes after those who read the session and the person."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        was_signed_in = SESSION_KEY in request.session
        if was_signed_in:
            self._hold_to_limits(request)
        response = self.get_response(request)
        if was_signed_in or SESSION_KEY in request.session:
            _keep_nowhere(response)
        if was_signed_in and SESSION_KEY not in request.session:
            # Not "storage": entries that a phone has not yet sent lie there, sealed for their
            # writer, who may still send them (docs/phone.md). The page takes down the rest itself.
            response.headers["Clear-Site-Data"] = '"cache"'
        return response

    @staticmethod
    def _hold_to_limits(request) -> None:
        session, now = request.session, time.time()
        begun, seen = session.get(BEGUN), session.get(SEEN)
        if begun is None or seen is None:  # made before there were limits
            session[BEGUN] = session[SEEN] = begun = seen = now
        if now - begun >= settings.SESSION_LONGEST_S:
            _end(request, What.OVER)
        elif now - seen >= settings.SESSION_IDLE_S:
            _end(request, What.IDLE)
        elif now - seen >= NOTED_EVERY_S:
            session[SEEN] = now
            UserSession.objects.filter(session_key=session.session_key).update(
                last_seen_at=timezone.now(), ip=address_of(request)
            )


def _end(request, why: str) -> None:
    request.session_ended_by = why
    logout(request)
    request.session[ENDED_BY] = why


def _keep_nowhere(response) -> None:
    """What a view has said of its own accord about storing stands."""
    if "no-store" not in response.headers.get("Cache-Control", ""):
        response.headers["Cache-Control"] = "private, no-store"
