"""The section of a pipe: schedule, series or given wall, and the diameters that follow."""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from django.utils.translation import gettext

from registry.corrosion.dimensions import schedules
from registry.imports.answers import word_key
from registry.imports.cells import UnknownWord, chosen_code, nearest
from registry.imports.problems import CellError
from registry.imports.sizes import Size
from registry.imports.text import fold, plain
from registry.imports.vocabulary import ASK, Ask, asks, european_pipe, words
from registry.models import PipeRun
from registry.services.ledger import RecordError
from registry.services.register.systems import pipe_wall

Material = PipeRun.Material
STEEL = (Material.BLACK_STEEL, Material.GALVANIZED_STEEL)
LONGEST_SCHEDULE = PipeRun._meta.get_field("schedule").max_length or 0
SCHEDULE = re.compile(r"(?:schedule|sched|sch|s)?[. ]*(?P<number>5|10|40|80)(?P<s>s?)", re.I)
USUAL = "usual"  # Schedule 40 in the sizes that are threaded, 10 above; common practice, no source
THREADED = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2")
LETTERS = {Material.COPPER: "KLM"}


WITHIN = re.compile(
    r"(?:.*?\d\s*[x×*]\s*|(?:.*\s)?)(?P<wall>\d{1,2}(?:[.,]\d+)?)\s*mm\.?"
    r"|\D*\d[\d.,]*\s*[x×*]\s*(?P<beside>\d{1,2}(?:[.,]\d+)?)"
)
RATIO = re.compile(r"sdr[\s-]*(?P<number>\d+(?:[.,]\d+)?)", re.I)


@lru_cache(maxsize=4096)
def wall_within(typed: str) -> float | None:
    """The wall that stands beside something else: “219.1 x 6.3”, “black steel 3.2 mm”, “2 mm”."""
    match = WITHIN.fullmatch(" ".join(plain(typed).split()))
    return float((match["wall"] or match["beside"]).replace(",", ".")) if match else None


def is_ratio(typed: str) -> bool:
    return bool(RATIO.fullmatch(plain(typed).strip()))


def read_schedule(
    typed: str,
    material: str,
    *,
    nominal: str = "",
    chosen: Mapping[str, str] | None = None,
    languages: frozenset[str] = frozenset(),
) -> str:
    """In the spelling of the tables; what no table has stays as typed, for a wall that is given."""
    text = " ".join(plain(typed).split())
    if answer := (chosen or {}).get(word_key("schedule", text)):
        text = chosen_code("schedule", answer, text)
    if text.casefold() == USUAL:
        text = "40" if nominal in THREADED else "10"
    if text in european_pipe():
        return _of_steel(text, material)
    if match := SCHEDULE.fullmatch(text):
        return match["number"] + ("S" if material == Material.STAINLESS_STEEL else "")
    if len(text) > LONGEST_SCHEDULE:
        raise CellError(
            (gettext("no schedule has %(count)s characters") % {"count": len(text)}),
            gettext("Write it like 40, or nothing where the wall is given."),
        )
    return _by_word(text, material, languages, chosen or {}) if text else ""


def _by_word(text: str, material: str, languages: frozenset[str], chosen: Mapping[str, str]) -> str:
    meaning = words("schedule").get(fold(text))
    codes = meaning.in_languages(languages) if meaning else set()
    if material == Material.COPPER and (own := codes & {"K", "L", "M"}):
        return own.pop()
    codes -= {"K", "L", "M"}
    if len(codes) != 1:
        return text.lower() if material in STEEL else text
    code = codes.pop()
    if answer := chosen.get(f"schedule:{code}"):
        return read_schedule(chosen_code("schedule", answer, text), material)
    if code.startswith(ASK):
        ask = asks("schedule").get(code, Ask("", (), ""))
        why = ask.why[:1].lower() + ask.why[1:].rstrip(".") or gettext(
            "it is not in the book's tables"
        )
        right = gettext("Write the schedule, or give the wall thickness.")
        raise UnknownWord(why, right, ask, code)
    return _of_steel(code, material) if code in european_pipe() else code


def _of_steel(series: str, material: str) -> str:
    if material not in STEEL:
        raise CellError(
            (gettext("%(series)s is steel pipe, and the material is another") % {"series": series}),
            gettext("Check the material, or give the wall thickness."),
        )
    return series


@lru_cache(maxsize=4096)
def section(material: str, size: Size, schedule: str, wall_mm: float | None) -> dict[str, Any]:
    """Diameters and wall; RecordError or CellError when no pipe is made like this."""
    wall_mm = wall_mm or size.wall_mm
    series = european_pipe().get(schedule)
    if series is not None:
        made = series.get(size.nominal)
        if made is None and not wall_mm:
            raise CellError(
                (gettext("%(schedule)s is not made in this size") % {"schedule": schedule}),
                gettext("Check size and series, or give the wall."),
            )
        if made:
            diameter = size.outside_diameter_mm or made.outside_diameter_mm
            return _given(schedule, size.nominal, diameter, wall_mm or made.wall_mm)
    wall = pipe_wall(
        material=material, nominal_size=size.nominal, schedule=schedule, wall_mm=wall_mm
    )
    if wall_mm and size.outside_diameter_mm:
        return _given(schedule, size.nominal, size.outside_diameter_mm, wall_mm)
    return {"schedule": schedule, **wall}


def _given(schedule: str, nominal: str, diameter_mm: float, wall_mm: float) -> dict[str, Any]:
    if 2 * wall_mm >= diameter_mm:
        raise RecordError(
            {
                "wall_mm": (
                    gettext("it must be below half of the diameter, %(diameter_mm)s mm")
                    % {"diameter_mm": f"{diameter_mm:g}"}
                )
            }
        )
    return {
        "schedule": schedule,
        "nominal_size": nominal,
        "outside_diameter_mm": round(diameter_mm, 4),
        "wall_mm": round(wall_mm, 4),
        "wall_basis": "given",
    }


def no_wall(
    material: str, schedule: str, has_wall: bool, error: RecordError
) -> tuple[str, CellError]:
    """Which column is at fault when no wall comes out, and what would be right."""
    label = Material(material).label
    made = ", ".join(schedules(material))
    if has_wall:
        return "wall", CellError(str(error), gettext("Check the wall and the nominal size."))
    if not schedule:
        wrong = gettext("nothing says how thick the pipe is")
        right = gettext("Write a schedule (%(made)s), or the wall thickness.") % {"made": made}
        return "schedule", CellError(wrong, right, "blank:schedule")
    if schedule in schedules(material):
        wrong = gettext("%(label)s schedule %(schedule)s is not made in this size") % {
            "label": label,
            "schedule": schedule,
        }
        return "nominal_size", CellError(
            wrong, gettext("Check size and schedule, or give the wall thickness.")
        )
    near = nearest("schedule", schedule)
    wrong = gettext("%(label)s is not listed in this schedule") % {"label": label}
    right = gettext("Write one of %(made)s, or give the wall thickness.") % {"made": made}
    return "schedule", UnknownWord(wrong, right, Ask("", (near,), near) if near else None)
