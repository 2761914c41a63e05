"""What django-allauth asks the book: accounts, second steps, and sign-in at another provider."""

import base64
from hashlib import sha256
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.utils import get_next_redirect_url
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal.httpkit import authenticated_user
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter
from allauth.usersessions.adapter import DefaultUserSessionsAdapter
from cryptography.fernet import Fernet
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.models import Organisation, User
from registry.signing_in import attempts
from registry.signing_in.clients import address_of, browser_in
from registry.signing_in.demand import demanding, steps_of
from registry.signing_in.entering import address_is_theirs
from registry.signing_in.journal import What, note
from registry.signing_in.step_up import recently_proved

NAME = "Riserbook"


class AccountAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "email_password_mismatch": _("No account has this e-mail address and this password."),
        "incorrect_password": _("This is not the password of your account."),
        "enter_current_password": _("This is not the password of your account."),
        "invalid_password_reset": _("This address to set a new password was used or is too old."),
        "incorrect_code": _("This code is not right, or not right any more. Take a new one."),
        "too_many_login_attempts": _(
            "Too many tries in a short time. Wait five minutes, then try again."
        ),
        "rate_limited": _("Too many tries in a short time. Wait five minutes, then try again."),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Accounts come by invitation; the first one by the address that `make start` prints."""
        return False

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        """Contractors begin at their work, everybody else at the portfolio."""
        person = authenticated_user(request)
        kinds = set(Organisation.objects.filter(people=person.pk).values_list("kind", flat=True))
        return reverse(
            "scheduling:work" if kinds == {Organisation.Kind.CONTRACTOR} else "reports:portfolio"
        )

    def is_safe_url(self, url: str | None) -> bool:
        """What is no address, such as one with half a bracket, is not safe."""
        try:
            return super().is_safe_url(url)
        except ValueError:
            return False

    def post_login(self, request: HttpRequest, user, *, redirect_url, **kwargs: Any):
        """The front page, where it was asked for, is where the person's own work is."""
        asked = redirect_url or get_next_redirect_url(request)
        if asked in (None, "/"):
            redirect_url = self.get_login_redirect_url(request)
        return super().post_login(request, user, redirect_url=redirect_url, **kwargs)

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("registry:account")

    def get_reset_password_from_key_url(self, key: str) -> str:
        """By the address of the book and not by what the request says its host is."""
        uid, _dash, secret = key.partition("-")
        path = reverse("account_reset_password_from_key", kwargs={"uidb36": uid, "key": secret})
        return settings.PUBLIC_URL + path

    def get_client_ip(self, request: HttpRequest) -> str:
        return address_of(request)

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """While there is a wait the right password is refused too, or a guess would still tell."""
        row = attempts.begin(request, credentials.get("email", ""))
        if row.what == What.LIMITED:
            raise too_many()
        request.tried_password = row  # type: ignore[attr-defined]

    def authenticate(self, request: HttpRequest, **credentials: Any) -> User | None:
        person = super().authenticate(request, **credentials)
        attempts.end(request.tried_password, is_right=person is not None)  # type: ignore[attr-defined]
        if person is None and attempts.must_wait(request, credentials.get("email", "")):
            raise too_many()
        return person  # type: ignore[return-value]

    def send_password_reset_mail(self, user, email: str, context: dict[str, Any]) -> None:
        note(self.request, What.RESET_ASKED, person=user)
        super().send_password_reset_mail(user, email, context)

    def get_reauthentication_methods(self, user) -> list[dict[str, Any]]:
        """Who has neither password nor second step signs in once more where they signed in."""
        methods = super().get_reauthentication_methods(user)
        words = {
            "reauthenticate": gettext("By password"),
            "mfa_reauthenticate": gettext("By a code of the authenticator app, or a recovery code"),
            "mfa_reauthenticate:webauthn": gettext("By passkey"),
        }
        for method in methods:
            method["description"] = words.get(method["id"], method["description"])
        if methods or not user.is_authenticated:
            return methods
        url = reverse("registry:prove-outside")
        return [{"id": "outside", "description": gettext("By signing in again"), "url": url}]

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        return not recently_proved(self.request)


def too_many() -> ValidationError:
    return ValidationError(
        gettext(
            "Too many wrong passwords for this address, or from where you are. Wait {minutes} "
            "minutes, then try again."
        ).format(minutes=int(attempts.WAIT.total_seconds()) // 60),
        code="wait",
    )


class SecondStepAdapter(DefaultMFAAdapter):
    """Secrets of authenticator apps and recovery codes lie sealed in the database: who has a copy
    of it without the book's key can make no codes."""

    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": _("This code is not right, or not right any more. Take a new one."),
        "cannot_delete_authenticator": _(
            "An organisation to which you belong asks for a second step, and this is your only "
            "one. Add another first."
        ),
    }

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        person = authenticator.user
        others = steps_of(person).exclude(pk=authenticator.pk)
        return others.exists() or not demanding(person).exists()

    def encrypt(self, text: str) -> str:
        return _seal().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _seal().decrypt(encrypted_text.encode()).decode()

    def get_totp_issuer(self) -> str:
        return NAME

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        return super().get_public_key_credential_rp_entity() | {"name": NAME}

    def generate_authenticator_name(self, user, type) -> str:  # noqa: A002
        return gettext("Passkey {number}").format(
            number=user.authenticator_set.filter(type=type).count() + 1
        )


def _seal() -> Fernet:
    digest = sha256(b"registry.second-step:" + settings.SECRET_KEY.encode()).digest()
    return Fernet(base64.urlsafe_b64encode(digest))


class SessionsAdapter(DefaultUserSessionsAdapter):
    def end_sessions(self, sessions) -> None:
        for session in sessions:
            row = note(None, What.ENDED, person=session.user)
            row.address, row.browser = session.ip, browser_in(session.user_agent)
            row.save(update_fields=["address", "browser"])
        super().end_sessions(sessions)


class OutsideAdapter(DefaultSocialAccountAdapter):
    """Sign-in at a provider of OpenID Connect. It makes no account: who comes is known by an
    address that the provider has checked, or is nobody."""

    def is_open_for_signup(self, request: HttpRequest, sociallogin) -> bool:
        """Leads to the page that says so."""
        raise ImmediateHttpResponse(redirect("socialaccount_signup"))

    def pre_social_login(self, request: HttpRequest, sociallogin) -> None:
        """The provider has checked the address. Otherwise the library would take off the password
        of an account whose address nobody has checked: a guard against accounts that strangers
        open for others, which nobody can here."""
        person = sociallogin.user
        if person.pk and sociallogin._did_authenticate_by_email:
            address_is_theirs(person)

    def can_authenticate_by_email(self, login, email: str) -> bool:
        return User.objects.filter(email__iexact=email, is_active=True).exists()
