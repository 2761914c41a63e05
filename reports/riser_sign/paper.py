"""A sign in words -> PDF/A, one page for each language of the site; A5 or A4."""

from dataclasses import asdict
from typing import Any

from django.conf import settings
from django.urls import reverse

from registry.riser_sign.texts import TEXTS
from registry.riser_sign.words import day_words, sign_words
from registry.services.riser_signs import MadeSign
from registry.translation import language_of
from reports.pdf import compile_pdf

PRINTED = (
    "cautions_title", "drain_title", "happened_title", "call_title", "emergency", "scan", "decides",
)  # fmt: skip


def sign_pdf(made: MadeSign, *, paper: str) -> bytes:
    """Of the same sign the same bytes; the code's address is in the document and nowhere else."""
    data, code = sign_document(made, paper=paper)
    return compile_pdf("riser_sign.typ", data, code=code)


def sign_document(made: MadeSign, *, paper: str) -> tuple[dict[str, Any], str]:
    """The words of every page, and the code as SVG; the template only sets them."""
    address = settings.PUBLIC_URL + reverse("registry:at-sign", args=[made.secret])
    pages = []
    for language in made.facts.languages:
        with language_of(language):
            pages.append(_page(made, language))
    day = made.sign.made_at.astimezone(made.sign.system.site.zone)
    data = {
        "paper": paper, "pages": pages, "address": address,
        "day": (day.year, day.month, day.day),
    }  # fmt: skip
    return data, _code(address)


def _page(made: MadeSign, language: str) -> dict[str, Any]:
    texts = TEXTS[language]
    day = made.sign.made_at.astimezone(made.sign.system.site.zone).date()
    said = str(texts.made).format(
        day=day_words(day, language),
        sequence=made.sign.from_sequence,
        system=f"{made.facts.tag}, {made.facts.place}.",
    )
    printed = {name: str(getattr(texts, name)) for name in PRINTED}
    return {**asdict(sign_words(made.facts, language)), **printed, "made": said}


def _code(address: str) -> str:
    """ISO/IEC 18004 at level Q: a quarter of it may be scratched or dirty."""
    import segno  # here, since most requests make no document

    return segno.make_qr(address, error="q").svg_inline(dark="#000", light="#fff", border=4)
