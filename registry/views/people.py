"""The people of an organisation: who is in it, who is invited, and the log of both."""

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from registry.forms.people import InviteForm, RoleForm, SecondStepForm
from registry.forms.units_and_errors import attempt
from registry.models import Invitation, Organisation
from registry.pages.access_log import entry_lines
from registry.pages.people import PeoplePage, SecondSteps
from registry.services.access.inviting import (
    invite,
    invite_again,
    kinds_for,
    link_of,
    mail_lies_in_a_folder,
    withdraw_invitation,
)
from registry.services.access.members import change_role, end_membership, leads
from registry.services.access.second_step import demand_second_step
from registry.signing_in.sessions import how_long
from registry.signing_in.step_up import shows_secret

PER_PAGE = 50


def get_led(request, pk) -> Organisation:
    """A stranger is told of nothing; a member without the role that it is not theirs to see."""
    found = Organisation.objects.filter(pk=pk, memberships__user=request.user).first()
    if found is None:
        raise Http404(gettext("Not found."))
    if not leads(request.user, found):
        raise PermissionDenied(
            gettext("Only a manager of {organisation} sees and changes who may do what.").format(
                organisation=found
            )
        )
    return found


@require_safe
def people(request, pk):
    organisation = get_led(request, pk)
    page = PeoplePage(organisation, request.user, timezone.now())
    return render(request, "registry/people.html", {"page": page, "organisation": organisation})


@never_cache
def people_invite(request, pk, kind):
    organisation = get_led(request, pk)
    if kind not in kinds_for(organisation):
        raise Http404(gettext("Not found."))
    form = InviteForm(request.POST or None, organisation=organisation, kind=kind)
    if form.is_valid():
        invitation = attempt(
            form, invite,
            organisation=organisation, kind=kind, invited_by=request.user, now=timezone.now(),
            **form.cleaned_data,
        )  # fmt: skip
        if invitation:
            return _invited(request, invitation)
    context = {"form": form, "organisation": organisation, "kind": Invitation.Kind(kind)}
    return render(request, "registry/people_invite.html", context)


def _invited(request, invitation):
    """A page and not a redirect: where mail goes nowhere the address is shown here, once."""
    link = link_of(invitation) if mail_lies_in_a_folder() else ""
    context = {"invitation": invitation, "organisation": invitation.organisation, "link": link}
    return render(request, "registry/people_invited.html", context)


def _pending(organisation, invitation_pk) -> Invitation:
    rows = organisation.invitations.select_related("organisation")
    return get_object_or_404(rows, pk=invitation_pk)


@require_POST
@never_cache
def invitation_again(request, pk, invitation_pk):
    organisation = get_led(request, pk)
    row = _pending(organisation, invitation_pk)
    try:
        again = invite_again(invitation=row, invited_by=request.user, now=timezone.now())
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("registry:people", organisation.pk)
    if again is None:
        messages.error(
            request, gettext("It was accepted or withdrawn meanwhile; nothing was sent.")
        )
        return redirect("registry:people", organisation.pk)
    return _invited(request, again)


@require_POST
def invitation_withdraw(request, pk, invitation_pk):
    organisation = get_led(request, pk)
    row = _pending(organisation, invitation_pk)
    if withdraw_invitation(invitation=row, withdrawn_by=request.user, now=timezone.now()):
        words = gettext("The invitation of {email} is withdrawn; its link opens nothing.")
        messages.success(request, words.format(email=row.email))
    else:
        messages.error(request, gettext("It was accepted or withdrawn meanwhile."))
    return redirect("registry:people", organisation.pk)


def member(request, pk, uuid):
    organisation = get_led(request, pk)
    rows = organisation.memberships.select_related("user", "organisation")
    row = get_object_or_404(rows, user__uuid=uuid)
    form = RoleForm(request.POST or None, initial={"role": row.role})
    if form.is_valid() and _changed(request, form, row):
        words = gettext("{person}: the role is changed.").format(person=row.user)
        messages.success(request, words)
        return _after(request, organisation)
    context = {"organisation": organisation, "membership": row, "form": form}
    return render(request, "registry/member.html", context)


def _changed(request, form, row) -> bool:
    try:
        change_role(
            membership=row, role=form.cleaned_data["role"], changed_by=request.user,
            now=timezone.now(),
        )  # fmt: skip
    except ValidationError as error:
        form.add_error("role", error.messages[0])
    return not form.errors


@require_POST
def member_end(request, pk, uuid):
    organisation = get_led(request, pk)
    rows = organisation.memberships.select_related("user", "organisation")
    row = get_object_or_404(rows, user__uuid=uuid)
    try:
        end_membership(membership=row, ended_by=request.user, now=timezone.now())
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("registry:member", organisation.pk, uuid)
    words = gettext("{person} belongs to {organisation} no more.")
    messages.success(request, words.format(person=row.user, organisation=organisation))
    return _after(request, organisation)


def _after(request, organisation):
    """Whoever gave up the role themselves may not see the page any more."""
    if leads(request.user, organisation):
        return redirect("registry:people", organisation.pk)
    return redirect("registry:account")


@never_cache
@shows_secret
def second_step(request, pk):
    """Asked of everybody or not; a POST says which it is to be."""
    organisation = get_led(request, pk)
    now_asked = "yes" if organisation.demands_second_step else "no"
    form = SecondStepForm(request.POST or None, initial={"ask": now_asked})
    if form.is_valid() and _demanded(request, form, organisation):
        return redirect("registry:people-second-step", pk)
    context = {
        "organisation": organisation,
        "page": SecondSteps(organisation, request.user),
        "form": form,
        "longest": how_long(settings.SESSION_LONGEST_S),
    }
    return render(request, "registry/people_second_step.html", context)


def _demanded(request, form, organisation) -> bool:
    is_demanded = form.cleaned_data["ask"] == "yes"
    try:
        demand_second_step(
            organisation=organisation, is_demanded=is_demanded, changed_by=request.user,
            now=timezone.now(),
        )  # fmt: skip
    except ValidationError as error:
        form.add_error(None, error.messages[0])
        return False
    told = gettext("Changed. It stands in the log of every change.")
    messages.success(request, told)
    return True


@require_safe
def access_log(request, pk):
    organisation = get_led(request, pk)
    page = Paginator(organisation.access_log.all(), PER_PAGE).get_page(request.GET.get("page"))
    context = {"organisation": organisation, "page": page, "lines": entry_lines(page.object_list)}
    return render(request, "registry/access_log.html", context)
