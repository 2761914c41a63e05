"""What every report is made of, on paper and as a page: a head, sections, and blocks in them.

A report is data in words already. The page and the PDF set the same blocks, so that neither can
say what the other does not.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from functools import cached_property
from typing import Any, ClassVar

from django.utils.translation import get_language, gettext

from reports.pdf import compile_pdf

Row = tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Labels and values, one under the other."""

    rows: Sequence[tuple[str, str]]
    kind: ClassVar[str] = "facts"


@dataclass(frozen=True)
class Table:
    """`wide` names the column that takes the room that is left; `numbers` are set to the right.
    Without rows, `empty` says why there are none."""

    heads: Row
    rows: Sequence[Row]
    empty: str
    wide: int = 0
    also: int = -1
    numbers: tuple[int, ...] = ()
    note: str = ""
    kind: ClassVar[str] = "table"

    @property
    def labelled(self) -> Iterator[list[tuple[str, str, bool]]]:
        """Cells with their heads, and whether they are numbers: what a narrow page sets."""
        for row in self.rows:
            cells = zip(self.heads, row, strict=True)
            yield [(head, cell, at in self.numbers) for at, (head, cell) in enumerate(cells)]


@dataclass(frozen=True)
class Words:
    """A paragraph; quiet ones explain, and are set small."""

    text: str
    is_quiet: bool = False
    kind: ClassVar[str] = "words"


@dataclass(frozen=True)
class Points:
    """A list; with numbers where the order is the order of doing it."""

    lines: Sequence[str]
    is_ordered: bool = False
    kind: ClassVar[str] = "points"


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG; `words` say what it shows."""

    words: str
    svg: str
    share: int = 100
    kind: ClassVar[str] = "picture"


@dataclass(frozen=True)
class Photo:
    """`file` is the name under which its bytes travel; empty where they cannot be shown."""

    words: str
    file: str = ""


@dataclass(frozen=True)
class Photos:
    photos: Sequence[Photo]
    kind: ClassVar[str] = "photos"


@dataclass(frozen=True)
class Label:
    """One code with what it opens, to be cut out."""

    title: str
    words: str
    svg: str


@dataclass(frozen=True)
class Labels:
    labels: Sequence[Label]
    kind: ClassVar[str] = "labels"


@dataclass(frozen=True)
class Lines:
    """Places to write on with a pen."""

    titles: Sequence[str]
    kind: ClassVar[str] = "lines"


@dataclass(frozen=True)
class Codes:
    """Text to be copied without a change: hashes, proofs. `code`: the same as a QR code, SVG."""

    rows: Sequence[tuple[str, str]]
    is_block: bool = False
    code: str = ""
    kind: ClassVar[str] = "codes"


Block = Facts | Table | Words | Points | Picture | Photos | Labels | Lines | Codes


@dataclass(frozen=True)
class Section:
    title: str
    blocks: Sequence[Block]
    begins_page: bool = False


@dataclass(frozen=True)
class Paper:
    """A whole report. `big` and `said` stand in the band under its head; `mark` goes across every
    page and `found` says why. `files` holds the bytes of photos by name."""

    title: str
    about: str
    place: str
    size: str
    day: date
    sections: Sequence[Section]
    big: str = ""
    said: Sequence[str] = ()
    mark: str = ""
    found: Sequence[str] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    name: str = "report"
    language: str = field(default_factory=lambda: (get_language() or "en").split("-")[0])

    def document(self) -> dict[str, Any]:
        return {
            "title": self.title,
            "about": self.about,
            "place": self.place,
            "paper": self.size,
            "day": (self.day.year, self.day.month, self.day.day),
            "language": self.language,
            "big": self.big,
            "said": list(self.said),
            "mark": self.mark,
            "found": list(self.found),
            "sections": [_section(one) for one in self.sections],
            "words": _page_words(),
        }

    @cached_property
    def file_name(self) -> str:
        return f"{self.name}-{self.day:%Y-%m-%d}.pdf"

    def pdf(self) -> bytes:
        """PDF/A-2b; the same bytes for the same rows and day."""
        return compile_pdf("kept.typ", self.document(), files=self.files)


def _section(section: Section) -> dict[str, Any]:
    return {
        "title": section.title,
        "begins_page": section.begins_page,
        "blocks": [{"kind": block.kind, **asdict(block)} for block in section.blocks],
    }


def _page_words() -> dict[str, str]:
    return {
        "page": gettext("Page"),
        "of": gettext("of"),
        "decides": gettext(
            "Local codes, the adopted edition, the authority having jurisdiction and licensed "
            "practice decide."
        ),
        "missing": gettext(
            "Characters that the typeface of this paper lacks are printed as □; the book holds "
            "them."
        ),
        "found": gettext(
            "The ledger does not agree with what the book keeps of it, so nothing here can be "
            "relied on:"
        ),
        "no_picture": gettext("The file is gone, or is no longer the one that was recorded."),
    }
