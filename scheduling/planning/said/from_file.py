"""Depots, crews, lengths of work, and where sites lie, from one CSV file; each row by itself.

What a row is about is said by its columns `site` (and `building`), `depot`, `crew` or `work`.
"""

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from io import StringIO
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext

from registry.models import Organisation, Site, User
from registry.quantities.numerals import NumberError, TwoReadingsError, read_number, tidy
from scheduling.models import Crew, Depot, Place, WorkTime
from scheduling.planning.said.assumed import KINDS, USUAL
from scheduling.planning.said.degrees import PlaceError, parse_place
from scheduling.planning.said.hours import (
    HoursError,
    hours_text,
    parse_days_away,
    parse_hours,
    parse_skills,
)
from scheduling.rules import works

MOST_ROWS = 5000
COLUMNS = (
    "site", "building", "depot", "crew", "work", "latitude", "longitude", "access hours", "hours",
    "overtime", "skills", "cylinder places", "full cylinders", "minutes", "minutes per m3",
    "out of service", "days away",
)  # fmt: skip
Row = Mapping[str, str]


@dataclass
class Loaded:
    """How many rows were taken, and a sentence for each that was not."""

    taken: int = 0
    problems: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)  # headings


class RowError(ValueError):
    """What is wrong with a row, and what would be right."""


def load(
    text: str, *, organisation: Organisation, by: User, now: datetime, sites: QuerySet[Site]
) -> Loaded:
    """`sites`: those that the person may write at."""
    sample = text[:2000]
    delimiter = ";" if sample.count(";") > sample.count(",") else ","
    reader = csv.DictReader(StringIO(text, newline=""), delimiter=delimiter)
    names = {name: _heading(name) for name in reader.fieldnames or []}
    loaded = Loaded(unknown=[name for name, known in names.items() if known not in COLUMNS])
    writer = _Writer(organisation, by, now, sites)
    for number, raw in enumerate(reader, start=2):
        if number > MOST_ROWS + 1:
            loaded.problems.append(
                gettext("Row {row} and later: at most {most} rows at once.").format(
                    row=number, most=MOST_ROWS
                )
            )
            break
        row = {names[k]: (v or "").strip() for k, v in raw.items() if k in names}
        if not any(row.values()):
            continue
        try:
            with transaction.atomic():
                writer.write(row)
        except (RowError, HoursError, PlaceError) as error:
            loaded.problems.append(
                gettext("Row {row}: {problem}").format(row=number, problem=error)
            )
        except ValidationError as error:
            problem = " ".join(error.messages)
            loaded.problems.append(
                gettext("Row {row}: {problem}").format(row=number, problem=problem)
            )
        else:
            loaded.taken += 1
    return loaded


def _heading(name: str) -> str:
    return " ".join((name or "").replace("\ufeff", "").replace("_", " ").lower().split())


