"""Before a secret is shown, the person says again who they are, unless they just did."""

import time
from collections.abc import Callable
from functools import wraps
from typing import Any

from allauth.account.internal.flows.login import get_authentication_records
from allauth.core.exceptions import ReauthenticationRequired
from django.conf import settings
from django.http import HttpRequest


def recently_proved(request: HttpRequest) -> bool:
    """By any way in: a fresh sign-in counts as much as an answer to the question."""
    if request.user.is_anonymous:
        return False
    records = get_authentication_records(request, request.user)
    proofs = [record["at"] for record in records if record["method"] != "password_reset"]
    return bool(proofs) and time.time() - max(proofs) < settings.PROVE_AGAIN_S


def shows_secret(view: Callable) -> Callable:
    """For a view whose answer to a POST holds a secret, or ends what somebody relies on. What was
    typed is kept meanwhile, and sent once the person has said who they are."""

    @wraps(view)
    def asked_first(request, *args: Any, **kwargs: Any):
        if request.method == "POST" and not recently_proved(request):
            raise ReauthenticationRequired()
        return view(request, *args, **kwargs)

    return asked_first
