from django.shortcuts import render
from django.utils import timezone

from registry.access import managed_owners, require_managed_owner
from registry.models import ImportBatch
from scheduling.messages.queue_counts import queue_counts
from scheduling.models import JobRun, RuleFailure

IMPORTS, RUNS, FAILURES = 20, 40, 100


def jobs(request):
    """What the worker does and did: the owner's imports, and the jobs that recur for every book."""
    require_managed_owner(request.user)
    now = timezone.now()
    imports = ImportBatch.objects.filter(owner__in=managed_owners(request.user))
    runs = list(JobRun.objects.all()[:RUNS])
    context = {
        "imports": imports.select_related("uploaded_by")[:IMPORTS],
        "runs": [{"run": run, "is_silent": run.is_silent(now)} for run in runs],
        "is_live": any(run.is_running for run in runs),
        "rule_failures": RuleFailure.objects.filter(
            system__site__owner__in=managed_owners(request.user)
        ).select_related("system__site")[:FAILURES],
        "queue": queue_counts(managed_owners(request.user), now),
    }
    return render(request, "scheduling/jobs.html", context)
