"""The report of a package on paper: what it is of, what holds, what was demanded and not done."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from itertools import islice

from django.db.models import QuerySet
from django.utils.translation import gettext

from registry.models import OwnerRecord, System
from registry.proof.notes import Verifier
from registry.services.packages import Source
from reports.pdf import compile_pdf
from scheduling.recurring.demanded import Demand
from scheduling.recurring.not_asked import not_asked
from scheduling.verifying.schedule_rows import demands

MOST_SYSTEMS, MOST_GAPS, MOST_DECISIONS, MOST_LEFT_OUT = 500, 500, 200, 200
Row = tuple[str, ...]


@dataclass(frozen=True)
class PackageReport:
    """Everything printed, in words already. What is left out for length is counted."""

    title: str
    owner: str
    day: tuple[int, int, int]
    facts: tuple[Row, ...]
    systems: tuple[Row, ...]
    systems_left: str
    outcomes: tuple[Row, ...]
    gaps: tuple[Row, ...]
    gaps_left: str
    left_out: tuple[Row, ...]
    left_out_left: str
    decisions: tuple[Row, ...]
    decisions_left: str
    key: str

    def pdf(self) -> bytes:
        return compile_pdf("package.typ", asdict(self))


def report_of(source: Source) -> PackageReport:
    systems = source.scope.of_systems().select_related("site__owner").order_by("site__name", "tag")
    outcomes, gaps, gap_count = _schedule(source)
    left_out = [
        (one.site.name, one.system_kind, one.title, one.outcome, one.why)
        for one in not_asked(systems)
    ]
    decisions = _decisions(source)
    decided = tuple(
        _decided(row, source) for row in decisions.order_by("-sequence")[:MOST_DECISIONS]
    )
    key = source.log.keys.order_by("-pk").first()
    return PackageReport(
        title=gettext("Records of maintenance"),
        owner=source.scope.owner.name,
        day=(source.now.year, source.now.month, source.now.day),
        facts=tuple(_facts(source)),
        systems=tuple(_system(one, source) for one in systems[:MOST_SYSTEMS]),
        systems_left=_left(systems.count() - MOST_SYSTEMS),
        outcomes=tuple((name, str(count)) for name, count in sorted(outcomes.items())),
        gaps=tuple(gaps),
        gaps_left=_left(gap_count - MOST_GAPS),
        left_out=tuple(islice(left_out, MOST_LEFT_OUT)),
        left_out_left=_left(len(left_out) - MOST_LEFT_OUT),
        decisions=decided,
        decisions_left=_left(decisions.count() - MOST_DECISIONS),
        key=Verifier.from_vkey(key.vkey).fingerprint if key else "",
    )


def _facts(source: Source) -> Iterator[Row]:
    scope, words = source.scope, source.scope.words
    yield gettext("Owner"), scope.owner.name
    yield gettext("Made"), _moment(source.now)
    yield gettext("Sites"), ", ".join(words["sites"]) or gettext("all of them")
    yield gettext("Systems"), ", ".join(words["systems"]) or gettext("all of those sites")
    yield gettext("Happened from"), _moment(scope.since) if scope.since else gettext("any time")
    yield gettext("Happened before"), _moment(scope.until) if scope.until else gettext("any time")
    yield gettext("Kinds of record"), ", ".join(words["kinds"]) or gettext("all of them")
    yield gettext("Records in full"), str(source.asked_for().count())
    yield gettext("Records in the owner's log"), str(source.size)


def _system(system: System, source: Source) -> Row:
    last = system.records.filter(log_leaf__number__lt=source.size).order_by("-sequence").first()
    span = system.spans.filter(starts_at__lte=source.now).order_by("-starts_at").first()
    return (
        system.site.name,
        system.tag,
        str(system.get_kind_display()),
        str(span.get_state_display()) if span else gettext("not known"),
        str(last.sequence) if last else "0",
        last.hash[:16] if last else "",
    )


def _schedule(source: Source) -> tuple[dict[str, int], list[Row], int]:
    outcomes: dict[str, int] = {}
    gaps: list[Row] = []
    count = 0
    for one in demands(source):
        outcomes[one.outcome] = outcomes.get(one.outcome, 0) + 1
        if one.is_gap:
            count += 1
            if len(gaps) < MOST_GAPS:
                gaps.append(_gap(one))
    return outcomes, gaps, count


def _gap(one: Demand) -> Row:
    due = one.due_on.isoformat()
    return one.system.site.name, one.system.tag, one.title, due, one.outcome, one.why


def _decisions(source: Source) -> QuerySet[OwnerRecord]:
    """What changed since the owner's ledger began; what was found then is in `owner.jsonl`."""
    found = {one.sequence for one in source.owner_rows() if hasattr(one, "body")}
    rows = source.owner_records().filter(recorded_by__isnull=False)
    if source.scope.sites or source.scope.systems:
        rows = rows.filter(sequence__in=found)
    return rows.select_related("recorded_by")


def _decided(row: OwnerRecord, source: Source) -> Row:
    told = next(
        (str(row.facts[name]) for name in ("title", "name", "edition") if name in row.facts),
        row.key,
    )
    by = source.names.at(row.recorded_by, row.recorded_at) if row.recorded_by else ""
    return _moment(row.recorded_at), by, row.subject, str(row.get_change_display()), told


def _moment(when: datetime) -> str:
    return f"{when.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def _left(count: int) -> str:
    if count <= 0:
        return ""
    return gettext("{count} more are in the files of the package and not on this paper.").format(
        count=count
    )
