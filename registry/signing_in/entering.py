"""Who has just become a person of the book, or proved by mail to be one, comes in at once."""

from allauth.account.internal.flows.login import perform_login, record_authentication
from allauth.account.models import EmailAddress, Login
from django.http import HttpRequest, HttpResponse

from registry.models import User


def enter(
    request: HttpRequest, person: User, *, method: str, then: str | None = None
) -> HttpResponse:
    """Signs the person in with all that a sign-in brings (log, list of sessions, second step where
    there is one) and answers with the way on. `method` says in the log how they came."""
    record_authentication(request, person, method=method)
    return perform_login(request, Login(user=person, redirect_url=then))


def address_is_theirs(person: User) -> None:
    """The person has opened a mail that was sent to their address."""
    EmailAddress.objects.update_or_create(
        user=person, email=person.email, defaults={"verified": True, "primary": True}
    )
