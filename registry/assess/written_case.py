"""A system and its ledger written down in a file, judged without a database.

What the file leaves out is taken by a default, and the answer says which. `more` is the seam for
whatever else judges the same written case, such as a score. `case_files` writes such files.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from registry import atmosphere, protection
from registry.assess.books import Pipe
from registry.assess.cases import NAMES as MODEL_NAMES
from registry.atmosphere import LedgerItem, Policy, SystemFacts
from registry.corrosion.dimensions import dimensions_with_wall, pipe_dimensions
from registry.corrosion.gas import site_atmosphere
from registry.kinds import KINDS, DetailsError, check_details
from registry.models import PipeRun
from registry.models.systems import InstalledPrecision

SYSTEM_KINDS = ("wet", "dry", "preaction", "deluge", "antifreeze")
SYSTEM_DEFAULTS: dict[str, Any] = {
    "kind": "wet",
    "gas_supply": "unknown",
    "supply_n2_percent": None,
    "service_pressure_gauge_pa": None,
    "generator_flow_m3_s": None,
    "consequence_class": 3,
    "volume_m3": None,
    "installed_precision": "day",
    "leaks_known_since": None,
    "has_vent": False,
    "time_zone": "UTC",
    "altitude_m": 0.0,
    "water_temperature_k": 288.15,
    "dissolved_oxygen_mg_l": None,
}
"""What is taken where the file says nothing. None: not known."""

NUMBERS = {
    "supply_n2_percent": (79.05, 100.0),
    "service_pressure_gauge_pa": (0.0, 1e8),
    "generator_flow_m3_s": (0.0, 1e3),
    "volume_m3": (1e-6, 1e6),
    "altitude_m": (-430.0, 6000.0),
    "water_temperature_k": (273.15, 313.15),
    "dissolved_oxygen_mg_l": (0.0, 30.0),
}
"""The least and the most that a number of the system may be."""
PARTS = ("system", "as_of", "runs", "records", "assumptions", "incomplete")


class CaseError(ValueError):
    """What is wrong with the file, where, and what would be right."""


@dataclass(frozen=True)
class WrittenCase:
    """`ids`: what the file calls each of `pipes`; `incomplete`: what the register lacked."""

    facts: SystemFacts
    items: tuple[LedgerItem, ...]
    as_of: datetime
    system: Mapping[str, Any]
    installed: date
    pipes: tuple[Pipe, ...]
    ids: tuple[Any, ...]
    assumptions: Mapping[str, Any]
    defaults: Mapping[str, Any]
    leaks_known_since: date | None = None
    incomplete: str = ""


More = Callable[[WrittenCase], Mapping[str, Any]]


def read_case(written: Any, *, today: date) -> WrittenCase:
    if not isinstance(written, Mapping):
        raise CaseError("The file must hold one object with system, as_of, runs and records.")
    if unknown := written.keys() - set(PARTS):
        raise CaseError(f"{_listed(unknown)}: not known here; known are {_listed(PARTS)}.")
    defaults: dict[str, Any] = {}
    system = _with_defaults(written.get("system") or {}, defaults)
    as_of = _as_of(written.get("as_of"), today, defaults)
    records = written.get("records") or ()
    items = [_item(number, row, defaults) for number, row in enumerate(records, 1)]
    installed_at = _installed_at(system, items, as_of, defaults)
    runs = tuple(written.get("runs") or ())
    pipes = tuple(_pipe(place, run, installed_at, system) for place, run in enumerate(runs))
    if not runs:
        defaults["runs"] = "none: the volume is not known"
    facts = SystemFacts(
        kind=system["kind"],
        gas_supply=system["gas_supply"],
        supply_n2_percent=system["supply_n2_percent"],
        service_pressure_gauge_pa=system["service_pressure_gauge_pa"],
        generator_flow_m3_s=system["generator_flow_m3_s"],
        atmosphere_pa=float(site_atmosphere(system["altitude_m"])),
        volume_m3=system["volume_m3"] or sum(pipe.volume_m3 for pipe in pipes) or None,
        installed_at=installed_at,
        policy=_policy(written.get("assumptions") or {}, defaults),
    )
    return WrittenCase(
        facts=facts,
        items=tuple(item for item in items if _was_known(item, as_of)),
        as_of=as_of,
        system=system,
        installed=installed_at.astimezone(_zone(system)).date(),
        pipes=pipes,
        ids=tuple(run.get("id", place) for place, run in enumerate(runs)),
        assumptions={
            k: v for k, v in (written.get("assumptions") or {}).items() if k in MODEL_NAMES
        },
        defaults=defaults,
        leaks_known_since=_known_since(system),
        incomplete=str(written.get("incomplete") or ""),
    )


def _known_since(system: Mapping[str, Any]) -> date | None:
    day = system["leaks_known_since"]
    return None if day is None else instant("system.leaks_known_since", day).date()


def _was_known(item: LedgerItem, as_of: datetime) -> bool:
    recorded = item.recorded_at or item.occurred_at
    return item.occurred_at <= as_of and recorded <= as_of


def judged(case: WrittenCase, more: More | None = None) -> dict[str, Any]:
    """Atmosphere and protection at the instant of the case, each with state, since and reason."""
    return {
        **({"incomplete": case.incomplete} if case.incomplete else {}),
        "as_of": case.as_of.isoformat(),
        "atmosphere": _told(atmosphere.derive(case.facts, case.items, case.as_of)[-1]),
        "protection": _protected(protection.derive(case.facts.installed_at, case.items)[-1]),
        **(more(case) if more else {}),
        "defaults": dict(case.defaults),
    }


def _protected(span: protection.Span) -> dict[str, Any]:
    """With the questions of an outage that nobody has answered."""
    return _told(span) | ({"not_known": list(span.unanswered)} if span.unanswered else {})


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
    for name, (least, most) in NUMBERS.items():
        if given[name] is not None:
            given[name] = number(f"system.{name}", given[name], least, most)
    if given["consequence_class"] not in range(1, 6):
        raise CaseError(f"system.consequence_class: {given['consequence_class']!r} is not 1 to 5.")
    _zone(given)
    _precision("system", given)
    return given


def number(field: str, given: Any, least: float, most: float) -> float:
    is_one = isinstance(given, int | float) and not isinstance(given, bool)
    if not is_one or not least <= given <= most:
        raise CaseError(f"{field}: {given!r} is not a number from {least:g} to {most:g}.")
    return float(given)


def _zone(system: Mapping[str, Any]) -> ZoneInfo:
    try:
        return ZoneInfo(str(system["time_zone"]))
    except (ZoneInfoNotFoundError, ValueError):
        raise CaseError(
            f"system.time_zone: “{system['time_zone']}” is no zone of the IANA list; write for "
            "example Europe/London."
        ) from None


def _precision(where: str, given: Mapping[str, Any]) -> str:
    precision = given["installed_precision"]
    if precision not in InstalledPrecision.values:
        known = _listed(InstalledPrecision.values)
        raise CaseError(f"{where}.installed_precision: “{precision}” is not one of {known}.")
    return str(precision)


def _installed_at(
    system: Mapping[str, Any], items: list[LedgerItem], as_of: datetime, defaults: dict[str, Any]
) -> datetime:
    if "installed" in system:
        return instant("system.installed", system["installed"], _zone(system))
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


def instant(field: str, given: Any, zone: tzinfo = UTC) -> datetime:
    """A day begins at midnight in `zone`; an instant without a zone is UTC."""
    try:
        if "T" not in str(given):
            return datetime.combine(date.fromisoformat(str(given)), time.min, tzinfo=zone)
        when = datetime.fromisoformat(str(given))
    except ValueError:
        right = "write a day as 2026-01-31 or an instant as 2026-01-31T09:00Z"
        raise CaseError(f"{field}: “{given}” is no day and no instant; {right}.") from None
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def _item(number: int, row: Any, defaults: dict[str, Any]) -> LedgerItem:
    """A question that the file leaves out is answered with “not known”, and the answer says so.

    Without `recorded` a record was written down when it happened; without `number` the records are
    numbered as they stand in the file.
    """
    where = f"records[{number - 1}]"
    if not isinstance(row, Mapping) or not {"kind", "on"} <= row.keys():
        raise CaseError(f"{where}: needs kind and on, and may have details, recorded and number.")
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
    on = instant(f"{where}.on", row["on"])
    recorded = instant(f"{where}.recorded", row["recorded"]) if "recorded" in row else on
    sequence = row.get("number", number)
    if not isinstance(sequence, int):
        raise CaseError(f"{where}.number: {sequence!r} is not a whole number.")
    return LedgerItem(sequence, sequence, kind.code, on, details, recorded)


def _policy(given: Mapping[str, Any], defaults: dict[str, Any]) -> Policy:
    """The limits that the file sets; numbers of the corrosion model are left to the score."""
    names = {field.name for field in fields(Policy)}
    if unknown := given.keys() - names - MODEL_NAMES:
        raise CaseError(
            f"assumptions: {_listed(unknown)}: not known here; the assumptions page names those of "
            "the model, docs/cases.md the limits of the atmosphere."
        )
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


def _pipe(place: int, run: Any, installed_at: datetime, system: Mapping[str, Any]) -> Pipe:
    """A run as the register would hold it; put in with the system unless it says when."""
    where = f"runs[{place}]"
    if not isinstance(run, Mapping):
        raise CaseError(f"{where}: needs nominal_size, schedule and length_m.")
    given = {**RUN_DEFAULTS, **run}
    needed = {"nominal_size", "length_m"} | (set() if "wall_mm" in run else {"schedule"})
    if missing := needed - run.keys():
        raise CaseError(f"{where}: {_listed(missing)} missing.")
    if unknown := given.keys() - RUN_PARTS:
        raise CaseError(
            f"{where}: {_listed(unknown)}: not known here; known are {_listed(RUN_PARTS)}."
        )
    for name, choices in (
        ("role", PipeRun.Role),
        ("joint", PipeRun.Joint),
        ("material", PipeRun.Material),
    ):
        if given[name] not in choices.values:
            raise CaseError(
                f"{where}.{name}: “{given[name]}” is not one of {_listed(choices.values)}."
            )
    outside_mm, wall_mm = _size_mm(where, given)
    installed, precision = installed_at.astimezone(_zone(system)).date(), system
    if "installed" in run:
        installed, precision = instant(f"{where}.installed", run["installed"]).date(), given
    return Pipe(
        pk=-1 - place,  # no name that a file would give
        record_id=None,
        role=given["role"],
        material=given["material"],
        nominal_size=str(given["nominal_size"]),
        outside_diameter_mm=outside_mm,
        wall_mm=wall_mm,
        length_m=number(f"{where}.length_m", given["length_m"], 0.001, 1e6),
        joint=given["joint"],
        installed_on=installed,
        installed_precision=_precision(where, precision),
        uuid=run.get("id"),
    )


RUN_DEFAULTS: Mapping[str, Any] = {
    "role": "cross_main", "material": "black_steel", "joint": "unknown",
    "installed_precision": "day",
}  # fmt: skip
RUN_PARTS = frozenset(
    ("id", "nominal_size", "schedule", "length_m", "outside_diameter_mm", "wall_mm", "installed",
     *RUN_DEFAULTS)
)  # fmt: skip


def _size_mm(where: str, given: Mapping[str, Any]) -> tuple[float, float]:
    """Outside diameter and wall, of the tables where the file does not give them."""
    size, material = str(given["nominal_size"]), given["material"]
    try:
        if "wall_mm" not in given:
            pipe = pipe_dimensions(material=material, nps=size, schedule=str(given["schedule"]))
            return 1000 * pipe.outside_diameter_m, 1000 * pipe.wall_m
        wall_mm = number(f"{where}.wall_mm", given["wall_mm"], 0.01, 100.0)
        if "outside_diameter_mm" in given:
            at = f"{where}.outside_diameter_mm"
            return number(at, given["outside_diameter_mm"], 2.1 * wall_mm, 5000.0), wall_mm
        pipe = dimensions_with_wall(material=material, nps=size, wall=wall_mm / 1000)
        return 1000 * pipe.outside_diameter_m, wall_mm
    except CaseError:
        raise
    except (KeyError, TypeError, ValueError) as error:
        raise CaseError(f"{where}: {error}.") from None


def _listed(names: Any) -> str:
    return ", ".join(sorted(str(name) for name in names))
