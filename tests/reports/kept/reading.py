"""A PDF as its reader's program gives it back: its words, and what PDF/A asks of it."""

import re
from html import unescape
from io import BytesIO

from pypdf import PdfReader

UNSEEN = re.compile("[\u200b\u00ad\u2060]")


def reader_of(pdf: bytes) -> PdfReader:
    return PdfReader(BytesIO(pdf))


def squeezed(text: str) -> str:
    """Without blanks: where a line breaks is the layout's affair."""
    return re.sub(r"\s+", "", UNSEEN.sub("", text))


def text_of(pdf: bytes) -> str:
    return squeezed("".join(page.extract_text() for page in reader_of(pdf).pages))


def text_in(response) -> str:
    """Of a page without its marks, each a blank."""
    words = unescape(re.sub("<[^>]+>", " ", response.content.decode()))
    return " ".join(words.replace("\xa0", " ").split())


def cells_of(paper):
    """Every cell, fact and sentence of a paper, as a page and the PDF must show them."""
    yield from paper.said
    for section in paper.sections:
        yield section.title
        for block in section.blocks:
            if block.kind in ("facts", "codes"):
                for row in block.rows:
                    yield from row
            elif block.kind == "table":
                for row in block.rows:
                    yield from row
                if not block.rows:
                    yield block.empty
            elif block.kind == "words":
                yield block.text
            elif block.kind == "points":
                yield from block.lines


def fonts_of(pdf: bytes):
    """Every font that a page uses, with its descriptor."""
    for page in reader_of(pdf).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            one = font.get_object()
            for inner in one.get("/DescendantFonts", [one]):
                yield inner.get_object()


def is_pdf_a_2b(pdf: bytes) -> bool:
    """What can be seen without a validator: it says so in XMP, its colours have a profile, every
    font is in the file, and nothing is hidden or encrypted (ISO 19005-2, 6.2.3, 6.2.11.4, 6.6)."""
    reader = reader_of(pdf)
    root = reader.trailer["/Root"]
    xmp = root["/Metadata"].get_object().get_data().decode()
    says = re.search('pdfaid:part(>|=")2', xmp) and re.search(
        'pdfaid:conformance(>|=")[ABU]', xmp
    )  # as an element or, where a signature was added, as an attribute: both are RDF
    intents = [one.get_object() for one in root.get("/OutputIntents", [])]
    has_profile = any(one["/S"] == "/GTS_PDFA1" and "/DestOutputProfile" in one for one in intents)
    fonts = list(fonts_of(pdf))
    files = ("/FontFile", "/FontFile2", "/FontFile3")
    embedded = all(
        any(name in font["/FontDescriptor"].get_object() for name in files) for font in fonts
    )
    is_open = not reader.is_encrypted and "/JavaScript" not in str(root.get("/Names", ""))
    return bool(says and has_profile and fonts and embedded and is_open)
