"""The columns of the book, and which of them a heading of a file names."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.imports.text import fold, plain
from registry.imports.vocabulary import headings, is_mark, numbered
from registry.translation import _


@dataclass(frozen=True)
class Column:
    name: str
    label: str
    is_required: bool = False
    examples: tuple[str, ...] = ()


COLUMNS = (
    Column("site", _("Site"), True, ("site name", "property")),
    Column("building", _("Building"), False, ("bldg", "block")),
    Column("tag", _("System tag"), True, ("system no", "riser no")),
    Column("kind", _("Type"), True, ("system type", "wet/dry")),
    Column("hazard", _("Hazard"), False, ("hazard class", "occupancy")),
    Column("role", _("Pipe role"), True, ("pipe", "part")),
    Column("material", _("Material"), True, ("pipe material", "finish")),
    Column("schedule", _("Schedule"), False, ("sch", "wall class")),
    Column("nominal_size", _("Nominal size"), True, ("size", "DN")),
    Column("outside_diameter", _("Outside diameter"), False, ("OD",)),
    Column("wall", _("Wall"), False, ("wall thickness",)),
    Column("length", _("Length"), True, ("run length", "LF")),
    Column("length_unit", _("Unit of length"), False, ("unit", "UOM")),
    Column("joint", _("Joint"), False, ("joint type",)),
    Column("installed", _("Installed"), True, ("year installed", "date")),
    Column("gas_supply", _("Gas supply"), False, ("nitrogen", "N2 supply")),
    Column("rated_pressure", _("Rated pressure"), False, ("max working pressure", "PN")),
    Column("design_pressure", _("Design pressure"), False, ()),
    Column("remarks", _("Remarks"), False, ("notes", "comments")),
    Column("row_key", _("Row key"), False, ()),
)
BY_NAME = {column.name: column for column in COLUMNS}
LABELS = {column.name: column.label for column in COLUMNS}
REQUIRED = tuple(column.name for column in COLUMNS if column.is_required)


def in_words(name: str) -> str:
    """The column as a sentence speaks of it."""
    return gettext("day of installation") if name == "installed" else LABELS[name].lower()


# Columns that registers have and the book does not: named, so that nobody looks for them.
NOT_KEPT = {
    "other_floor": _("floor"),
    "other_volume": _("volume"),
    "other_heads": _("number of sprinklers"),
    "other_drawing": _("drawing"),
    "other_last_inspection": _("last inspection"),
}

PROBLEM, RIGHT, ROW_KEY = "Problem", "What would be right", "Row key"
OURS = {fold(PROBLEM), fold(RIGHT)}  # added by this program to a file that came back

UNIT_DIMENSIONS = {
    "length": "length",
    "wall": "wall",
    "outside_diameter": "wall",
    "rated_pressure": "pressure",
    "design_pressure": "pressure",
    "nominal_size": "size",
}
BRACKETED = re.compile(r"[(\[{]\s*(?P<unit>[^)\]}]{1,16})\s*[)\]}]\s*$")
TRAILING = re.compile(r"^(?P<bare>.+?)[\s,:./-]+(?:in\s+)?(?P<unit>[A-Za-zµ²/'\"″′.]{1,12})\s*$")
PARTS = re.compile(r"[\n/|]+|\s[-–x×]\s|\(|\)")


@dataclass(frozen=True)
class Match:
    """What a heading may name; more than one column is a question."""

    columns: tuple[str, ...] = ()
    unit: str = ""
    languages: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        return self.columns[0] if len(self.columns) == 1 else ""


NOTHING = Match()


def match_heading(typed: str) -> Match:
    """The whole heading, then without a unit at its end, then each part of “Länge / Length”."""
    text = plain(typed).strip()
    if not text or fold(text) in OURS:
        return NOTHING
    if found := _lookup(text):
        unit = unit_of(BRACKETED.search(text)) or _only_unit(text, found)
        return Match(found.columns, unit, found.languages)
    for pattern in (BRACKETED, TRAILING):
        match = pattern.search(text)
        unit = unit_of(match)
        if match and unit:
            bare = match.groupdict().get("bare") or text[: match.start()]
            if found := _lookup(bare) or _parts(bare):
                return Match(found.columns, unit, found.languages)
    if (match := BRACKETED.search(text)) and (found := _lookup(text[: match.start()])):
        return found
    return _parts(text) or NOTHING


def _lookup(text: str) -> Match | None:
    folded = fold(text)
    meaning = headings().get(folded) or headings().get(folded.removesuffix(" no").strip())
    if meaning is None and folded.endswith("s"):
        meaning = headings().get(folded[:-1])
    if meaning is None:
        return None
    columns = tuple(sorted(meaning.codes))
    languages = frozenset().union(*meaning.codes.values())
    return Match(columns, "", languages)


def _parts(text: str) -> Match | None:
    """A heading in two languages names what its parts agree on."""
    found = [match for part in PARTS.split(text) if (match := _lookup(part))]
    if not found:
        return None
    shared = set(found[0].columns).intersection(*(match.columns for match in found))
    columns = tuple(sorted(shared)) or found[0].columns
    return Match(columns, "", found[0].languages)


def unit_of(match: re.Match[str] | None) -> str:
    """The unit of a heading in the spelling of the quantities: “lfm” is m."""
    if not match:
        return ""
    return unit_symbol(match["unit"])


def unit_symbol(text: str) -> str:
    units = numbered("unit")
    text = text.strip()
    symbol = units.get(fold(text)) or units.get(text.casefold()) or ""
    return "" if symbol in NO_UNITS else symbol


NO_UNITS = {"psi_or_bar_unsaid", "m_water"}
SAYS_UNIT = {
    "length": {"m", "ft"},
    "nominal_size": {"mm", "in"},
    "rated_pressure": {"psi", "bar"},
    "design_pressure": {"psi", "bar"},
}
METRIC_SIZES = {"dn", "nb", "n b", "nd", "nw", "nennweite", "rohr dn", "nominal bore", "nom bore",
                "ns", "nimelliskoko", "nominale diameter", "diametre nominal", "nenndurchmesser",
                "diametro nominale", "diametro nominal", "o nominal"}  # fmt: skip
INCH_SIZES = {"nps", "n p s", "ips", "zoll", "pouces", "pulgadas", "pollici", "size in"}


def _only_unit(text: str, found: Match) -> str:
    """“LF”, “lfm”, “max psi”, “DN”: headings that say the unit by themselves."""
    folded = fold(text)
    name = found.columns[0]
    if name == "nominal_size":
        return "DN" if folded in METRIC_SIZES else "in" if folded in INCH_SIZES else ""
    if name in ("rated_pressure",) and folded in ("pn",):
        return "bar"
    said = unit_symbol(text) or unit_symbol(folded.split(" ")[-1])
    return said if said in SAYS_UNIT.get(name, ()) else ""


# “dd/mm/yyyy” and its like in other languages, as a line of units says it of a column of days.
DAY_PATTERN = re.compile(r"(?:[a-zåäö]{1,4}[./-]){2}[a-zåäö]{1,4}|pvm", re.I)


def is_unit_line(cells: Sequence[str]) -> bool:
    """A second line below the headings that holds nothing but units."""
    texts = [plain(cell).strip().strip("()[]{}") for cell in cells if plain(cell).strip()]
    return any(map(unit_symbol, texts)) and all(
        unit_symbol(text)
        or is_mark("unknown", text)
        or fold(text) in ("dn", "mm dn", "nps")
        or DAY_PATTERN.fullmatch(text)
        for text in texts
    )


def likely_languages(matches: Sequence[Match]) -> frozenset[str]:
    """The languages that name most of the headings: some words mean another thing in another."""
    spoken = Counter(language for match in matches for language in match.languages)
    spoken.pop("any", None)
    if not spoken:
        return frozenset()
    most = max(spoken.values())
    return frozenset(language for language, count in spoken.items() if count == most)


def nearest_column(typed: str) -> str:
    """What the longest known words inside a heading name; a proposal at most."""
    parts = fold(typed).split(" ")
    for length in range(len(parts) - 1, 0, -1):
        for at in range(len(parts) - length, -1, -1):
            known = " ".join(parts[at : at + length])
            meaning = headings().get(known) if len(known) > 2 or known in METRIC_SIZES else None
            if meaning and len(meaning.codes) == 1:
                return next(iter(meaning.codes))
    return ""
