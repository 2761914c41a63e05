"""Day list: by crew, with what to load, to read on a phone or to print on a sheet; and which pages
a phone keeps for that day."""

from datetime import timedelta

from django.http import JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from scheduling.forms.days import DayFilter, today_for
from scheduling.orders.day import next_booked_day, pages_for, rounds
from scheduling.orders.under_way import under_way


def day(request):
    now = timezone.now()
    chosen = DayFilter(request.GET, user=request.user, now=now)
    on, crew = chosen.answers()
    found = rounds(request.user, on, crew, now)
    context = {
        "filter": chosen,
        "on": on,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "rounds": found,
        "under_way": under_way(request.user),
        "next_booked": None if found else next_booked_day(request.user, on, crew),
    }
    return render(request, "scheduling/day.html", context)


@never_cache
@require_safe
def day_pages(request):
    """Addresses of what a person needs where there is no connection: today and tomorrow."""
    on = today_for(request.user, timezone.now())
    return JsonResponse({"pages": pages_for(request.user, on)})
