from datetime import date

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from registry.access import get_visible
from registry.models import InertingRun
from reports.certificate.paper import CERTIFIED, certificate_of

RUNS = InertingRun.objects.select_related("system__site__owner", "system__building")
NOT_YET = 409


@require_safe
def certificate(request, pk):
    run = get_visible(RUNS, request.user, pk=pk)
    if run.status not in CERTIFIED:
        return render(request, "reports/certificate_not_yet.html", {"run": run}, status=NOT_YET)
    paper = certificate_of(run, units=request.user.display_units)
    response = HttpResponse(paper.pdf(), content_type="application/pdf")
    day = date(*paper.accepted_on)
    name = f"inerting-{slugify(run.system.tag)}-{day:%Y-%m-%d}.pdf"
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
