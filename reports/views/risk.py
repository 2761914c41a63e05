from datetime import date

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from registry.access import get_visible, key_in, may_manage
from registry.assess.case_files import case_file_of
from registry.models import System
from registry.money import prices_of
from registry.translation import in_english
from reports.bundle import bundle_url
from reports.portfolio import matrix as matrix_page
from reports.risk.assumptions import assumptions_page
from reports.risk.forms import WhatIfForm
from reports.risk.page import RiskPage
from reports.risk.paper import risk_report_of
from scheduling.services.ordering import why_not
from scheduling.verifying import verify_system

SYSTEMS = System.objects.select_related("site__owner", "building")
NOTHING_TO_PRINT = 409


@require_safe
def risk(request, pk):
    page = _page(request, pk)
    context = _context(request, page)
    if page.is_assessed and page.is_ledger:
        tried = request.GET if "try" in request.GET else None
        form = WhatIfForm(tried, page=page, user=request.user)
        context |= {"form": form, "outcome": form.outcome() if form.is_valid() else None}
    return render(request, "reports/risk.html", context)


@require_safe
def risk_pdf(request, pk):
    page = _page(request, pk)
    if not (page.is_assessed and page.is_ledger):  # the page says why
        return render(
            request, "reports/risk.html", _context(request, page), status=NOTHING_TO_PRINT
        )
    response = HttpResponse(
        risk_report_of(page, verify_system(page.system).found).pdf(), content_type="application/pdf"
    )
    name = f"risk-{slugify(page.system.tag)}-{page.day:%Y-%m-%d}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


@require_safe
def risk_changed(request, pk):
    """Why the score changed, as a part of a page that opened a row of the portfolio."""
    return render(request, "reports/_changed_steps.html", {"page": _page(request, pk)})


@require_safe
@in_english()
def risk_case(request, pk):
    """What was assessed, in a file that `manage.py assess --case` judges again."""
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    written = case_file_of(system, timezone.now())
    response = JsonResponse(written, json_dumps_params={"indent": 1})
    name = f"case-{slugify(system.tag)}-{written['as_of'][:10]}.json"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_safe
def matrix(request):
    chosen = matrix_page.chosen_cell(request.GET)
    page = matrix_page.Matrix.of(request.user, chosen)
    return render(request, "reports/matrix.html", {"matrix": page})


@require_safe
def assumptions(request):
    return render(request, "reports/assumptions.html", assumptions_page())


def _page(request, pk: int) -> RiskPage:
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    return RiskPage(
        system,
        units=request.user.display_units,
        now=timezone.now(),
        run_pk=key_in(request.GET.get("run")),
        since=_day_in(request.GET.get("since")),
    )


def _day_in(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return None


def _context(request, page: RiskPage) -> dict[str, object]:
    owner = page.system.site.owner_id
    money = prices_of([owner])[owner]
    here = reverse("reports:risk", args=[page.system.pk])
    manages = may_manage(page.system, request.user)
    rusts = page.system.pipe_runs.current().rusts()
    refusal = why_not(page.system, timezone.now())
    return {
        "money": money,
        "visit_price": money.visit_text,
        "may_order": manages and rusts and not refusal,
        "why_not": refusal,
        "order_url": reverse(
            "scheduling:order-inerting", args=[page.system.pk], query={"back": here}
        ),
        "page": page,
        "system": page.system,
        "may_manage": manages,
        "bundle_url": bundle_url(),
    }
