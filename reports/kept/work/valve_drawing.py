"""The valves of a system in the order in which they are worked, as a line drawing: no plan of the
place, and only what the register holds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from django.utils.translation import gettext

from registry.models import Fitting
from reports.kept.layout import Block, Picture, Table, Words
from reports.printing import TYPEFACE

Kind = Fitting.Kind
WORKED = (
    (Kind.INJECTION_PORT,),
    (Kind.CONTROL_VALVE,),
    (Kind.MAIN_DRAIN,),
    (Kind.AUXILIARY_DRAIN, Kind.LOW_POINT_DRAIN),
)
"""As the sign at the riser says it: nitrogen on, valve closed, main drain, then the others."""
ALWAYS = 3
"""Of the first kinds every system has one, so where none is recorded a gap is drawn."""
PER_LINE, STEP, LINE, LEFT = 5, 132, 96, 66
MOST_LETTERS = 18
INK, GREY = "#1b2430", "#5d6570"


@dataclass(frozen=True)
class Part:
    """One place on the line; without a fitting, a part that the register does not hold."""

    number: int
    kind: str
    fitting: Fitting | None = None

    @property
    def tag(self) -> str:
        if self.fitting is None:
            return gettext("not recorded")
        return self.fitting.label or gettext("no tag")

    @property
    def kind_words(self) -> str:
        return str(Kind(self.kind).label)

    @property
    def where(self) -> str:
        if self.fitting is None:
            return gettext("not recorded: find it and ask first")
        return self.fitting.location or gettext("not recorded")


def parts_of(fittings: Sequence[Fitting]) -> list[Part]:
    """In the order of the work; none at all where no valve, port or drain is recorded."""
    found: list[tuple[str, Fitting | None]] = []
    for at, kinds in enumerate(WORKED):
        those = [one for one in fittings if one.kind in kinds and one.removed_on is None]
        those.sort(key=lambda one: (kinds.index(one.kind), one.order or 100, one.label, one.pk))
        found += [(one.kind, one) for one in those]
        if not those and at < ALWAYS:
            found.append((kinds[0], None))
    if not any(fitting for _, fitting in found):
        return []
    return [Part(number, kind, one) for number, (kind, one) in enumerate(found, start=1)]


def valve_blocks(fittings: Sequence[Fitting]) -> Iterator[Block]:
    parts = parts_of(fittings)
    if not parts:
        yield Words(
            gettext(
                "No valve, port or drain of this system is in the register, so nothing can be "
                "drawn. Find them, and ask, before anything is opened."
            )
        )
        return
    words = gettext(
        "In the order in which they are worked, by their tags; no plan of the place. A dashed part "
        "is not in the register."
    )
    yield Picture(words, drawing(parts))
    yield Table(
        (gettext("No."), gettext("Part"), gettext("Tag"), gettext("Where")),
        [(str(one.number), one.kind_words, one.tag, one.where) for one in parts],
        "", wide=3, also=2,
    )  # fmt: skip


def drawing(parts: Sequence[Part]) -> str:
    lines = [parts[at : at + PER_LINE] for at in range(0, len(parts), PER_LINE)]
    height = LINE * len(lines)
    drawn = "".join(_line(row, LINE * at, at + 1 < len(lines)) for at, row in enumerate(lines))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {STEP * PER_LINE} {height}" '
        f'font-family="{TYPEFACE}" font-size="11" fill="{INK}">{drawn}</svg>'
    )


def _line(parts: Sequence[Part], top: int, goes_on: bool) -> str:
    """The pipe with its parts; where it goes on below, an arrow says so."""
    y, end = top + 36, STEP * PER_LINE if goes_on else LEFT + STEP * (len(parts) - 1) + 20
    begin = 0 if top else LEFT - 46
    pipe = f'<path d="M{begin} {y}H{end - 6}" stroke="{INK}" stroke-width="2" fill="none"/>'
    arrow = f'<path d="M{end - 8} {y - 4}L{end} {y}L{end - 8} {y + 4}z"/>' if goes_on else ""
    return pipe + arrow + "".join(_part(one, LEFT + STEP * at, y) for at, one in enumerate(parts))


def _part(one: Part, x: int, y: int) -> str:
    stroke = f'stroke="{INK}" stroke-width="1.4"'
    dashed = "" if one.fitting else ' stroke-dasharray="3 2"'
    tag = escape(_short(one.tag))
    weight = "bold" if one.fitting else "normal"
    return (
        f'<circle cx="{x}" cy="{y - 22}" r="9" fill="none" {stroke}/>'
        f'<text x="{x}" y="{y - 18}" text-anchor="middle">{one.number}</text>'
        f"{_sign(one, x, y, stroke + dashed)}"
        f'<text x="{x}" y="{y + 34}" text-anchor="middle" font-weight="{weight}">{tag}</text>'
        f'<text x="{x}" y="{y + 47}" text-anchor="middle" font-size="9" fill="{GREY}">'
        f"{escape(one.kind_words)}</text>"
    )


def _sign(one: Part, x: int, y: int, stroke: str) -> str:
    """A valve in the pipe is two triangles; a port comes in from outside, a drain leaves below."""
    if one.kind == Kind.CONTROL_VALVE:
        return (
            f'<path d="M{x - 12} {y - 8}L{x + 12} {y + 8}V{y - 8}L{x - 12} {y + 8}z" '
            f'fill="#fff" {stroke}/>'
        )
    tip = f"M{x - 4} {y + 8}L{x} {y + 2}L{x + 4} {y + 8}"
    if one.kind != Kind.INJECTION_PORT:
        tip = f"M{x - 4} {y + 14}L{x} {y + 20}L{x + 4} {y + 14}"
    return f'<path d="M{x} {y + 1}V{y + 20}{tip}" fill="none" {stroke}/>'


def _short(text: str) -> str:
    """The whole tag stands in the table below."""
    return text if len(text) <= MOST_LETTERS else f"{text[: MOST_LETTERS - 1]}…"
