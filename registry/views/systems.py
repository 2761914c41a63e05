from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry import services
from registry.access import get_manageable, get_visible, may_manage, may_record
from registry.forms.systems import SystemForm
from registry.forms.units_and_errors import attempt
from registry.models import Site, System
from registry.pages.system import SystemPage

SYSTEMS = System.objects.select_related("site__owner", "building", "verdict")


def system(request, pk):
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    page = SystemPage.of(system, reader=request.user, now=timezone.now())
    rights = {
        "may_record": may_record(system, request.user),
        "may_manage": may_manage(system, request.user),
    }
    return render(request, "registry/system.html", {"page": page, "system": system, **rights})


def system_new(request, pk):
    site = get_manageable(Site.objects.select_related("owner"), request.user, pk=pk)
    form = SystemForm(request.POST or None, instance=System(site=site), user=request.user)
    if form.is_valid() and (
        made := attempt(
            form, services.add_system, site=site, recorded_by=request.user, **form.facts()
        )
    ):
        messages.success(
            request, gettext("{made} is in the register. Add its pipe next.").format(made=made)
        )
        return redirect(made)
    return render(request, "registry/system_form.html", {"form": form, "site": site})


def system_edit(request, pk):
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    shown = SYSTEMS.get(pk=pk)
    form = SystemForm(request.POST or None, instance=shown, user=request.user)
    if form.is_valid():
        if attempt(
            form, services.amend_system, system=system, recorded_by=request.user,
            seen=form.cleaned_data["seen"], **form.facts(),
        ):  # fmt: skip
            messages.success(request, gettext("Saved; the ledger holds what changed."))
            return redirect(system)
        form.look_again(system)
    context = {"form": form, "site": system.site, "system": system}
    return render(request, "registry/system_form.html", context)
