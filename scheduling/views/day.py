"""Day list: by crew, with what to load, to read on a phone or to print on a sheet."""

from datetime import timedelta

from django.shortcuts import render
from django.utils import timezone

from scheduling.forms.days import DayFilter
from scheduling.orders.board import under_way
from scheduling.orders.day import next_booked_day, rounds


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
