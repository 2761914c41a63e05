"""The program that makes a drawn chart answer the pointer, built from the installed package.

It is made on this machine, never fetched: the package that draws the charts carries it whole.
"""

import os
from importlib.metadata import version
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage

NAME = "reports/vega.js"
SNIPPET = "globalThis.vegaEmbed = vegaEmbed;"
STAMP = f"/* vl-convert {version('vl-convert-python')}: {SNIPPET} */\n"


def bundle_path() -> Path:
    return settings.BUILT_STATIC_DIR / NAME


def is_current() -> bool:
    path = bundle_path()
    if not path.exists():
        return False
    with path.open(encoding="utf-8") as file:
        return file.readline() == STAMP


def build() -> bool:
    """Make it unless it is there already; says whether it was made. Two at once do no harm."""
    if is_current():
        return False
    import vl_convert

    path = bundle_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(f".{os.getpid()}.part")
    part.write_text(STAMP + vl_convert.javascript_bundle(SNIPPET), encoding="utf-8")
    part.replace(path)
    return True


def bundle_url() -> str:
    """Empty where the bundle was not built before the static files were collected: the page then
    shows its drawings and tables, and offers nothing it cannot do."""
    try:
        return staticfiles_storage.url(NAME)
    except ValueError:
        return ""
