"""One job run to its end in this process, as a worker would run it in one of its own."""

from django.utils import timezone

from registry.jobs.asking import ask
from registry.jobs.claims import claim
from registry.jobs.process import run_here
from registry.models import Job


def run_job(kind: str, clock=timezone.now, **arguments) -> Job:
    ask(kind, key="", arguments=arguments, now=clock())
    return run_waiting(kind, clock)


def run_waiting(kind: str, clock=timezone.now) -> Job:
    Job.objects.filter(state="waiting").exclude(kind=kind).delete()
    job = claim(clock(), "here:0")
    assert job is not None, f"no {kind} is due"
    run_here(job, clock)
    job.refresh_from_db()
    return job
