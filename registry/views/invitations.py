"""The address of an invitation: who opens it may come in, once."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from registry.forms.people import AcceptForm
from registry.forms.units_and_errors import show_problems
from registry.models import Membership, User
from registry.services.access.accepting import NewPerson, accept, find_invitation
from registry.signing_in.entering import address_is_theirs, enter

NEW = ("name", "password", "display_units")


@login_not_required
@never_cache
@sensitive_post_parameters("password")
def invitation(request, secret):
    """Looking at it uses nothing up; the form does."""
    now = timezone.now()
    found = find_invitation(secret, now)
    if found is None:
        return _closed(request)
    user = request.user if request.user.is_authenticated else None
    context = {
        "invitation": found,
        "role": _role(found),
        "sign_in_url": resolve_url(settings.LOGIN_URL),
    }
    if user is None and User.objects.filter(email__iexact=found.email).exists():
        return _private(render(request, "registry/invitation_sign_in.html", context))
    sent = request.POST if request.method == "POST" else None
    form = AcceptForm(sent, invitation=found, user=user)
    if form.is_valid():
        try:
            person = _accept(found, form, user, now)
        except ValidationError as error:
            show_problems(form, getattr(error, "error_dict", {"": error}))
        else:
            return _come_in(request, found, person, user) if person else _closed(request)
    return _private(render(request, "registry/invitation.html", context | {"form": form}))


def _accept(found, form, user, now):
    answers = dict(form.cleaned_data)
    new = {name: answers.pop(name) for name in NEW if name in answers}
    return accept(invitation=found, person=user or NewPerson(**new), now=now, **answers)


def _come_in(request, found, person, user):
    words = gettext("You are in. What you may do stands on the page of your account.")
    messages.success(request, words)
    is_first = found.kind == found.Kind.OWNER and not found.accepted_for.sites.exists()
    then = reverse("registry:first-steps") if is_first else "/"
    if user is not None:
        return redirect(then)
    address_is_theirs(person)
    return enter(request, person, method="invitation", then=then)


def _role(found) -> str:
    return Membership.Role(found.role).label if found.role else ""


def _closed(request):
    """The same words for what was used, withdrawn, has expired or never was."""
    return _private(render(request, "registry/invitation_closed.html", status=404))


def _private(response):
    """The address is a secret; by the policy of every page no other host is told of it."""
    response["X-Robots-Tag"] = "noindex"
    return response
