from django.contrib import messages
from django.db.models import Count, Q
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry import services
from registry.access import get_manageable, get_visible, may_manage, require_managed_owner
from registry.forms.sites import BuildingForm, ContractForm, SiteForm
from registry.forms.units_and_errors import attempt
from registry.models import Building, ServiceContract, Site
from registry.services.register.sites import save_building, save_contract

SITES = Site.objects.select_related("owner")


def site(request, pk):
    site = get_visible(SITES.all(), request.user, pk=pk)
    now = timezone.now()
    systems = site.systems.select_related("building").with_atmosphere(now).with_impairment()
    return render(
        request,
        "registry/site.html",
        {
            "site": site,
            "systems": systems.with_volume()
            .annotate(open_tasks=Count("tasks", filter=Q(tasks__status="open")))
            .prefetch_related("spans")
            .order_by("tag"),
            "buildings": site.buildings.all(),
            "contracts": site.service_contracts.select_related("contractor").order_by("-starts_on"),
            "contractor": site.contractor_on(now.astimezone(site.zone).date()),
            "may_manage": may_manage(site, request.user),
            "now": now,
        },
    )


def site_new(request):
    owner = require_managed_owner(request.user)
    instance = Site(owner=owner, time_zone=owner.usual_time_zone)
    form = SiteForm(request.POST or None, instance=instance, user=request.user)
    if form.is_valid() and (
        made := attempt(
            form,
            services.add_site,
            owner=instance.owner,
            added_by=request.user,
            **form.facts(),
        )
    ):
        messages.success(request, gettext("{made} is in the register.").format(made=made))
        return redirect(made)
    return render(request, "registry/site_form.html", {"form": form, "owner": instance.owner})


def site_edit(request, pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    form = SiteForm(request.POST or None, instance=site, user=request.user)
    if form.is_valid():
        if attempt(
            form, services.amend_site, site=site, recorded_by=request.user,
            seen=form.cleaned_data["seen"], **form.facts(),
        ):  # fmt: skip
            messages.success(request, gettext("{site} is saved.").format(site=site))
            return redirect(site)
        form.look_again(Site.objects.get(pk=pk))
    return render(
        request,
        "registry/site_form.html",
        {
            "form": form,
            "site": Site.objects.get(pk=pk),
            "contracts": site.service_contracts.select_related("contractor").order_by("-starts_on"),
            "buildings": site.buildings.all(),
        },
    )


def building_new(request, pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    return _building(request, site, Building(site=site))


def building_edit(request, pk, building_pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    return _building(request, site, get_object_or_404(site.buildings, pk=building_pk))


def _building(request, site, building):
    form = BuildingForm(request.POST or None, instance=building)
    if form.is_valid():
        save_building(building=building, changed_by=request.user, **form.cleaned_data)
        messages.success(request, gettext("{building} is saved.").format(building=building))
        return redirect("registry:site-edit", site.pk)
    context = {"site": site, "form": form, "thing": building, "noun": "building"}
    return render(request, "registry/site_part_form.html", context)


def contract_new(request, pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    return _contract(request, site, ServiceContract(site=site))


def contract_edit(request, pk, contract_pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    return _contract(request, site, get_object_or_404(site.service_contracts, pk=contract_pk))


def _contract(request, site, contract):
    form = ContractForm(request.POST or None, instance=contract, user=request.user)
    if form.is_valid():
        save_contract(contract=contract, changed_by=request.user, **form.cleaned_data)
        messages.success(
            request,
            gettext("{contractor} serves {site}: saved.").format(
                contractor=contract.contractor, site=site
            ),
        )
        return redirect("registry:site-edit", site.pk)
    context = {"site": site, "form": form, "thing": contract, "noun": gettext("service contract")}
    context["people_of"] = site.owner
    return render(request, "registry/site_part_form.html", context)
