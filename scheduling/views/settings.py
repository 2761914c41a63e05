"""What the plan follows from: editions and winter of a site, facts about a system."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from registry.access import get_manageable, get_visible, may_manage
from registry.forms.units_and_errors import attempt
from registry.models import Site, System
from scheduling import recurring
from scheduling.forms.library import (
    AnswersForm,
    EditionForm,
    LastDoneForm,
    SprinklerAreaForm,
    WinterForm,
)
from scheduling.models import AdoptedEdition, RecurringItem, SiteWinter, SprinklerArea
from scheduling.recurring.at_system import shown_by_register
from scheduling.recurring.pages import questions_of, site_items

SITES = Site.objects.select_related("owner")
SYSTEMS = System.objects.select_related("site__owner", "building")


def site_edition(request, pk):
    get = get_manageable if request.method == "POST" else get_visible
    site = get(SITES.all(), request.user, pk=pk)
    form = EditionForm(request.POST or None)
    if form.is_valid() and (
        adopted := attempt(
            form, recurring.adopt_edition,
            site=site, adopted_by=request.user, now=timezone.now(), **form.cleaned_data,
        )
    ):  # fmt: skip
        messages.success(
            request,
            gettext("{title} holds at {site}; work is planned.").format(
                title=adopted.definition.title, site=site
            ),
        )
        return redirect("scheduling:site-edition", site.pk)
    rows = site.adopted_editions.select_related("adopted_by", "ended_by")
    context = {
        "site": site,
        "form": form,
        "in_force": [row for row in rows if row.ended_at is None],
        "given_up": [row for row in rows if row.ended_at],
        "winter": SiteWinter.objects.filter(site=site).first() or SiteWinter(site=site),
        "item_count": site_items(site),
        "may_manage": may_manage(site, request.user),
    }
    return render(request, "scheduling/site_edition.html", context)


@require_POST
def site_edition_end(request, pk):
    adopted = get_manageable(
        AdoptedEdition.objects.select_related("site__owner"), request.user, pk=pk
    )
    recurring.give_up_edition(adopted=adopted, ended_by=request.user, now=timezone.now())
    messages.success(
        request,
        gettext("{title} no longer holds at {site}.").format(
            title=adopted.definition.title, site=adopted.site
        ),
    )
    return redirect("scheduling:site-edition", adopted.site_id)


def site_winter(request, pk):
    site = get_manageable(SITES.all(), request.user, pk=pk)
    winter = SiteWinter.objects.filter(site=site).first() or SiteWinter(site=site)
    form = WinterForm(request.POST or None, instance=winter)
    if form.is_valid() and attempt(
        form,
        recurring.set_winter,
        site=site,
        now=timezone.now(),
        changed_by=request.user,
        **form.cleaned_data,
    ):
        messages.success(request, gettext("Saved; seasonal work is planned again."))
        return redirect("scheduling:site-edition", site.pk)
    return render(request, "scheduling/site_winter.html", {"site": site, "form": form})


def schedule_answers(request, pk):
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    given = {row.condition: row.answer for row in system.answers.all()}
    form = AnswersForm(
        request.POST or None,
        questions=questions_of(system), answers=given, shown=shown_by_register(system),
    )  # fmt: skip
    if form.is_valid():
        recurring.answer_questions(
            system=system, now=timezone.now(), changed_by=request.user, **form.facts()
        )
        messages.success(request, gettext("Saved; open work is planned again."))
        return redirect("scheduling:schedule", system.pk)
    return render(request, "scheduling/schedule_answers.html", {"system": system, "form": form})


def last_done(request, pk):
    items = RecurringItem.objects.select_related("system__site", "system__building")
    item = get_manageable(items, request.user, pk=pk)
    form = LastDoneForm(request.POST or None, initial={"last_done_on": item.last_done_on})
    if form.is_valid():
        attempt(
            form, recurring.set_last_done, item=item, now=timezone.now(), changed_by=request.user,
            **form.cleaned_data,
        )  # fmt: skip
        if form.is_valid():
            messages.success(request, gettext("Saved; the next is planned from there."))
            return redirect("scheduling:schedule", item.system_id)
    return render(request, "scheduling/last_done.html", {"item": item, "form": form})


def sprinklers_new(request, pk):
    system = get_manageable(SYSTEMS.all(), request.user, pk=pk)
    return _sprinklers(request, system, SprinklerArea(system=system))


def sprinklers_edit(request, pk):
    system = get_manageable(SprinklerArea, request.user, pk=pk).system
    return _sprinklers(request, system, get_object_or_404(system.sprinkler_areas, pk=pk))


def _sprinklers(request, system, area):
    form = SprinklerAreaForm(request.POST or None, instance=area)
    if form.is_valid() and attempt(
        form, recurring.save_area, area=form.instance, now=timezone.now(), changed_by=request.user
    ):
        messages.success(
            request, gettext("{area} is saved; its sample test is planned.").format(area=area)
        )
        return redirect("scheduling:schedule", system.pk)
    context = {"system": system, "form": form, "area": area}
    return render(request, "scheduling/sprinklers_form.html", context)
