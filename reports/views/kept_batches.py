"""Reports made by a job: asked for, fetched, and set to come by themselves."""

from django.contrib import messages
from django.http import FileResponse, Http404, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from registry.models import Job
from reports.kept.batches import REPORTS, ask_for_reports
from reports.kept.choosing import chosen_systems
from reports.kept.forms import BatchForm, ScheduleForm
from reports.portfolio.filters import PortfolioFilter
from scheduling.models import ReportBatch, ReportSchedule

RECENT, TO_MEND = 20, 422
MOST_SCHEDULES = 20
FILTERS = frozenset(PortfolioFilter.base_filters)


def kept(request):
    """The filters of the portfolio are in the address, as on the portfolio itself."""
    now, query = timezone.now(), _filters_of(request.GET)
    is_schedule = "rhythm" in request.POST
    posted = request.POST if request.method == "POST" else None
    batch = BatchForm(None if is_schedule else posted, now=now)
    schedule = ScheduleForm(posted if is_schedule else None, auto_id="schedule_%s")
    if is_schedule and schedule.is_valid() and _has_room(request.user, schedule):
        set_up = schedule.save_for(request.user, query, now)
        words = gettext("It comes by mail from {day} on.")
        messages.success(request, words.format(day=set_up.next_on.isoformat()))
        return redirect("reports:kept")
    if posted and not is_schedule and batch.is_valid():
        ask_for_reports(
            person=request.user, kind=batch.cleaned_data["kind"], query=query,
            asked=batch.asked(), now=now,
        )  # fmt: skip
        messages.success(request, gettext("Asked for; you are told by mail when it is ready."))
        return redirect("reports:kept")
    context = {
        "form": batch,
        "schedule": schedule,
        "chosen": chosen_systems(request.user, QueryDict(query), now),
        "batches": _with_progress(ReportBatch.objects.filter(person=request.user)[:RECENT]),
        "schedules": ReportSchedule.objects.filter(person=request.user, is_active=True),
        "now": now,
    }
    return render(request, "reports/kept_batches.html", context, status=TO_MEND if posted else 200)


@require_safe
def kept_file(request, uuid):
    batch = get_object_or_404(ReportBatch, uuid=uuid, person=request.user)
    if not batch.file or not batch.is_for(request.user):
        raise Http404(gettext("This report is not there, or you may not see all of it any more."))
    return FileResponse(
        batch.file.open("rb"), as_attachment=True, filename=batch.file_name,
        content_type=batch.content_type,
    )  # fmt: skip


@require_POST
def kept_schedule_end(request, pk):
    schedule = get_object_or_404(ReportSchedule, person=request.user, pk=pk)
    ReportSchedule.objects.filter(pk=schedule.pk).update(is_active=False)
    messages.success(request, gettext("It comes no more."))
    return redirect("reports:kept")


def _filters_of(data: QueryDict) -> str:
    kept_ones = QueryDict(mutable=True)
    for name in sorted(FILTERS & set(data)):
        kept_ones.setlist(name, [value for value in data.getlist(name) if value])
    return kept_ones.urlencode()[:500]


def _has_room(user, form: ScheduleForm) -> bool:
    if ReportSchedule.objects.filter(person=user, is_active=True).count() < MOST_SCHEDULES:
        return True
    words = gettext("{count} reports come by themselves already; end one of them first.")
    form.add_error(None, words.format(count=MOST_SCHEDULES))
    return False


def _with_progress(batches):
    """Each with how many of its reports are made, while the job is at it."""
    found = list(batches)
    keys = [str(one.pk) for one in found if not one.is_over]
    done = dict(Job.objects.filter(kind=REPORTS, key__in=keys).values_list("key", "done"))
    return [(one, done.get(str(one.pk), 0)) for one in found]
