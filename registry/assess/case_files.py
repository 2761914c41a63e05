"""A system as a file that anybody can judge again, and the score of such a file.

The file holds what the derivations read and little else: no names of people or sites, no tags, no
notes.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from registry.assess.books import Book, Pipe, read_books
from registry.assess.cases import case_of
from registry.assess.clock import day_of, end_of
from registry.assess.details import Detail
from registry.assess.results import Assessed, assess_cases
from registry.assess.said import said
from registry.assess.written_case import WrittenCase
from registry.atmosphere import LedgerItem
from registry.kinds import KINDS
from registry.kinds.facts import ASSUMPTION_CHANGED
from registry.kinds.parts import QUESTIONED
from registry.models import Assessment, Organisation, Site, System

LIMITS = ("target_n2_percent", "confirming_days", "repeat_days")
"""What an owner may set of the limits of the atmosphere."""

SAID = (
    "model_version", "basis", "score", "band", "leak_in_1_yr", "leak_in_5_yr", "leak_in_10_yr",
    "life_low_yr", "life_mid_yr", "life_high_yr", "reasons",
)  # fmt: skip


def case_file(book: Book) -> dict[str, Any]:
    """What `written_case.read_case` reads, of a system as the register knew it."""
    system, site, policy = book.system, book.system.site, book.facts.policy
    return {
        "system": {
            "kind": system.kind,
            "installed": system.installed_on.isoformat(),
            "installed_precision": system.installed_precision,
            "gas_supply": system.gas_supply,
            "supply_n2_percent": system.supply_n2_percent,
            "service_pressure_gauge_pa": system.service_pressure_gauge_pa,
            "generator_flow_m3_s": system.generator_flow_m3_s,
            "consequence_class": system.consequence_class,
            "volume_m3": system.volume_override_m3,
            "leaks_known_since": _day(system.leaks_known_since),
            "has_vent": book.has_vent,
            "time_zone": site.time_zone,
            "altitude_m": site.altitude_m,
            "water_temperature_k": site.water_temperature_k,
            "dissolved_oxygen_mg_l": site.measured_dissolved_oxygen_mg_l,
        },
        "as_of": book.known_at.isoformat(),
        "runs": [_run(run) for run in book.runs],
        "records": [_record(row, book.runs) for row in book.records if row.kind in KINDS],
        "assumptions": {name: _plain(getattr(policy, name)) for name in LIMITS},
        **({"incomplete": words} if (words := str(system.incomplete_words)) else {}),
    }


def case_file_of(system: System, today: Any) -> dict[str, Any]:
    """Of the day of its latest assessment, so that page and file agree; of today without any."""
    stored = Assessment.objects.latest().filter(system=system).first()
    day = stored.as_of if stored else day_of(today)
    return case_file(read_books([system.pk], end_of(day))[0])


def _run(run: Pipe) -> dict[str, Any]:
    return {
        "id": str(run.uuid),
        "role": run.role,
        "material": run.material,
        "nominal_size": run.nominal_size,
        "outside_diameter_mm": run.outside_diameter_mm,
        "wall_mm": run.wall_mm,
        "length_m": run.length_m,
        "joint": run.joint,
        "installed": run.installed_on.isoformat(),
        "installed_precision": run.installed_precision,
    }


def _record(row: LedgerItem, runs: Any) -> dict[str, Any]:
    recorded = row.recorded_at or row.occurred_at
    return {
        "number": row.sequence,
        "kind": row.kind,
        "on": row.occurred_at.isoformat(),
        "recorded": recorded.isoformat(),
        "details": _details(row, runs),
    }


READ_TEXT = frozenset(
    ("areas", "bacteria", "ends", "impairments", "item", "key", "left_as", "nominal_size", "part",
     "position", "reason", "unit", "valve", "verdict")
)  # fmt: skip
"""Free text that a derivation reads."""

READ_FACTS = frozenset(("gas_supply", "supply_n2_percent", "leaks_known_since"))
"""Of a record of register facts."""


def _details(row: LedgerItem, runs: Any) -> dict[str, Any]:
    """A run that was named by a key of the database is named as the file names it."""
    kind = KINDS[row.kind]
    if kind.group == "register" and not kind.fields:
        return {name: row.details[name] for name in READ_FACTS & row.details.keys()}
    unread = {field.name for field in kind.fields if field.type == "text"} - READ_TEXT
    given = {name: said for name, said in row.details.items() if name not in unread}
    given.pop(QUESTIONED.name, None)
    named = given.get("run")
    for run in runs:
        if named is not None and str(named) in (str(run.pk), str(run.record_id)):
            given["run"] = str(run.uuid)
    return given


def _day(day: Any) -> str | None:
    return day.isoformat() if day else None


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def book_of(case: WrittenCase) -> Book:
    """The written case as the rows of a book that is in no database."""
    given = case.system
    site = Site(
        owner=Organisation(name=""),
        time_zone=given["time_zone"],
        altitude_m=given["altitude_m"],
        water_temperature_k=given["water_temperature_k"],
        measured_dissolved_oxygen_mg_l=given["dissolved_oxygen_mg_l"],
    )
    system = System(
        site=site,
        tag="",
        kind=given["kind"],
        service_pressure_gauge_pa=given["service_pressure_gauge_pa"],
        installed_on=case.installed,
        installed_precision=given["installed_precision"],
        gas_supply=given["gas_supply"],
        supply_n2_percent=given["supply_n2_percent"],
        generator_flow_m3_s=given["generator_flow_m3_s"],
        consequence_class=given["consequence_class"],
        volume_override_m3=given["volume_m3"],
        leaks_known_since=case.leaks_known_since,
    )
    in_order = sorted(case.items, key=lambda row: (row.occurred_at, row.sequence))
    return Book(
        system=system,
        known_at=case.as_of,
        facts=case.facts,
        records=[*in_order, *_set(case, in_order)],
        runs=case.pipes,
        has_vent=bool(given["has_vent"]),
    )


def _set(case: WrittenCase, records: list[LedgerItem]) -> Iterator[LedgerItem]:
    """Assumptions of the model that the file sets, as the records that a register would hold."""
    last = max((row.sequence for row in records), default=0)
    for number, (key, value) in enumerate(case.assumptions.items(), last + 1):
        details = {"key": key, "value": value}
        yield LedgerItem(number, number, ASSUMPTION_CHANGED.code, case.as_of, details, case.as_of)


def scored(case: WrittenCase) -> dict[str, Any]:
    """What the corrosion model says of a written case; nothing where it has no pipe."""
    found = assessed_case(case)
    if found is None:
        return {"score": None, "why_no_score": "There is no pipe in the file, or none is put in."}
    values = found.values
    return {
        "score": None,
        "reasons": [],
        **{name: values[name] for name in SAID if name in values},
        "leak_in_5_yr_by": values["evidence"]["leak_in_5_yr_by"],
        "leaks_known_from": values["evidence"]["leaks_known_from"],
        "contradicted": values["evidence"]["contradicted"],
        "runs": [_run_said(case, row) for row in values["runs"]],
        **_of_runs(case, said(Detail(found.case)) if values["runs"] else {}),
    }


def _of_runs(case: WrittenCase, told: Mapping[str, Any]) -> dict[str, Any]:
    """The same with runs as the file calls them."""

    def named(row: Mapping[str, Any]) -> dict[str, Any]:
        return {**row, "run": None if row["run"] is None else case.ids[row["run"]]}

    return {
        name: [named(row) for row in part] if isinstance(part, list) else named(part)
        for name, part in told.items()
    }


def assessed_case(case: WrittenCase) -> Assessed | None:
    read = case_of(book_of(case))
    return None if read is None else assess_cases([read])[0]


def _run_said(case: WrittenCase, row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "run": case.ids[-1 - row["run"]],
        "wall_left_mm": row["left_um"] / 1000,
        "source": row["left_source"],
        "lost_um": {name: row[f"{name}_um"] for name in ("low", "mid", "high")},
    }
