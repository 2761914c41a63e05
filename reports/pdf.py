"""Data -> PDF/A by typst: values go in as data, never as markup, so a name cannot break a page."""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder

FOLDER = Path(__file__).parent / "templates" / "reports"
NO_GLYPH = "□"
BEYOND_THE_TYPEFACE = re.compile(
    r"[^\n\u0020-\u007e\u00a0-\u052f\u1e00-\u22ff\u2500-\u27bf\ufb00-\ufb06]"
)
"""Latin, Greek, Cyrillic and signs: what the one embedded typeface certainly draws. Control
characters, which a tag may hold unseen, it does not."""


def compile_pdf(template: str, data: Mapping[str, Any], **texts: str) -> bytes:
    """The document as PDF/A-2b, the same bytes for the same data.

    PDF/A refuses text that the embedded typeface cannot draw; such characters become □, and the
    data says so in `has_missing_glyphs`, rather than that a record has no document at all.
    """
    import typst  # here, since most requests make no document

    data = json.loads(json.dumps(data, cls=DjangoJSONEncoder))  # texts in the reader's language
    try:
        return _compile(template, {**data, "has_missing_glyphs": False}, texts)
    except typst.TypstError as error:
        if "could not be displayed" not in str(error):
            raise
    return _compile(template, {**_drawable(data), "has_missing_glyphs": True}, texts)


def _compile(template: str, data: Mapping[str, Any], texts: Mapping[str, str]) -> bytes:
    import typst

    return typst.compile(
        str(FOLDER / template),
        root=str(FOLDER),
        sys_inputs={"data": json.dumps(data, ensure_ascii=False, default=str), **texts},
        pdf_standards=["a-2b"],
        ignore_system_fonts=True,
    )


def _drawable(value: Any) -> Any:
    if isinstance(value, str):
        return BEYOND_THE_TYPEFACE.sub(NO_GLYPH, value)
    if isinstance(value, Mapping):
        return {name: _drawable(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable(item) for item in value]
    return value
