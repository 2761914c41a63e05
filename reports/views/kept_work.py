"""Papers of single work, as PDF; that of a visit as a page too."""

from datetime import date

from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from registry.access import get_visible
from registry.models import InertingRun, Site
from reports.kept.work.hand_over import hand_over_paper
from reports.kept.work.labels import label_paper
from reports.kept.work.order import order_paper
from reports.kept.work.vans import day_paper
from reports.kept.work.visit import Visit, visit_paper
from reports.views.kept import pdf_response
from scheduling.forms.days import DayFilter
from scheduling.models import Task

SITES = Site.objects.select_related("owner")
RUNS = InertingRun.objects.select_related("system__site__owner", "system__building")


@require_safe
def visit(request, pk, on):
    found = _visit(request, pk, on)
    context = {
        "title": gettext("Inspection report"),
        "site": found.site,
        "paper": visit_paper(found, with_files=False),
        "pdf": reverse("reports:visit-pdf", args=[pk, on]),
    }
    return render(request, "reports/kept.html", context)


@require_safe
def visit_pdf(request, pk, on):
    return pdf_response(visit_paper(_visit(request, pk, on)))


@require_safe
def hand_over(request, pk):
    run = get_visible(RUNS, request.user, pk=pk)
    return pdf_response(hand_over_paper(run, reader=request.user, now=timezone.now()))


@require_safe
def order_sheet(request, pk):
    tasks = Task.objects.with_place().select_related("cause__system__site", "system__site__owner")
    task = get_visible(tasks, request.user, pk=pk)
    return pdf_response(order_paper(task, reader=request.user, now=timezone.now()))


@require_safe
def labels(request, pk):
    site = get_visible(SITES, request.user, pk=pk)
    return pdf_response(label_paper(site, reader=request.user, now=timezone.now()))


@require_safe
def day_sheets(request):
    now = timezone.now()
    on, crew = DayFilter(request.GET, user=request.user, now=now).answers()
    return pdf_response(day_paper(request.user, on, crew, now=now))


def _visit(request, pk: int, on: str) -> Visit:
    site = get_visible(SITES, request.user, pk=pk)
    try:
        day = date.fromisoformat(on)
    except ValueError as error:
        raise Http404(gettext("A day is written as 2026-05-31.")) from error
    found = Visit(site, day, request.user, timezone.now())
    if not found.records:
        raise Http404(gettext("No inspection is on record at this site for that day."))
    return found
