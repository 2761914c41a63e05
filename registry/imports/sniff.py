"""A first look over all rows: the decimal sign, what sizes are given in, which cells stay empty."""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.utils.translation import gettext

from registry.imports.answers import Answers
from registry.imports.cells import is_empty
from registry.imports.mapping import Mapping
from registry.imports.numerals import COMMA, POINT, is_open, proves
from registry.imports.reading import SheetRow
from registry.imports.sizes import BY_DN, DN, INCHES
from registry.imports.text import DAY, NUMBER, plain

AMOUNTS = ("length", "wall", "outside_diameter", "rated_pressure", "design_pressure")
MANY = 20_000  # different texts of a column that are looked at
CLEARLY = 3  # times as many cells of one form as of the other, and the file has that form


@dataclass
class Conventions:
    """What the file as a whole says of itself, and which cell says it."""

    rows: int = 0
    decimal: str | None = None
    decimal_proofs: Counter[str] = field(default_factory=Counter)
    proof: dict[str, str] = field(default_factory=dict)
    has_open_numbers: bool = False
    size_unit: str | None = None
    size_reason: str = ""
    gaps: int = 0  # rows without a tag below rows with one
    gap_row: str = ""


def sniff(rows: Iterable[SheetRow], mapping: Mapping, answers: Answers) -> Conventions:
    found = Conventions()
    amounts = [mapping.position[name] for name in AMOUNTS if name in mapping.position]
    size_at = mapping.position.get("nominal_size", -1)
    tag_at, length_at = mapping.position.get("tag", -1), mapping.position.get("length", -1)
    of_system = [mapping.position[n] for n in ("site", "kind") if n in mapping.position]
    seen: dict[int, dict[str, str | None]] = {at: {} for at in amounts}
    sizes: Counter[str] = Counter()
    had_tag = False
    for row in rows:
        found.rows += 1
        for at, texts in seen.items():
            cell = row.cells[at]
            if not cell or cell[:1] == NUMBER:
                continue
            if cell not in texts and len(texts) < MANY:
                texts[cell] = proves(cell) if "/" not in cell else None
                found.has_open_numbers = found.has_open_numbers or is_open(cell)
            if form := texts.get(cell):
                found.decimal_proofs[form] += 1
                found.proof.setdefault(
                    form,
                    (
                        gettext("“%(plain)s” in row %(name)s")
                        % {"plain": plain(cell), "name": row.name}
                    ),
                )
        if size_at >= 0 and len(sizes) < MANY:
            sizes[row.cells[size_at]] += 1
        if tag_at >= 0:
            empty = is_empty(row.cells[tag_at])
            is_grouped = any(not row.cells[at] for at in of_system)
            if empty and had_tag and is_grouped and length_at >= 0 and row.cells[length_at]:
                found.gaps += 1
                found.gap_row = found.gap_row or row.name
            had_tag = had_tag or not empty
    found.decimal = answers.decimal or _decimal(found.decimal_proofs)
    found.size_unit, found.size_reason = _size_unit(sizes, mapping, answers)
    return found


def _decimal(proofs: Counter[str]) -> str | None:
    comma, point = proofs[COMMA], proofs[POINT]
    if point >= CLEARLY * comma > 0 or (point and not comma):
        return POINT
    if comma >= CLEARLY * point > 0 or (comma and not point):
        return COMMA
    return None


def _size_unit(sizes: Counter[str], mapping: Mapping, answers: Answers) -> tuple[str | None, str]:
    unit = answers.units.get("nominal_size") or mapping.units.get("nominal_size")
    if unit:
        return unit, ""
    texts = [plain(cell).strip() for cell in sizes if cell[:1] != DAY]
    bare = [int(float(text)) for text in texts if re.fullmatch(r"\d{1,4}(?:\.0+)?", text)]
    inches = [text for text in texts if re.search(r"[\"”″'/½¼¾]|\bin", text)]
    quarters = [text for text in texts if re.fullmatch(r"\d\.(25|5|50|75)", text)]
    large = [number for number in bare if number > 12 and number in BY_DN]
    if large and not inches and not quarters:
        if all(number > 12 for number in bare):
            return DN, ""
        return DN, (gettext("%(large)s cannot be inches") % {"large": large[0]})
    return (INCHES if (inches or quarters) and not large else None), ""
