from django.shortcuts import render
from django.views.decorators.http import require_safe

from reports.finding.found import found

LONGEST = 200


@require_safe
def find(request):
    """Systems, sites, people, orders and remarks that the person may see, by words."""
    text = request.GET.get("q", "")[:LONGEST].strip()
    context = {"text": text, "groups": found(request.user, text)}
    template = "reports/_found.html" if request.htmx else "reports/find.html"
    return render(request, template, context)
