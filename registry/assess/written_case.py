"""A system and its ledger written down in a file, judged without a database.

What the file leaves out is taken by a default, and the answer says which. `more` is the seam for
whatever else judges the same written case, such as a score.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from registry import atmosphere, protection
from registry.atmosphere import LedgerItem, Policy, SystemFacts
from registry.corrosion.dimensions import dimensions_with_wall, pipe_dimensions
from registry.kinds import KINDS, DetailsError, check_details

SYSTEM_KINDS = ("wet", "dry", "preaction", "deluge", "antifreeze")
SYSTEM_DEFAULTS: dict[str, Any] = {
    "kind": "wet",
    "gas_supply": "unknown",
    "supply_n2_percent": None,
    "service_pressure_gauge_pa": None,
}
PARTS = ("system", "as_of", "runs", "records", "assumptions")


class CaseError(ValueError):
    """What is wrong with the file, where, and what would be right."""


@dataclass(frozen=True)
class WrittenCase:
    facts: SystemFacts
    items: tuple[LedgerItem, ...]
    as_of: datetime
    runs: tuple[Mapping[str, Any], ...]
    assumptions: Mapping[str, Any]
    defaults: Mapping[str, Any]


More = Callable[[WrittenCase], Mapping[str, Any]]


def read_case(written: Any, *, today: date) -> WrittenCase:
    if not isinstance(written, Mapping):
        raise CaseError("The file must hold one object with system, as_of, runs and records.")
    if unknown := written.keys() - set(PARTS):
        raise CaseError(f"{_listed(unknown)}: not known here; known are {_listed(PARTS)}.")
    defaults: dict[str, Any] = {}
    system = _with_defaults(written.get("system") or {}, defaults)
    as_of = _as_of(written.get("as_of"), today, defaults)
    runs = tuple(written.get("runs") or ())
    volume_m3 = _volume_m3(runs, defaults)
    records = written.get("records") or ()
    items = [_item(number, row, defaults) for number, row in enumerate(records, 1)]
    policy = _policy(written.get("assumptions") or {}, defaults)
    facts = SystemFacts(
        kind=system["kind"],
        gas_supply=system["gas_supply"],
        supply_n2_percent=system["supply_n2_percent"],
        service_pressure_gauge_pa=system["service_pressure_gauge_pa"],
        volume_m3=volume_m3,
        installed_at=_installed_at(system, items, as_of, defaults),
        policy=policy,
    )
    known = tuple(item for item in items if item.occurred_at <= as_of)
    return WrittenCase(facts, known, as_of, runs, written.get("assumptions") or {}, defaults)


def judged(case: WrittenCase, more: More | None = None) -> dict[str, Any]:
    """Atmosphere and protection at the instant of the case, each with state, since and reason."""
    return {
        "as_of": case.as_of.isoformat(),
        "atmosphere": _told(atmosphere.derive(case.facts, case.items, case.as_of)[-1]),
        "protection": _told(protection.derive(case.facts.installed_at, case.items)[-1]),
        **(more(case) if more else {}),
        "defaults": dict(case.defaults),
    }


def _told(span: atmosphere.Span | protection.Span) -> dict[str, str]:
    since = span.state_since.isoformat()
    return {"state": span.state, "since": since, "reason": span.reason}


def _with_defaults(system: Mapping[str, Any], defaults: dict[str, Any]) -> dict[str, Any]:
    if unknown := system.keys() - {*SYSTEM_DEFAULTS, "installed"}:
        known = _listed((*SYSTEM_DEFAULTS, "installed"))
        raise CaseError(f"system: {_listed(unknown)}: not known here; known are {known}.")
    taken = {name: value for name, value in SYSTEM_DEFAULTS.items() if name not in system}
    defaults |= {f"system.{name}": value for name, value in taken.items()}
    given = taken | dict(system)
    if given["kind"] not in SYSTEM_KINDS:
        raise CaseError(f"system.kind: “{given['kind']}” is not one of {_listed(SYSTEM_KINDS)}.")
    return given


def _installed_at(
    system: Mapping[str, Any], items: list[LedgerItem], as_of: datetime, defaults: dict[str, Any]
) -> datetime:
    if "installed" in system:
        return instant("system.installed", system["installed"])
    first = min((item.occurred_at for item in items), default=as_of)
    defaults["system.installed"] = first.isoformat()
    return first


def _as_of(given: Any, today: date, defaults: dict[str, Any]) -> datetime:
    """A day is meant to its end."""
    if given is None:
        defaults["as_of"] = today.isoformat()
        given = today.isoformat()
    when = instant("as_of", given)
    return when + timedelta(days=1, microseconds=-1) if "T" not in str(given) else when


def instant(field: str, given: Any) -> datetime:
    """A day begins at midnight; without a zone it is UTC."""
    try:
        if "T" not in str(given):
            return datetime.combine(date.fromisoformat(str(given)), time.min, tzinfo=UTC)
        when = datetime.fromisoformat(str(given))
    except ValueError:
        right = "write a day as 2026-01-31 or an instant as 2026-01-31T09:00Z"
        raise CaseError(f"{field}: “{given}” is no day and no instant; {right}.") from None
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def _item(number: int, row: Any, defaults: dict[str, Any]) -> LedgerItem:
    """A question that the file leaves out is answered with “not known”, and the answer says so."""
    where = f"records[{number - 1}]"
    if not isinstance(row, Mapping) or not {"kind", "on"} <= row.keys():
        raise CaseError(f"{where}: needs kind and on, and may have details.")
    kind = KINDS.get(row["kind"])
    if kind is None:
        raise CaseError(f"{where}.kind: “{row['kind']}” is not a kind of record.")
    try:
        given = dict(row.get("details") or {})
        free = tuple(replace(field, is_required=False) for field in kind.fields)
        details = check_details(replace(kind, fields=free), given)
    except DetailsError as error:
        raise CaseError(f"{where}.details: {error}") from None
    for field in kind.fields:
        if field.is_required and field.name not in details and "unknown" in dict(field.choices):
            details[field.name] = defaults[f"{where}.details.{field.name}"] = "unknown"
    return LedgerItem(number, number, kind.code, instant(f"{where}.on", row["on"]), details)


def _policy(given: Mapping[str, Any], defaults: dict[str, Any]) -> Policy:
    """The limits that the file sets; those of another model are left to whoever reads them."""
    names = {field.name for field in fields(Policy)}
    ours: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in given.items()
        if name in names
    }
    try:
        policy = replace(Policy(), **ours)
    except (TypeError, ValueError) as error:
        raise CaseError(f"assumptions: {error}.") from None
    left = {name: value for name, value in asdict(policy).items() if name not in ours}
    defaults |= {f"assumptions.{name}": _plain(value) for name, value in left.items()}
    return policy


def _plain(value: Any) -> Any:
    return value.total_seconds() if isinstance(value, timedelta) else value


def _volume_m3(runs: tuple[Mapping[str, Any], ...], defaults: dict[str, Any]) -> float | None:
    if not runs:
        defaults["runs"] = "none: the volume is not known"
        return None
    return sum(_run_m3(f"runs[{place}]", run) for place, run in enumerate(runs))


def _run_m3(where: str, run: Mapping[str, Any]) -> float:
    if missing := {"nominal_size", "schedule", "length_m"} - run.keys():
        raise CaseError(f"{where}: {_listed(missing)} missing.")
    try:
        material, schedule = run.get("material", "black_steel"), str(run["schedule"])
        size = str(run["nominal_size"])
        if "wall_mm" in run:
            wall = float(run["wall_mm"]) / 1000
            pipe = dimensions_with_wall(material=material, nps=size, wall=wall)
        else:
            pipe = pipe_dimensions(material=material, nps=size, schedule=schedule)
        return float(pipe.volume_per_length_m2) * float(run["length_m"])
    except (KeyError, TypeError, ValueError) as error:
        raise CaseError(f"{where}: {error}.") from None


def _listed(names: Any) -> str:
    return ", ".join(sorted(names))
