"""The bridge from ledger rows to the pure rules: one system's standing, read once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from registry.atmosphere import SystemFacts, breach, confirming_due
from registry.atmosphere.confirming import Due
from registry.atmosphere_rows.system_ledger import SystemLedger
from registry.kinds.requests import INERTING_WANTED
from registry.kinds.steps import ACCEPTED
from registry.models import AtmosphereSpan, Organisation, Record, Site, System
from registry.services import system_facts
from registry.services.derive import ledger_items
from scheduling.follow_ups.findings import findings_of
from scheduling.follow_ups.tuning import tuning_of
from scheduling.rules import Cause, Delay, Facts, Line, Outage, Party, answer_kinds, still_asked
from scheduling.rules.answers import GAS_READINGS

READINGS = frozenset(kind.code for kind in GAS_READINGS)

RUN = "run"
SUPPLIES = (System.GasSupply.CYLINDERS, System.GasSupply.GENERATOR, System.GasSupply.COMPRESSOR)


@dataclass(frozen=True)
class Standpoint:
    """The facts the rules read, and what the closing of follow-ups needs beside them."""

    facts: Facts
    lines: tuple[Line, ...]
    current_ids: frozenset[int]
    reason_record_id: int | None


class SystemRecords:
    """The current ledger of one system, with what each record corrects."""

    def __init__(self, system: System, records: Sequence[Record]):
        self.records = records
        self.by_id = {record.pk: record for record in self.records}
        has_corrections = any(record.supersedes_id for record in self.records)
        self.corrected = _corrected(system) if has_corrections else {}

    @property
    def last_at(self) -> datetime | None:
        return self.records[-1].occurred_at if self.records else None

    def cause(self, record: Record) -> Cause:
        """The record as a cause; what it corrects, however often, was the same cause."""
        keys, known_at = [str(record.uuid)], record.recorded_at
        pk = record.pk
        while earlier := self.corrected.get(pk):
            pk, uuid, recorded_at = earlier
            keys.append(uuid)
            known_at = min(known_at, recorded_at)
        return Cause(
            record.pk, tuple(keys), str(record.definition.label), record.occurred_at, known_at
        )


def _corrected(system: System) -> dict[int, tuple[int, str, datetime]]:
    """What each correcting record of a system corrects."""
    earlier = system.records.filter(superseded_by__isnull=False)
    return {
        by: (pk, str(uuid), recorded_at)
        for by, pk, uuid, recorded_at in earlier.values_list(
            "superseded_by", "pk", "uuid", "recorded_at"
        )
    }


def ledger_of(system: System) -> SystemLedger:
    """As a record brings it along, for whoever comes without one."""
    records = list(system.records.current().in_order())
    spans = list(system.spans.order_by("starts_at"))
    return SystemLedger(system, records, system_facts(system), spans)


def standpoint(ledger: SystemLedger, now: datetime) -> Standpoint | None:
    """Where the system stands at `now`, or at its last record when a clock ran ahead."""
    system, physics = ledger.system, ledger.facts
    entries = SystemRecords(system, ledger.records)
    now = max(now, entries.last_at or now)
    spans = [span for span in reversed(ledger.spans) if span.starts_at <= now]
    if not spans:
        return None
    stretch = present_stretch(spans)
    answering = answer_kinds()
    lines = tuple(
        Line(record.pk, record.kind, record.occurred_at, record.sequence, record.details)
        for record in entries.records
        if record.kind in answering
    )
    facts = _facts(system, now, entries, stretch, len(stretch) == len(spans), physics)
    facts = replace(facts, **_protection(ledger, entries))
    before = _before_acceptance(ledger, spans, stretch)
    if before:
        earlier = _facts(system, now, entries, before, False, physics)
        facts = replace(facts, before_acceptance=earlier)
    return Standpoint(
        facts=facts,
        lines=lines,
        current_ids=frozenset(entries.by_id),
        reason_record_id=spans[0].cause_id,
    )


def _protection(ledger: SystemLedger, entries: SystemRecords) -> dict[str, Any]:
    condition = ledger.protection
    if condition is None or not condition.open:
        return {}
    outages = tuple(
        Outage(entries.cause(entries.by_id[one.cause_id]), one.reason, one.areas, one.is_planned)
        for one in condition.open
    )
    return {"outages": outages, "not_restored": condition.stays}


def _before_acceptance(
    ledger: SystemLedger, spans: Sequence[AtmosphereSpan], stretch: Sequence[AtmosphereSpan]
) -> list[AtmosphereSpan]:
    """The stretch that an accepted run ended, while what the run took out is not back."""
    accepted_at = stretch[0].starts_at
    runs = [one for one in ledger.protection.open if one.code == RUN] if ledger.protection else []
    is_waiting = stretch[-1].state == AtmosphereSpan.State.INERT and any(
        run.began_at <= accepted_at for run in runs
    )
    earlier = [span for span in spans if span.starts_at < accepted_at]
    return present_stretch(earlier) if is_waiting and earlier else []


def _facts(
    system: System,
    now: datetime,
    entries: SystemRecords,
    stretch: Sequence[AtmosphereSpan],
    is_as_installed: bool,
    physics: SystemFacts,
) -> Facts:
    site, present = system.site, stretch[-1]
    serving = _serving(site, now)
    contractor = serving[0] if serving else None
    acceptance, asked = _confirmations(entries, physics)
    causes = _causes(entries, stretch, physics)
    return Facts(
        now=now,
        zone=site.zone,
        owner=Party(site.owner_id, site.owner.name),
        contractor=Party(contractor.pk, contractor.name) if contractor else None,
        state=present.state,
        since=stretch[0].starts_at,
        present_since=present.starts_at,
        reason=present.reason,
        causes=tuple(entries.cause(record) for record in causes),
        is_only_wanted=bool(causes) and all(_is_wish(record) for record in causes),
        wanted_by=_wanted_by(causes),
        is_as_installed=is_as_installed,
        acceptance=acceptance,
        dues=asked,
        findings=findings_of(system, entries.records, entries.cause),
        has_gas_supply=system.gas_supply in SUPPLIES,
        delay=delay_of(system),
        rusts=present.state == AtmosphereSpan.State.INERT or system.pipe_runs.current().rusts(),
        may_have_it=frozenset([site.owner_id, *(party.pk for party in serving)]),
        tuning=tuning_of(site.owner),
    )


def parties_at(site: Site, now: datetime) -> list[Organisation]:
    """Whom work at the site may be given to: its owner, and every contractor serving it now."""
    serving = {party.pk: party for party in _serving(site, now)}
    return [site.owner, *sorted(serving.values(), key=lambda party: party.name)]


def new_work_goes_to(site: Site, now: datetime) -> Organisation:
    """The contractor of the newest contract in force; the owner where none serves."""
    return next(iter(_serving(site, now)), site.owner)


def _serving(site: Site, now: datetime) -> list[Organisation]:
    """The contractors of the contracts in force, first whom new work goes to."""
    contracts = site.service_contracts.in_force(now.astimezone(site.zone).date())
    newest_first = contracts.select_related("contractor").order_by("-starts_on")
    return [contract.contractor for contract in newest_first]


def delay_of(system: System) -> Delay | None:
    """What waiting costs by the latest assessment; the key tells one assessment from the next."""
    latest = system.assessments.latest().order_by()
    costs = latest.values_list("delay_points_per_week", "digest", "model_version")[:1]
    points, digest, version = next(iter(costs), (None, "", ""))
    return None if points is None else Delay(points, assessment_key(digest, version))


def assessment_key(digest: str, version: str) -> str:
    return f"{digest} {version}".strip()


def present_stretch(spans: Iterable[AtmosphereSpan]) -> list[AtmosphereSpan]:
    """The newest spans that share one state, oldest first; `spans` comes newest first."""
    stretch: list[AtmosphereSpan] = []
    for span in spans:
        if stretch and span.state != stretch[-1].state:
            break
        stretch.append(span)
    return stretch[::-1]


def _causes(
    entries: SystemRecords, stretch: Sequence[AtmosphereSpan], physics: SystemFacts
) -> list[Record]:
    """What put the system into its present state and keeps it there, in the order it happened;
    wishes, of which the state says nothing, come last.

    Of an aerated stretch that is every record that let air in, or says that the owner wants it
    inert. Of a doubtful one it is what the present reason names, and what came after the last
    reading, which settled the earlier ones.
    """
    named = entries.by_id.keys() & {span.cause_id for span in stretch}
    since = stretch[0].starts_at
    if stretch[-1].state == AtmosphereSpan.State.IN_DOUBT:
        read_at = max((r.occurred_at for r in entries.records if r.kind in READINGS), default=since)
        named = {pk for pk in named if entries.by_id[pk].occurred_at > read_at}
        named |= entries.by_id.keys() & {stretch[-1].cause_id}
        since = max(since, read_at)
    found = [
        record
        for record in entries.records
        if record.pk in named
        or (record.occurred_at > since and _lets_air_in(record, stretch[-1].state, physics))
        or _wants_it_inert(record, stretch)
    ]
    return sorted(found, key=_is_wish)


def _is_wish(record: Record) -> bool:
    return record.kind == INERTING_WANTED.code


def _wants_it_inert(record: Record, stretch: Sequence[AtmosphereSpan]) -> bool:
    is_aerated = stretch[-1].state == AtmosphereSpan.State.AERATED
    return is_aerated and _is_wish(record) and record.occurred_at >= stretch[0].starts_at


def _wanted_by(causes: Sequence[Record]) -> date | None:
    """The day that the owner named last."""
    days = [record.details.get("wanted_by") for record in causes if _is_wish(record)]
    return date.fromisoformat(days[-1]) if days and days[-1] else None


def _lets_air_in(record: Record, state: str, physics: SystemFacts) -> bool:
    if not record.kind.startswith("event."):
        return False
    judged = breach(ledger_items([record])[0], physics)
    return judged.lets_air_in or (state == "in_doubt" and judged.air == "perhaps")


def _confirmations(
    entries: SystemRecords, physics: SystemFacts
) -> tuple[Cause | None, tuple[Due, ...]]:
    """The standing acceptance and the readings it still asks for."""
    listed = confirming_due(physics, ledger_items(entries.records))
    if not listed:
        return None, ()
    proven_at = listed[0].due_at - timedelta(days=listed[0].days)
    proof = _proof(entries, proven_at)
    asked = still_asked(listed, max(physics.policy.confirming_days, default=0))
    return (entries.cause(proof), asked) if proof else (None, ())


def _proof(entries: SystemRecords, proven_at: datetime) -> Record | None:
    at = [r for r in entries.records if r.occurred_at == proven_at and r.kind in READINGS]
    accepted = [record for record in at if record.kind == ACCEPTED.code]
    found = accepted or at
    return found[-1] if found else None
