"""Single cells: the words of the trade and their abbreviations, and which of them are open."""

import re
from functools import lru_cache
from typing import Any

from registry.imports.problems import CellError
from registry.models import PipeRun, System

Kind, Hazard, Supply = System.Kind, System.Hazard, System.GasSupply
Role, Material, Joint = PipeRun.Role, PipeRun.Material, PipeRun.Joint

KINDS = {
    Kind.WET: ("wet", "wet pipe", "wet system", "wp"),
    Kind.DRY: ("dry", "dry pipe", "dry system", "dp"),
    Kind.PREACTION: ("preaction", "pre action", "pre action system"),
    Kind.DELUGE: ("deluge", "deluge system"),
    Kind.ANTIFREEZE: ("antifreeze", "anti freeze", "antifreeze loop"),
}
HAZARDS = {
    Hazard.LIGHT: ("light", "lh", "light hazard"),
    Hazard.ORDINARY_1: ("oh1", "oh 1", "ordinary hazard group 1", "ordinary hazard 1", "ordinary 1",
                        "ord 1", "oh group 1", "ohg1"),
    Hazard.ORDINARY_2: ("oh2", "oh 2", "ordinary hazard group 2", "ordinary hazard 2", "ordinary 2",
                        "ord 2", "oh group 2", "ohg2"),
    Hazard.EXTRA_1: ("eh1", "eh 1", "extra hazard group 1", "extra hazard 1", "extra 1"),
    Hazard.EXTRA_2: ("eh2", "eh 2", "extra hazard group 2", "extra hazard 2", "extra 2"),
    Hazard.STORAGE: ("storage", "high piled storage", "rack storage"),
    Hazard.UNKNOWN: ("", "unknown", "not known", "n a", "tbc"),
}  # fmt: skip
ROLES = {
    Role.RISER: ("riser", "system riser"),
    Role.FEED_MAIN: ("feed main", "feedmain", "feed"),
    Role.CROSS_MAIN: ("cross main", "crossmain", "x main", "cross"),
    Role.BRANCH_LINE: (
        "branch line",
        "branchline",
        "branch",
        "branch lines",
        "range",
        "range pipe",
    ),
}
MATERIALS = {
    Material.BLACK_STEEL: ("black steel", "bs", "blk stl", "blk steel", "black", "black iron",
                           "black steel pipe"),
    Material.GALVANIZED_STEEL: ("galvanized", "galvanised", "galv", "gs", "galvanized steel",
                                "galvanised steel", "galv steel", "galv stl", "hot dip galvanized"),
    Material.STAINLESS_STEEL: ("stainless", "stainless steel", "ss", "ss304", "ss316", "304",
                               "316", "304l", "316l"),
    Material.COPPER: ("copper", "cu"),
    Material.CPVC: ("cpvc", "plastic cpvc"),
}  # fmt: skip
JOINTS = {
    Joint.UNKNOWN: ("", "unknown", "not known"),
    Joint.THREADED: ("threaded", "screwed", "thread"),
    Joint.ROLL_GROOVED: ("roll grooved", "rolled groove", "grooved rolled"),
    Joint.CUT_GROOVED: ("cut grooved", "cut groove", "grooved cut"),
    Joint.WELDED: ("welded", "weld"),
}
AMBIGUOUS = {
    "steel": ("it may be black or galvanized steel", "Write black steel or galvanized steel."),
    "oh": ("it does not say which ordinary hazard group", "Write OH1 or OH2."),
    "ordinary": ("it does not say which ordinary hazard group", "Write OH1 or OH2."),
    "ordinary hazard": ("it does not say which ordinary hazard group", "Write OH1 or OH2."),
    "eh": ("it does not say which extra hazard group", "Write EH1 or EH2."),
    "extra hazard": ("it does not say which extra hazard group", "Write EH1 or EH2."),
    "main": ("it may be a feed main or a cross main", "Write feed main or cross main."),
    "grooved": (
        "it may be a rolled or a cut groove",
        "Write roll grooved or cut grooved, or nothing.",
    ),
}

# Answers to “Nitrogen?” that a system's rows may give; the last two need a person.
NO_NITROGEN, SOME_NITROGEN = "no_nitrogen", "some_nitrogen"
SUPPLIES = {
    Supply.UNKNOWN: ("", "unknown", "not known", "tbc"),
    Supply.CYLINDERS: ("cylinders", "cylinder", "bottles", "n2 cylinders", "nitrogen cylinders",
                       "n2 bottles", "nitrogen bottles", "bottled"),
    Supply.GENERATOR: ("generator", "n2 generator", "nitrogen generator", "gen"),
    Supply.COMPRESSOR: ("compressor", "air compressor", "air"),
    NO_NITROGEN: ("no", "n", "none"),
    SOME_NITROGEN: ("yes", "y", "n2", "nitrogen"),
}  # fmt: skip

SCHEDULE = re.compile(r"(?:schedule|sched|sch|s)?[. ]*(?P<number>5|10|40|80)(?P<s>s?)", re.I)


def _table(values: dict[Any, tuple[str, ...]]) -> dict[str, str]:
    return {words: str(value) for value, synonyms in values.items() for words in synonyms}


TABLES = {
    "kind": _table(KINDS),
    "hazard": _table(HAZARDS),
    "role": _table(ROLES),
    "material": _table(MATERIALS),
    "joint": _table(JOINTS),
    "gas_supply": _table(SUPPLIES),
}
KNOWN = {
    "kind": ", ".join(kind.label.lower() for kind in Kind),
    "hazard": "light, OH1, OH2, EH1, EH2, storage",
    "role": ", ".join(role.label.lower() for role in Role),
    "material": "black steel, galvanized steel, stainless steel, copper, CPVC",
    "joint": "threaded, roll grooved, cut grooved, welded",
    "gas_supply": "none, cylinders, generator, compressor",
}


@lru_cache(maxsize=4096)
def read_word(field: str, typed: str) -> str:
    """The book's code for a word of the trade; CellError names the words that are known."""
    words = re.sub(r"[^a-z0-9]+", " ", typed.lower()).strip()
    code = TABLES[field].get(words)
    if code is not None:
        return code
    if not words:
        raise CellError("nothing is written here", f"Write one of: {KNOWN[field]}.")
    if words in AMBIGUOUS:
        raise CellError(*AMBIGUOUS[words])
    raise CellError("this word is not known", f"Write one of: {KNOWN[field]}.")


def read_schedule(typed: str, material: str) -> str:
    """Schedules of steel in the spelling of the tables; other materials as typed."""
    match = SCHEDULE.fullmatch(typed.strip())
    if not match and len(typed.strip()) > LONGEST_SCHEDULE:
        raise CellError(
            f"no schedule has {len(typed.strip())} characters",
            "Write it like 40, or nothing where the wall is given.",
        )
    if not match:
        return typed.strip().lower() if material in STEEL else typed.strip()
    return match["number"] + ("S" if material == Material.STAINLESS_STEEL else "")


LONGEST_SCHEDULE = PipeRun._meta.get_field("schedule").max_length or 0
STEEL = (Material.BLACK_STEEL, Material.GALVANIZED_STEEL)


def read_name(typed: str, *, limit: int) -> str:
    name = re.sub(r"\s+", " ", typed).strip()
    if not name:
        raise CellError("nothing is written here", "Write the name this is known by.")
    if len(name) > limit:
        raise CellError(f"it has {len(name)} characters", f"Write it in at most {limit}.")
    return name
