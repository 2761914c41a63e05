"""Reports that people keep: as a page, and as a PDF of the same rows."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from registry.access import get_visible
from registry.models import Site
from reports.kept.asked import AskedForm
from reports.kept.choosing import Chosen, chosen_systems, systems_of
from reports.kept.collecting import Collected
from reports.kept.layout import Paper
from reports.kept.portfolio import paper_of

TO_MEND = 422
MOST_NOW = 500
"""Systems of which a report is made while somebody waits; of more, a job makes it."""
DAYS = tuple(AskedForm.base_fields)


@require_safe
def portfolio_report(request):
    return _page(request, chosen_systems(request.user, request.GET, timezone.now()))


@require_safe
def portfolio_report_pdf(request):
    return _pdf(request, chosen_systems(request.user, request.GET, timezone.now()))


@require_safe
def site_report(request, pk):
    site = get_visible(Site.objects.select_related("owner"), request.user, pk=pk)
    return _page(request, systems_of(site, request.user))


@require_safe
def site_report_pdf(request, pk):
    site = get_visible(Site.objects.select_related("owner"), request.user, pk=pk)
    return _pdf(request, systems_of(site, request.user))


def pdf_response(paper: Paper) -> HttpResponse:
    response = HttpResponse(paper.pdf(), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{paper.file_name}"'
    return response


def _page(request, chosen: Chosen):
    now = timezone.now()
    form = AskedForm(request.GET, now=now)
    is_right = form.is_valid()
    is_too_many = len(chosen.keys) > MOST_NOW
    paper = _paper(request, chosen, form) if is_right and not is_too_many else None
    query = request.GET.urlencode()
    name, arguments = _address(chosen)
    context = {
        "form": form,
        "paper": paper,
        "title": gettext("Site report") if chosen.site else gettext("Portfolio report"),
        "site": chosen.site,
        "too_many": len(chosen.keys) if is_too_many else 0,
        "pdf": reverse(f"reports:{name}-pdf", args=arguments) + (f"?{query}" if query else ""),
        "filters": [
            (key, value) for key, values in request.GET.lists() if key not in DAYS
            for value in values
        ],
    }  # fmt: skip
    return render(request, "reports/kept.html", context, status=200 if is_right else TO_MEND)


def _pdf(request, chosen: Chosen):
    form = AskedForm(request.GET, now=timezone.now())
    if not form.is_valid() or len(chosen.keys) > MOST_NOW:
        return _page(request, chosen)
    return pdf_response(_paper(request, chosen, form))


def _paper(request, chosen: Chosen, form: AskedForm) -> Paper:
    collected = Collected(
        keys=chosen.keys,
        asked=form.asked(),
        reader=request.user,
        now=form.now,
        site=chosen.site,
        chosen_by=chosen.words,
        owners=chosen.owners,
    )
    return paper_of(collected)


def _address(chosen: Chosen) -> tuple[str, list[int]]:
    return ("site-report", [chosen.site.pk]) if chosen.site else ("portfolio-report", [])