class _Writer:
    def __init__(
        self, organisation: Organisation, by: User, now: datetime, sites: QuerySet[Site]
    ) -> None:
        self.organisation, self.by, self.now, self.sites = organisation, by, now, sites

    def write(self, row: Row) -> None:
        kinds: tuple[tuple[str, Callable[[Row], None]], ...] = (
            ("site", self._site), ("crew", self._crew), ("depot", self._depot),
            ("work", self._work),
        )  # fmt: skip
        for name, write in kinds:
            if row.get(name):
                return write(row)
        raise RowError(gettext("it names no site, crew, depot or work; fill one of these columns."))

    def _site(self, row: Row) -> None:
        found = list(self.sites.filter(name__iexact=row["site"])[:2])
        if len(found) != 1:
            raise RowError(
                gettext("there is no one site “{name}” that you may write at.").format(
                    name=row["site"]
                )
            )
        building = None
        if row.get("building"):
            building = found[0].buildings.filter(name__iexact=row["building"]).first()
            if building is None:
                raise RowError(
                    gettext("{site} has no building “{name}”.").format(
                        site=found[0], name=row["building"]
                    )
                )
        changes: dict[str, Any] = {"changed_by": self.by, "changed_at": self.now}
        if where := _where(row):
            changes |= {"latitude": where[0], "longitude": where[1]}
        if row.get("access hours"):
            changes["hours"] = hours_text(parse_hours(row["access hours"]))
        Place.objects.update_or_create(site=found[0], building=building, defaults=changes)

    def _depot(self, row: Row) -> None:
        depot = self._named(Depot, row["depot"])
        if where := _where(row):
            depot.latitude, depot.longitude = where
        if row.get("full cylinders"):
            depot.full_cylinders = _whole(row, "full cylinders")
            depot.counted_on = self.now.date()
        _save(depot)

    def _crew(self, row: Row) -> None:
        crew = self._named(Crew, row["crew"])
        if row.get("depot"):
            crew.depot = self.organisation.depots.filter(name__iexact=row["depot"]).first()
            if crew.depot is None:
                raise RowError(gettext("there is no depot “{name}”.").format(name=row["depot"]))
        if row.get("hours"):
            crew.hours = hours_text(parse_hours(row["hours"]))
        if row.get("skills"):
            crew.skills = ", ".join(sorted(parse_skills(row["skills"])))
        if row.get("overtime"):
            crew.overtime_minutes = _whole(row, "overtime")
        if row.get("cylinder places"):
            crew.cylinder_places = _whole(row, "cylinder places")
        if row.get("days away"):
            parse_days_away(row["days away"])
            crew.absences = row["days away"]
        _save(crew)

    def _work(self, row: Row) -> None:
        asked = row["work"].lower()
        kind = next(
            (code for code, work in works().items() if asked in (code, str(work.label).lower())),
            None,
        )
        if kind is None:
            labels = ", ".join(str(work.label) for work in works().values())
            raise RowError(
                gettext("“{name}” is no work of the book; write one of: {labels}.").format(
                    name=row["work"], labels=labels
                )
            )
        usual = KINDS.get(kind, USUAL)
        time = WorkTime.objects.filter(organisation=self.organisation, kind=kind).first()
        time = time or WorkTime(
            organisation=self.organisation, kind=kind, minutes=usual.minutes,
            minutes_per_m3=usual.minutes_per_m3, impairs=usual.impairs,
        )  # fmt: skip
        if row.get("minutes"):
            time.minutes = _whole(row, "minutes")
        if row.get("minutes per m3"):
            time.minutes_per_m3 = _number(row, "minutes per m3")
        if row.get("skills"):
            time.skills = ", ".join(sorted(parse_skills(row["skills"])))
        if row.get("out of service"):
            time.impairs = _yes(row, "out of service")
        _save(time)

    def _named(self, model: Any, name: str) -> Any:
        rows = model.objects.filter(organisation=self.organisation)
        return rows.filter(name__iexact=name).first() or model(
            organisation=self.organisation, name=name
        )


def _save(row: Any) -> None:
    row.full_clean()
    row.save()


def _where(row: Row) -> tuple[float, float] | None:
    latitude, longitude = row.get("latitude", ""), row.get("longitude", "")
    if bool(latitude) != bool(longitude):
        raise RowError(gettext("latitude and longitude belong together; fill both or none."))
    return parse_place(f"{latitude} {longitude}") if latitude else None


def _whole(row: Row, name: str) -> int:
    if not row[name].isdecimal():
        raise RowError(
            gettext("{name} must be a whole number, not “{text}”.").format(
                name=name, text=row[name]
            )
        )
    return int(row[name])


def _number(row: Row, name: str) -> float:
    try:
        return read_number(tidy(row[name]))
    except TwoReadingsError as error:
        raise RowError(f"{name} “{row[name]}”: {error}. {error.right}") from None
    except NumberError:
        raise RowError(
            gettext("{name} must be a number, not “{text}”.").format(name=name, text=row[name])
        ) from None


def _yes(row: Row, name: str) -> bool:
    said = row[name].lower()
    if said not in ("yes", "no"):
        raise RowError(
            gettext("{name} must be yes or no, not “{text}”.").format(name=name, text=row[name])
        )
    return said == "yes"
