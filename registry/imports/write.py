"""Good rows -> systems, pipe runs and records, in bulk, just as the services write single ones."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from registry.imports.dates import read_date
from registry.imports.judge import Fate, Verdict
from registry.imports.known import Key, KnownRegister, KnownSystem
from registry.imports.parsed import ParsedRow
from registry.imports.survey import Survey
from registry.kinds.events import OBSERVATION
from registry.kinds.facts import PIPE_ENTERED, SYSTEM_ENTERED
from registry.models import Building, Organisation, PipeRun, Record, Site, System, User
from registry.services import add_site
from registry.services.assessments import follow_ledger
from registry.services.derive import rederive_many
from registry.services.ledger import chain
from registry.services.owner_ledger import note_changes
from registry.services.register.systems import PIPE_FACTS, SYSTEM_FACTS, facts_of
from registry.signals import record_added, register_load_ended, register_loaded

OF_THE_REGISTER = (SYSTEM_ENTERED.code, PIPE_ENTERED.code)  # told of by the chunk
INSTALLED = "installed"  # leaks would have been known since each system was installed


class Writer:
    """Writes chunks, each in a transaction of the caller's that holds the systems it knows."""

    def __init__(
        self,
        *,
        survey: Survey,
        known: KnownRegister,
        owner: Organisation,
        recorded_by: User,
        now: datetime,
        source: str,
    ):
        self.survey, self.known, self.owner = survey, known, owner
        self.recorded_by, self.now, self.source = recorded_by, now, source
        self.sites = {site.name.casefold(): site for site in Site.objects.filter(owner=owner)}
        self.buildings = {
            (building.site_id, building.name.casefold()): building
            for building in Building.objects.filter(site__owner=owner)
        }

    def write(self, verdicts: list[Verdict], systems: dict[Key, KnownSystem]) -> None:
        good = [(v.fate, v.parsed) for v in verdicts if v.parsed and v.fate != Fate.TO_FIX]
        rows = [row for fate, row in good if fate == Fate.NEW]
        remarks = [row for _, row in good if row.remark]
        books = {key: known.system for key, known in systems.items()}
        made = self._new_systems(rows, books)
        records = [self._record(one, SYSTEM_ENTERED.code, _facts(one)) for one in made.values()]
        runs = [self._run(row, books[row.key]) for row in rows]
        records += [run.record for run in runs if run.record]
        records += self._observations(remarks, books)
        # Chained in memory first, so that a new system is written once, with its head.
        System.objects.bulk_create(made.values())
        self.known.pk_by_key |= {key: system.pk for key, system in made.items()}
        Record.objects.bulk_create(records)
        PipeRun.objects.bulk_create(runs)
        self._finish(records, {system.pk for system in made.values()})

    def end(self, sites: Iterable[str]) -> None:
        """All chunks are in: what a person said of the sites of the file follows."""
        there = [self.sites[key] for key in sites if key in self.sites]
        register_load_ended.send(
            sender=Site, sites=there, edition=self.survey.answers.adopted_edition,
            by=self.recorded_by, now=self.now,
        )  # fmt: skip

    def _new_systems(self, rows: list[ParsedRow], books: dict[Key, System]) -> dict[Key, System]:
        """Not written yet; `books` knows them from here on."""
        first_rows = {row.key: row for row in reversed(rows) if row.key not in books}
        made = {key: self._system(row) for key, row in sorted(first_rows.items())}
        books |= made
        return made

    def _system(self, row: ParsedRow) -> System:
        plan = self.survey.plans[row.key]
        site = self._site(row.site)
        building = self._building(site, plan.building) if plan.building else None
        since = self._leaks_known_since(plan.facts["installed_on"])
        return System(site=site, building=building, leaks_known_since=since, **plan.facts)

    def _leaks_known_since(self, installed_on: date) -> date | None:
        """As answered for the file; nothing is assumed where nobody answered."""
        answer = self.survey.answers.leaks_known_since
        if not answer:
            return None
        if answer == INSTALLED:
            return installed_on
        return max(read_date(answer, today=self.now.date()).on, installed_on)

    def _site(self, name: str) -> Site:
        site = self.sites.get(name.casefold())
        if site is None:
            site = self.sites[name.casefold()] = add_site(
                owner=self.owner, name=name, time_zone=self.owner.usual_time_zone
            )
        return site

    def _building(self, site: Site, name: str) -> Building:
        key = (site.pk, name.casefold())
        if key not in self.buildings:
            self.buildings[key] = Building.objects.create(site=site, name=name)
        return self.buildings[key]

    def _run(self, row: ParsedRow, system: System) -> PipeRun:
        values = {name: getattr(row.run, name) for name in row.run.__dataclass_fields__}
        run = PipeRun(system=system, **values)
        run.record = self._record(system, PIPE_ENTERED.code, facts_of(run, PIPE_FACTS))
        return run

    def _observations(self, rows: list[ParsedRow], books: dict[Key, System]) -> list[Record]:
        """A remark once per system: kept as seen, with no event made out of it."""
        wanted: dict[UUID, ParsedRow] = {}
        for row in rows:
            wanted.setdefault(_remark_key(books[row.key], row.remark), row)
        there = set(
            Record.objects.filter(client_key__in=wanted).values_list("client_key", flat=True)
        )
        return [
            self._record(
                books[row.key],
                OBSERVATION.code,
                {"text": row.remark},
                client_key=key,
                note=f"Remark in {self.source}, row {row.name}. When it happened is not known; "
                "if it was an event, enter it with its date.",
            )
            for key, row in wanted.items()
            if key not in there
        ]

    def _record(self, system: System, kind: str, details: dict[str, Any], **more: Any) -> Record:
        return chain(
            system=system,
            now=self.now,
            kind=kind,
            occurred_at=self.now,
            recorded_by=self.recorded_by,
            details=details,
            **more,
        )

    def _finish(self, records: list[Record], new: set[int]) -> None:
        systems = {record.system.pk: record.system for record in records}
        grown = [system for pk, system in systems.items() if pk not in new]
        System.objects.bulk_update(grown, ["next_sequence", "head_hash"], batch_size=200)
        note_changes(self.owner, by=self.recorded_by, now=self.now)
        entered: dict[int, list[Record]] = {pk: [] for pk in new}
        for record in records:
            if record.system_id in new:
                entered[record.system_id].append(record)
        derived = rederive_many(list(systems.values()), now=self.now, entered=entered)
        ledgers = {one.system.pk: one for one in derived}
        follow_ledger(list(ledgers.values()), self.now)
        register_loaded.send(sender=System, systems=list(systems.values()), now=self.now)
        for record in records:
            if record.kind not in OF_THE_REGISTER:
                record_added.send(
                    sender=Record, record=record, now=self.now, ledger=ledgers[record.system_id]
                )


def _facts(system: System) -> dict[str, Any]:
    return facts_of(system, SYSTEM_FACTS) | {
        "site": system.site.name,
        "building": system.building.name if system.building else None,
    }


def _remark_key(system: System, remark: str) -> UUID:
    return uuid5(system.uuid, f"imported remark: {remark}")
