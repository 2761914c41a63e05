from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from registry import services
from registry.access import require_managed_owner
from registry.first_run.beginning import begin_book
from registry.first_run.codes import is_open
from registry.first_run.steps import Progress, serves_as_contractor
from registry.forms.first_run import BeginForm, FirstSiteForm
from registry.forms.units_and_errors import attempt
from registry.models import ServiceContract, Site
from registry.services.register.sites import save_contract
from registry.signing_in.entering import enter


@login_not_required
@never_cache
@sensitive_post_parameters("password")
def begin(request, code):
    """The address that `make start` printed. Looking at it uses nothing up; the form does."""
    if not is_open(code):
        raise Http404(_("This address opens an empty book once, and has been used or replaced."))
    form = BeginForm(request.POST or None)
    if form.is_valid():
        person = begin_book(code=code, **form.facts())
        if person is None:
            raise Http404(_("Somebody else has just begun this book."))
        return enter(request, person, method="first-address", then=reverse("registry:first-steps"))
    return render(request, "registry/begin.html", {"form": form})


def first_steps(request):
    owner = require_managed_owner(request.user)
    progress = Progress.of(owner, timezone.now())
    form = None
    if progress.site is None:
        form = FirstSiteForm(request.POST or None, instance=Site(owner=owner), user=request.user)
        if form.is_valid() and _enter(request, form, owner):
            return redirect("registry:first-steps")
    context = {"form": form, "progress": progress, "owner": owner}
    return render(request, "registry/first_steps.html", context)


def _enter(request, form, owner) -> Site | None:
    """A contractor that keeps the book serves the site it enters, from today there."""
    site = attempt(form, services.add_site, owner=owner, **form.facts())
    if site is None:
        return None
    if contractor := serves_as_contractor(request.user):
        today = timezone.now().astimezone(site.zone).date()
        save_contract(
            contract=ServiceContract(site=site), contractor=contractor, starts_on=today,
            changed_by=request.user,
        )  # fmt: skip
    messages.success(request, _("%(site)s is in the register.") % {"site": site})
    return site
