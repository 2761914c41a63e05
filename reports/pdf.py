"""Data -> PDF/A by typst: values go in as data, never as markup, so a name cannot break a page."""

import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.utils.translation import gettext

from registry.words.spoken import language
from reports.signing import signed

FOLDER = Path(__file__).parent / "templates" / "reports"
NO_GLYPH = "□"
MARKED = re.compile(r'\bt\("([^"]+)"\)')
"""A text of a template, as it is looked up and as `make words` finds it."""
BEYOND_THE_TYPEFACE = re.compile(
    r"[^\n\u0020-\u007e\u00a0-\u052f\u05d0-\u05ea\u0621-\u063a\u0641-\u0652\u0660-\u0669"
    r"\u1e00-\u22ff\u2500-\u27bf\ufb00-\ufb06]"
)
"""Latin, Greek, Cyrillic, the letters of Hebrew and of Arabic, and signs: what the embedded
typefaces certainly draw. Control characters, which a tag may hold unseen, they do not."""


def compile_pdf(
    template: str, data: Mapping[str, Any], files: Mapping[str, bytes] | None = None, **texts: str
) -> bytes:
    """The document as PDF/A-2b, the same bytes for the same data.

    PDF/A refuses text that the embedded typeface cannot draw; such characters become □, and the
    data says so in `has_missing_glyphs`, rather than that a record has no document at all.
    `files`: pictures by the names under which the template finds them. Signed where a key is
    configured, and then with the moment of signing in it.
    """
    import typst  # here, since most requests make no document

    data = json.loads(json.dumps(data, cls=DjangoJSONEncoder))  # texts in the reader's language
    files = files or {}
    try:
        pdf = _compile(template, {**data, "has_missing_glyphs": False}, texts, files)
    except typst.TypstError as error:
        if "could not be displayed" not in str(error):
            raise
        pdf = _compile(template, {**_drawable(data), "has_missing_glyphs": True}, texts, files)
    return signed(pdf)


def _compile(
    template: str, data: Mapping[str, Any], texts: Mapping[str, str], files: Mapping[str, bytes]
) -> bytes:
    if not files:
        return _set(FOLDER, template, data, texts)
    with TemporaryDirectory() as made:  # Typst reads nothing outside of the folder it is given
        folder = Path(made)
        for source in FOLDER.glob("*.typ"):
            (folder / source.name).write_bytes(source.read_bytes())
        for name, content in files.items():
            (folder / name).write_bytes(content)
        return _set(folder, template, data, texts)


def _set(folder: Path, template: str, data: Mapping[str, Any], texts: Mapping[str, str]) -> bytes:
    import typst

    return typst.compile(
        str(folder / template),
        root=str(folder),
        sys_inputs={
            "data": json.dumps(data, ensure_ascii=False, default=str),
            "words": json.dumps(_words(), ensure_ascii=False),
            "language": language(),
            **texts,
        },
        pdf_standards=["a-2b"],
        ignore_system_fonts=True,
    )


def _words() -> dict[str, str]:
    """The texts of the templates themselves in the reader's language; none in English."""
    if language() == "en":
        return {}
    return {text: gettext(text) for text in texts_of_templates()}


@cache
def texts_of_templates() -> tuple[str, ...]:
    read = (path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.typ")))
    return tuple(dict.fromkeys(text for source in read for text in MARKED.findall(source)))


def _drawable(value: Any) -> Any:
    if isinstance(value, str):
        return BEYOND_THE_TYPEFACE.sub(NO_GLYPH, value)
    if isinstance(value, Mapping):
        return {name: _drawable(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable(item) for item in value]
    return value
