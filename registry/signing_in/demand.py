"""An organisation can ask all its people for a second step: an authenticator app or a passkey.

Who has none is led to set one up when they sign in, and until then nothing else of the book opens.
The session bears the debt, so that a request without one costs nothing.
"""

from collections.abc import Callable
from typing import Any

from allauth.mfa.models import Authenticator
from django.contrib.auth.signals import user_logged_in
from django.db.models import QuerySet
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

from registry.models import Organisation, User

OWES = "owes_second_step"
"""In a session: where its person wanted to go meanwhile."""
STEPS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
WAY_THERE = {
    "mfa_index", "mfa_activate_totp", "mfa_add_webauthn", "mfa_list_webauthn",
    "mfa_view_recovery_codes", "mfa_download_recovery_codes", "mfa_generate_recovery_codes",
    "account_logout", "account_reauthenticate", "mfa_reauthenticate",
    "mfa_reauthenticate_webauthn", "registry:prove-outside",
}  # fmt: skip
ACTS_FOR_THE_PERSON = {"registry:invitation"}
"""Open to everybody, but not the same for everybody."""
ANSWERS_A_PHONE = {"registry:phone", "registry:phone-discarded"}
SHUT = 403


def demanding(person: User) -> QuerySet[Organisation]:
    return Organisation.objects.filter(people=person.pk, demands_second_step=True).order_by("name")


def steps_of(person: User) -> QuerySet[Authenticator]:
    """Recovery codes stand in for a step that is lost; alone they are none."""
    return Authenticator.objects.filter(user=person.pk, type__in=STEPS)


def owes(person: User) -> bool:
    return demanding(person).exists() and not steps_of(person).exists()


@receiver(user_logged_in)
def looks_for_debt(request: HttpRequest, user: User, **kwargs: Any) -> None:
    if owes(user):
        request.session[OWES] = "/"


class SecondStepFirst:
    """Comes after whoever lets nobody in who is not signed in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs) -> HttpResponse | None:
        if OWES not in request.session or not request.user.is_authenticated:
            return None
        name = request.resolver_match.view_name
        is_for_all = not getattr(view, "login_required", True) and name not in ACTS_FOR_THE_PERSON
        if name in WAY_THERE or is_for_all:
            return None
        if not owes(request.user):
            del request.session[OWES]
            return None
        if "X-Kept-By" in request.headers or name in ANSWERS_A_PHONE:
            says = why_shut(request.user)
            return JsonResponse({"is": "second_step", "says": says}, status=SHUT)
        if request.method == "GET" and not request.htmx:
            request.session[OWES] = request.get_full_path()
        return redirect("mfa_index")


def why_shut(person: User) -> str:
    names = ", ".join(one.name for one in demanding(person))
    return gettext(
        "{organisation} asks for a second step at sign-in, and you have none yet. Add one under "
        "“Second step and passkeys”; what waits on this phone is sent then."
    ).format(organisation=names)
