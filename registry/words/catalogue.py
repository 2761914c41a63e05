"""The texts to translate, found in the code, and the catalogues that hold their translations.

For developers: Babel reads and writes the catalogues, so that no gettext tools are needed. The
compiled catalogues are kept beside their sources, as a book runs without Babel; a test holds both
against each other and against the code.
"""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

FOLDERS = ("config", "registry", "reports", "scheduling")
TEMPLATES = (".html", ".txt")
KEYWORDS = {
    "_": None,
    "gettext": None,
    "gettext_lazy": None,
    "ngettext": (1, 2),
    "ngettext_lazy": (1, 2),
    "pgettext": ((1, "c"), 2),
    "pgettext_lazy": ((1, "c"), 2),
}
OF_PAPER = re.compile(r'\bt\("([^"]+)"\)')
HEADER = """\
# Texts of Riserbook in another language. Written by `make words` from the code: the texts of the
# code are found anew, what is translated here is kept, what is gone from the code is left out.
"""
HEADERS = {
    "MIME-Version": "1.0",
    "Content-Type": "text/plain; charset=utf-8",
    "Content-Transfer-Encoding": "8bit",
    "Plural-Forms": "nplurals=2; plural=(n != 1);",
}
"""One form for one and one for the rest: nothing here is counted in millions."""
CHANGING = re.compile(
    rb'^"(POT-Creation-Date|PO-Revision-Date|Generated-By|Report-Msgid-Bugs-To|Last-Translator'
    rb"|Language-Team): .*\n",
    re.M,
)
"""What Babel writes of days and people; the book's history says both."""
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)


def languages() -> list[str]:
    """Those that have a catalogue: all that are offered but the one the code is written in."""
    return [code for code, _name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]


def place(language: str) -> Path:
    """Of the text that people edit; the compiled one lies beside it."""
    return Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES" / "django.po"


def found_in_code() -> Catalog:
    """Every marked text, with the files it stands in."""
    catalogue = Catalog(charset="utf-8")
    for path in _sources():
        for text, context in _texts(path):
            name = path.relative_to(settings.BASE_DIR).as_posix()
            catalogue.add(text, locations=[(name, 0)], context=context)
    return catalogue


def kept(language: str) -> Catalog:
    """As it stands in the file of the language."""
    with place(language).open("rb") as file:
        return read_po(file, locale=language)


def brought_up_to_date(language: str) -> Catalog:
    """What is kept, with what is new in the code still empty and what is gone left out. Nothing is
    guessed from texts that look alike: a guess may turn a caution into its opposite."""
    catalogue, there = found_in_code(), kept(language)
    catalogue.locale, catalogue.fuzzy = language, False
    catalogue.project, catalogue.version = "Riserbook", "words"
    catalogue.mime_headers = list(HEADERS.items())
    catalogue.header_comment = HEADER.rstrip()
    for message in catalogue:
        if message.id and (before := there.get(message.id, message.context)):
            message.string, message.flags = before.string, message.flags | before.flags
    return catalogue


def as_text(catalogue: Catalog) -> bytes:
    """Without dates and line numbers, so that it changes only where a text does."""
    written = BytesIO()
    write_po(written, catalogue, width=100, include_lineno=False, sort_output=False)
    return CHANGING.sub(b"", written.getvalue())


def compiled(catalogue: Catalog) -> bytes:
    """As Django reads it; the same bytes for the same texts."""
    plain = read_po(BytesIO(as_text(catalogue)), locale=str(catalogue.locale))
    plain.creation_date = plain.revision_date = UNDATED
    written = BytesIO()
    write_mo(written, plain)
    return written.getvalue()


def _sources() -> Iterator[Path]:
    for folder in FOLDERS:
        for path in sorted((Path(settings.BASE_DIR) / folder).rglob("*")):
            is_template = path.suffix in TEMPLATES and "templates" in path.parts
            if path.suffix in (".py", ".typ") or is_template:
                yield path


def _texts(path: Path) -> Iterator[tuple[str | tuple[str, ...], str | None]]:
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".typ":
        yield from ((text, None) for text in OF_PAPER.findall(source))
        return
    if path.suffix != ".py":
        source = _as_python(source, path.name)
    lines = BytesIO(source.encode())
    for _line, text, _comments, context in extract(
        "python", lines, KEYWORDS, options={"encoding": "utf-8"}
    ):
        if text:
            yield text, context


def _as_python(source: str, name: str) -> str:
    """What Django makes of a template for the gettext tools, without its indentation."""
    return "\n".join(line.strip() for line in templatize(source, origin=name).splitlines())
