"""What plans rest on: seen by whoever has crews, changed by their managers."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from registry.access import get_recordable
from registry.models import Site
from registry.words.told.retelling import retold
from scheduling.forms.days import today_for
from scheduling.forms.planning import DepotForm, PlaceForm, PolicyForm, WorkTimeForm
from scheduling.forms.planning_file import PlanningFileForm
from scheduling.models import Depot, Place, WorkTime
from scheduling.planning.facts import policy_of
from scheduling.planning.said.assumed import KINDS, USUAL
from scheduling.planning.said.basis import basis_of
from scheduling.planning.said.from_file import load
from scheduling.planning.said.placed import known_places
from scheduling.planning.said.sketch import sketch_of
from scheduling.rules import works
from scheduling.rules.types import Work
from scheduling.views.orders import managed_organisations, require_manager
from scheduling.views.weeks import planning_organisations


def planning(request):
    """All of it on one page, with what is assumed marked as such."""
    managed = set(managed_organisations(request.user).values_list("pk", flat=True))
    found = [
        basis_of(organisation, request.user)
        for organisation in planning_organisations(request.user)
    ]
    return render(request, "scheduling/planning.html", {"bases": found, "managed": managed})


def policy_edit(request, pk):
    organisation = _managed(request.user, pk)
    form = PolicyForm(request.POST or None, instance=policy_of(organisation))
    if form.is_valid():
        form.save()
        messages.success(request, gettext("Ways, breaks and prices are saved."))
        return redirect("scheduling:planning")
    return _page(request, form, gettext("Ways, breaks and prices"), organisation)


def depot_new(request, pk):
    organisation = _managed(request.user, pk)
    return _depot(request, Depot(organisation=organisation))


def depot_edit(request, pk):
    depots = Depot.objects.select_related("organisation")
    ours = planning_organisations(request.user)
    depot = get_object_or_404(depots, pk=pk, organisation__in=ours)
    require_manager(request.user, depot.organisation)
    return _depot(request, depot)


def _depot(request, depot):
    today = today_for(request.user, timezone.now())
    form = DepotForm(
        request.POST or None, instance=depot, organisation=depot.organisation, today=today
    )
    if form.is_valid():
        messages.success(request, gettext("{depot} is saved.").format(depot=form.save()))
        return redirect("scheduling:planning")
    title = str(depot) if depot.pk else gettext("New depot")
    return _page(request, form, title, depot.organisation)


def work_time_edit(request, pk, kind):
    organisation = _managed(request.user, pk)
    work = _work_of(kind)
    row = organisation.work_times.filter(kind=kind).first()
    form = WorkTimeForm(request.POST or None, instance=row or _assumed(organisation, kind))
    if form.is_valid():
        form.save()
        messages.success(request, gettext("{work} is saved.").format(work=retold(work.label)))
        return redirect("scheduling:planning")
    return _page(request, form, retold(work.label), organisation)


def _work_of(kind: str) -> Work:
    if kind not in works():
        raise Http404(gettext("No such work."))
    return works()[kind]


def _assumed(organisation, kind) -> WorkTime:
    usual = KINDS.get(kind, USUAL)
    return WorkTime(
        organisation=organisation, kind=kind, minutes=usual.minutes,
        minutes_per_m3=usual.minutes_per_m3, impairs=usual.impairs,
    )  # fmt: skip


def place_edit(request, pk, building_pk=None):
    """Whoever may record at the site may say where it lies and when it opens."""
    site = get_recordable(Site.objects.select_related("owner"), request.user, pk=pk)
    building = get_object_or_404(site.buildings, pk=building_pk) if building_pk else None
    place = Place.objects.filter(site=site, building=building).first()
    form = PlaceForm(request.POST or None, place=place)
    if form.is_valid():
        form.save(site=site, building=building, by=request.user, now=timezone.now())
        messages.success(request, gettext("{place} is saved.").format(place=building or site))
        return redirect("scheduling:planning")
    sketch = sketch_of(known_places(request.user, place, building or site))
    context = {
        "form": form, "site": site, "building": building, "place": place, "sketch": sketch,
        "buildings": [] if building else site.buildings.all(),
    }  # fmt: skip
    return render(request, "scheduling/place_form.html", context)


def planning_import(request, pk):
    organisation = _managed(request.user, pk)
    form = PlanningFileForm(request.POST or None, request.FILES or None)
    outcome = None
    if form.is_valid():
        outcome = load(
            form.cleaned_data["file"], organisation=organisation, by=request.user,
            now=timezone.now(), sites=Site.objects.recordable_by(request.user),
        )  # fmt: skip
    context = {"form": form, "organisation": organisation, "outcome": outcome}
    return render(request, "scheduling/planning_import.html", context)


def _managed(user, pk):
    organisation = get_object_or_404(planning_organisations(user), pk=pk)
    require_manager(user, organisation)
    return organisation


def _page(request, form, title, organisation):
    context = {"form": form, "title": title, "organisation": organisation}
    return render(request, "scheduling/planning_form.html", context)
