from datetime import datetime, time, timedelta
from itertools import islice

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from registry.models import Site, System
from reports.proof.forms import DemandedForm
from scheduling.recurring.demanded import count_by_outcome, demanded
from scheduling.recurring.not_asked import not_asked

MOST = 500


@require_safe
def demanded_page(request):
    """Of one site and a time: what the schedule demanded and what was recorded of it."""
    sites = Site.objects.visible_to(request.user).order_by("name")
    form = DemandedForm(request.GET or None, sites=sites)
    context = {"form": form, "site": None}
    if form.is_valid():
        context |= _found(form.cleaned_data)
    return render(request, "reports/demanded.html", context, status=422 if form.errors else 200)


def _found(asked):
    site = asked["site"]
    systems = System.objects.filter(site=site).select_related("site__owner")
    since = asked["since"] and datetime.combine(asked["since"], time.min, site.zone)
    until = asked["until"] and datetime.combine(
        asked["until"] + timedelta(days=1), time.min, site.zone
    )
    rows = list(demanded(systems, now=timezone.now(), since=since, until=until))
    shown = [row for row in rows if row.is_gap or not asked["only_gaps"]]
    return {
        "site": site,
        "counts": sorted(count_by_outcome(rows).items()),
        "rows": shown[:MOST],
        "left": max(0, len(shown) - MOST),
        "left_out": list(islice(not_asked(systems), MOST)),
    }
