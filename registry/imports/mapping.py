"""Which column of the file is which of the book: known, chosen by a person, or to be asked."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext

from registry.imports.amounts import is_unit
from registry.imports.answers import NOT_KEPT, Answers
from registry.imports.cells import WORDS
from registry.imports.columns import (
    BRACKETED,
    BY_NAME,
    LABELS,
    OURS,
    REQUIRED,
    TRAILING,
    UNIT_DIMENSIONS,
    Match,
    in_words,
    likely_languages,
    match_heading,
    nearest_column,
    unit_of,
    unit_symbol,
)
from registry.imports.columns import (
    NOT_KEPT as NOT_HELD,
)
from registry.imports.doubts import (
    doubt_tags,
    filled,
    size_by_diameter,
    swap_for_words,
    units_apart,
)
from registry.imports.fits import OF_WORDS, share_that_fits
from registry.imports.layout import LINE_ABOVE, MADE_UP, SHEET_NAME, TAG_ABOVE, Layout
from registry.imports.problems import ImportFileError, Problem
from registry.imports.reading import SheetRow
from registry.imports.sizes import DN
from registry.imports.text import fold, plain
from registry.imports.vocabulary import headings, words

EXAMPLES = 4


@dataclass
class Field:
    """One column of the file as the page shows it."""

    at: int
    key: str  # the heading, numbered where two are alike
    examples: list[str]
    name: str = ""  # the column of the book, or nothing
    unit: str = ""
    how: str = "unknown"  # known, chosen, taken, asked, not held, ours, unknown
    may_be: tuple[str, ...] = ()
    why: str = ""
    proposed: str = ""


@dataclass
class Mapping:
    fields: list[Field]
    languages: frozenset[str] = frozenset()
    position: dict[str, int] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for one in self.fields:
            if one.name:
                self.position[one.name] = one.at
                if one.unit:
                    self.units[one.name] = one.unit

    @property
    def missing(self) -> list[str]:
        return [name for name in REQUIRED if name not in self.position]

    def cell(self, cells: Sequence[str], name: str) -> str:
        at = self.position.get(name)
        return plain(cells[at]).strip() if at is not None and at < len(cells) else ""

    def label(self, name: str) -> str:
        """The column as the file calls it, so that a person finds it again."""
        at = self.position.get(name)
        return self.fields[at].key if at is not None else LABELS[name]

    def problem(
        self, cells: Sequence[str], name: str, wrong: str, right: str, question: str = ""
    ) -> Problem:
        return Problem(self.label(name), self.cell(cells, name), wrong, right, question)

    @property
    def real(self) -> list[Field]:
        """The columns that stand in the file, without those this program added to it."""
        return [one for one in self.fields
                if one.key not in MADE_UP and one.how != "ours"]  # fmt: skip

    def typed_cells(self, cells: Sequence[str]) -> list[str]:
        return [plain(cells[one.at]) if one.at < len(cells) else "" for one in self.real]


def map_columns(layout: Layout, sample: Sequence[SheetRow], answers: Answers) -> Mapping:
    fields = _fields(layout, sample)
    matches = [match_heading(one.key if one.key not in MADE_UP else "") for one in fields]
    languages = likely_languages([match for match in matches if len(match.columns) == 1])
    _apply_answers(fields, answers)
    matches = _lengths_by_unit(fields, units_apart(fields, matches, sample))
    for one, match in zip(fields, matches, strict=True):
        _note_unit(one, match, layout.units[one.at], answers)
    taken = {one.name for one in fields if one.name}
    _apply_certain(fields, matches, taken)
    _apply_doubtful(fields, matches, taken, sample)
    swap_for_words(fields, taken, sample)
    doubt_tags(fields, taken, sample)
    _apply_made_up(fields, layout, taken)
    _propose_by_content(fields, taken, sample)
    _take_what_fits(fields, taken, sample)
    _take_block_lines(fields, taken, sample)
    size_by_diameter(fields, taken)
    return Mapping(fields, languages)


def _fields(layout: Layout, sample: Sequence[SheetRow]) -> list[Field]:
    seen: Counter[str] = Counter()
    fields = []
    for at, text in enumerate(layout.headings):
        text = text or f"(column {at + 1})"
        seen[fold(text)] += 1
        count = seen[fold(text)]
        fields.append(Field(at, text if count == 1 else f"{text} #{count}", _examples(sample, at)))
    return fields


def _examples(sample: Sequence[SheetRow], at: int) -> list[str]:
    texts = (plain(row.cells[at])[:40] for row in sample if at < len(row.cells))
    return list(dict.fromkeys(text for text in texts if text))[:EXAMPLES]


def _lengths_by_unit(fields: list[Field], matches: list[Match]) -> list[Match]:
    """“Run (m)”: where no heading names the length, the one with a unit of length does."""
    if any(match.name == "length" for match in matches):
        return matches
    for at, (one, match) in enumerate(zip(fields, matches, strict=True)):
        unit = unit_of(BRACKETED.search(one.key)) or unit_of(TRAILING.search(one.key))
        if unit in ("m", "ft") and not set(match.columns) & UNIT_DIMENSIONS.keys():
            return [*matches[:at], Match(("length",), unit), *matches[at + 1 :]]
    return matches


def _apply_answers(fields: list[Field], answers: Answers) -> None:
    by_key = {fold(one.key): one for one in fields}
    for heading, name in answers.columns.items():
        one = by_key.get(fold(heading))
        if one is None:
            known = ", ".join(f"“{one.key}”" for one in fields if one.examples)
            raise ImportFileError(
                gettext("No column is called “%(heading)s”. The file has %(known)s.")
                % {"heading": heading, "known": known}
            )
        if name and name not in BY_NAME:
            raise ImportFileError(
                gettext("“%(name)s” is no column of the book. Those are %(listed)s.")
                % {"name": name, "listed": ", ".join(BY_NAME)}
            )
        one.name, one.how = name, "chosen"


def _note_unit(one: Field, match: Match, unit_below: str, answers: Answers) -> None:
    unit = match.unit or _unit_below(unit_below) or unit_of(BRACKETED.search(one.key))
    name = one.name or (match.columns[0] if match.columns else "")
    if name in UNIT_DIMENSIONS and unit and _fits(unit, name):
        one.unit = unit
    if answers.unit_of(name) and not one.unit:
        one.unit = answers.unit_of(name) or ""


def _unit_below(text: str) -> str:
    return DN if fold(text) in ("dn", "mm dn") else unit_symbol(text.strip("()[]{} "))


def _fits(unit: str, name: str) -> bool:
    """“Length (m)” gives a unit; “Length (approx.)” does not."""
    dimension = UNIT_DIMENSIONS[name]
    if dimension == "size":
        return unit in (DN, "in", "mm")
    return is_unit(unit, dimension)


def _apply_certain(fields: list[Field], matches: Sequence[Match], taken: set[str]) -> None:
    """Of several headings with one meaning, the one that says it most plainly is taken."""
    claims: dict[str, list[Field]] = {}
    for one, match in zip(fields, matches, strict=True):
        if fold(one.key) in OURS:
            one.how = "ours"
        elif one.how != "chosen" and match.name:
            if match.name in NOT_HELD:
                one.how, one.why = "not held", NOT_HELD[match.name]
            else:
                claims.setdefault(match.name, []).append(one)
    for name, claiming in claims.items():
        if name in taken:
            for one in claiming:
                one.how, one.may_be = "unknown", (name,)
            continue
        claiming.sort(key=lambda one: (not one.examples, _rank(one.key, name), one.at))
        claiming[0].name, claiming[0].how = name, "known"
        taken.add(name)
        if len(claiming) > 1:
            others = ", ".join(f"“{one.key}”" for one in claiming[1:])
            claiming[0].how = "taken"
            claiming[0].why = gettext("%(others)s could name the %(label)s too") % {
                "others": others,
                "label": in_words(name),
            }
            for one in claiming[1:]:
                one.may_be = (name,)


def _rank(heading: str, name: str) -> int:
    meaning = headings().get(fold(heading))
    return meaning.ranks.get(name, 50) if meaning else 30


def _apply_doubtful(
    fields: list[Field], matches: Sequence[Match], taken: set[str], sample: Sequence[SheetRow]
) -> None:
    """A heading with two meanings has one left where the other is taken, and else is asked."""
    for one, match in zip(fields, matches, strict=True):
        if len(match.columns) < 2 or one.how == "chosen":
            continue
        left = [name for name in match.columns if name not in taken]
        held = [name for name in left if name not in NOT_HELD]
        if not held:
            one.how = "not held"
        elif len(left) == 1 and left != list(match.columns):
            one.name, one.how = left[0], "taken"
            one.why = gettext("its other meaning has a column of its own")
            taken.add(one.name)
        else:
            one.how, one.may_be = "asked", tuple(held)
            one.proposed = max(held, key=lambda name: _share(sample, one.at, name), default="")


def _share(sample: Sequence[SheetRow], at: int, name: str) -> float:
    """How much of a column are words of this field; names are what no field knows."""
    texts = filled(sample, at)
    if not texts:
        return 0.0
    if name in (*WORDS, "schedule"):
        return sum(fold(plain(text)) in words(name) for text in texts) / len(texts)
    return 0.3 if name in ("site", "building", "tag") else 0.1


def _apply_made_up(fields: list[Field], layout: Layout, taken: set[str]) -> None:
    """One sheet for each building: its name is the building where no column says it."""
    sheet = next(one for one in fields if one.key == SHEET_NAME)
    if len(layout.parts) > 1 and sheet.how == "unknown" and "building" not in taken:
        sheet.name, sheet.how = "building", "taken"
        sheet.why = gettext(
            "%(count)s sheets have the same columns, and none names the building"
        ) % {"count": len(layout.parts)}
        taken.add("building")


def _propose_by_content(fields: list[Field], taken: set[str], sample: Sequence[SheetRow]) -> None:
    """For what is missing, the free column whose cells look most like it: proposed, not taken."""
    free = [one for one in fields if one.how == "unknown" and one.examples]
    for one in free:
        near = nearest_column(one.key)
        if near and near not in taken and near not in NOT_HELD:
            one.proposed, one.why = (
                near,
                (gettext("its heading holds a word for %(label)s") % {"label": in_words(near)}),
            )
    for name in ("kind", "role", "material", "schedule", "joint"):
        if name in taken or not free:
            continue
        best = max(free, key=lambda one: _share(sample, one.at, name))
        if _share(sample, best.at, name) >= 0.5 and not best.proposed:
            best.proposed, best.why = (
                name,
                (gettext("its cells hold words of %(label)s") % {"label": in_words(name)}),
            )


FITS = 0.75  # of the cells; a few of a column are always wrong


def _take_what_fits(fields: list[Field], taken: set[str], sample: Sequence[SheetRow]) -> None:
    """For a column that every row needs: the one free column whose cells say what it holds.

    Words of the trade and lengths with their unit say so by themselves. A day or a size does not:
    there the heading has to hold a word for it too. Each is shown as taken, with why.
    """
    for name in REQUIRED:
        if name in taken:
            continue
        fitting = [
            one
            for one in fields
            if one.how == "unknown"
            and one.examples
            and (one.key not in MADE_UP or (name == "kind" and one.key == LINE_ABOVE))
            and (name in (*OF_WORDS, "length") or one.proposed == name)
            and share_that_fits(name, filled(sample, one.at)) >= FITS
        ]
        if len(fitting) == 1:
            one = fitting[0]
            one.name, one.how, one.proposed = name, "taken", ""
            one.why = gettext("no heading names the %(label)s, and these cells hold it") % {
                "label": in_words(name)
            }
            taken.add(name)


def _take_block_lines(fields: list[Field], taken: set[str], sample: Sequence[SheetRow]) -> None:
    """A report has the system in a line above its pipe: taken where no column has the tag, and
    every block says it."""
    one = next(one for one in fields if one.key == TAG_ABOVE)
    cells = filled(sample, one.at)
    if "tag" in taken or one.how != "unknown" or len(cells) < len(sample) or len(set(cells)) < 2:
        return
    one.name, one.how = "tag", "taken"
    one.why = gettext("no heading names the system, and the line above each block of rows does")
    taken.add("tag")


__all__ = ["NOT_KEPT", "Field", "Mapping", "map_columns"]
