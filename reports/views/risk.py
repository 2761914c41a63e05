from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from registry.access import get_visible, may_manage
from registry.models import System
from reports import matrix as grid
from reports.assumptions import assumptions_page
from reports.forms import WhatIfForm
from reports.risk import RiskPage

SYSTEMS = System.objects.select_related("site__owner", "building")


@require_safe
def risk(request, pk):
    system = get_visible(SYSTEMS.all(), request.user, pk=pk)
    run = request.GET.get("run", "")
    page = RiskPage(
        system,
        units=request.user.display_units,
        now=timezone.now(),
        run_pk=int(run) if run.isdecimal() else None,
    )
    context = {"page": page, "system": system, "may_manage": may_manage(system, request.user)}
    if page.is_assessed and page.is_ledger:
        tried = request.GET if "try" in request.GET else None
        form = WhatIfForm(tried, page=page, user=request.user)
        context |= {"form": form, "outcome": form.outcome() if form.is_valid() else None}
    return render(request, "reports/risk.html", context)


@require_safe
def matrix(request):
    chosen = grid.chosen_cell(request.GET)
    page = grid.Matrix.of(request.user, chosen)
    return render(request, "reports/matrix.html", {"matrix": page})


@require_safe
def assumptions(request):
    return render(request, "reports/assumptions.html", assumptions_page())
