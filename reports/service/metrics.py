"""What a machine that watches the book reads: Prometheus text, of what the database knows. Counts
of requests are in the log, since each of several processes would have its own."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Count, Q

from registry.jobs import claims
from registry.models import Job, Record, System
from scheduling.models import Message, RuleFailure, Task

OVERDUE_AFTER = timedelta(hours=1)
TYPE = "text/plain; version=0.0.4; charset=utf-8"


@dataclass(frozen=True)
class Gauge:
    name: str
    help: str
    samples: list[tuple[dict[str, str], float]] = field(default_factory=list)

    @classmethod
    def of(cls, name: str, help: str, value: float) -> "Gauge":
        return cls(name, help, [({}, value)])


def gauges(now: datetime) -> Iterator[Gauge]:
    yield _worker(now)
    yield _jobs(now)
    yield _given_up()
    yield Gauge.of(
        "riserbook_messages_overdue",
        "Mails and deliveries that should have gone out more than an hour ago.",
        Message.objects.due(now - OVERDUE_AFTER).count(),
    )
    yield Gauge.of(
        "riserbook_messages_given_up",
        "Mails and deliveries given up.",
        Message.objects.filter(state=Message.State.FAILED).count(),
    )
    yield Gauge.of(
        "riserbook_rules_unfinished",
        "Rules that failed for a system and wait for the sweep.",
        RuleFailure.objects.count(),
    )
    yield Gauge.of(
        "riserbook_follow_ups_overdue", "Open follow-ups past their day.",
        Task.objects.overdue(now).count(),
    )  # fmt: skip
    yield Gauge.of("riserbook_systems", "Systems in the register.", System.objects.count())
    yield Gauge.of("riserbook_records", "Records in all ledgers.", Record.objects.count())


def _worker(now: datetime) -> Gauge:
    seen_at = claims.last_seen()
    age = (now - seen_at).total_seconds() if seen_at else float("inf")
    return Gauge.of("riserbook_worker_age_seconds", "Since a worker was last seen.", age)


def _jobs(now: datetime) -> Gauge:
    is_due = Q(state=Job.State.WAITING, run_after__lte=now)
    counted = Job.objects.filter(is_due | Q(state__in=Job.HELD))
    rows = counted.order_by().values("kind", "state").annotate(count=Count("pk"))
    samples = [({"kind": row["kind"], "state": row["state"]}, float(row["count"])) for row in rows]
    return Gauge("riserbook_jobs", "Jobs that are due, run, or wait to be tried again.", samples)


def _given_up() -> Gauge:
    rows = Job.objects.filter(state=Job.State.GIVEN_UP).order_by()
    counted = rows.values("kind").annotate(count=Count("pk"))
    samples = [({"kind": row["kind"]}, float(row["count"])) for row in counted]
    return Gauge("riserbook_jobs_given_up", "Jobs of the last 30 days that died for good.", samples)


def as_text(found: Iterable[Gauge]) -> str:
    lines = []
    for gauge in found:
        lines += [f"# HELP {gauge.name} {gauge.help}", f"# TYPE {gauge.name} gauge"]
        lines += [f"{gauge.name}{_labels(labels)} {_number(v)}" for labels, v in gauge.samples]
    return "\n".join(lines) + "\n"


def _labels(labels: dict[str, str]) -> str:
    said = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items())
    return f"{{{said}}}" if said else ""


def _escaped(value: str) -> str:
    return value.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")


def _number(value: float) -> str:
    return "+Inf" if value == float("inf") else f"{value:g}" if value < 1e6 else f"{value:.0f}"
