from django.db.models import Q
from django.shortcuts import render
from django.utils import timezone

from registry.access import managed_owners, require_managed_owner
from registry.jobs import claims
from registry.jobs.kinds import label_of
from registry.models import ImportBatch, Job, Organisation, OwnerVerdict, Verdict
from registry.models.jobs import SILENT_FOR
from scheduling.messages.queue_counts import queue_counts
from scheduling.models import RuleFailure

IMPORTS, RUNS, GIVEN_UP, FAILURES = 20, 40, 20, 100


def jobs(request):
    """What the worker does and did: the owner's imports, and the jobs that recur for every book."""
    require_managed_owner(request.user)
    now = timezone.now()
    owners = managed_owners(request.user)
    ours = Job.objects.filter(Q(owner=None) | Q(owner__in=owners))
    begun = ours.exclude(started_at=None).order_by("-started_at", "-pk")
    given_up = begun.filter(state=Job.State.GIVEN_UP)
    runs = list(begun[:RUNS])
    seen_at = claims.last_seen()
    context = {
        "imports": ImportBatch.objects.filter(owner__in=owners).select_related("uploaded_by")[
            :IMPORTS
        ],
        "runs": [_row(job, now) for job in runs],
        "given_up": [_row(job, now) for job in given_up[:GIVEN_UP]],
        "is_live": any(job.is_running for job in runs),
        "is_whole_book": _is_whole_book(request.user, owners),
        "worker_seen_at": seen_at,
        "is_worker_away": seen_at is None or abs(now - seen_at) > SILENT_FOR,
        "waiting": ours.filter(state=Job.State.WAITING, run_after__lte=now).count(),
        "rule_failures": RuleFailure.objects.filter(system__site__owner__in=owners).select_related(
            "system__site"
        )[:FAILURES],
        "verdicts": OwnerVerdict.objects.filter(owner__in=owners).select_related("owner"),
        "not_holding": Verdict.objects.filter(system__site__owner__in=owners)
        .against()
        .select_related("system__site"),
        "queue": queue_counts(owners, now),
    }
    return render(request, "scheduling/jobs.html", context)


def _row(job: Job, now):
    return {"job": job, "label": label_of(job.kind), "is_silent": job.is_silent(now)}


def _is_whole_book(user, owners) -> bool:
    """Jobs run for all owners at once; what they counted is nobody's but theirs together."""
    others = Organisation.objects.filter(kind=Organisation.Kind.OWNER).exclude(pk__in=owners)
    return user.is_staff or not others.exists()
