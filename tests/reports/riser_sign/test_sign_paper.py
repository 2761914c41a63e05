"""The sign as it is printed: PDF/A, its words, and its code read by a program of others (ZXing)."""

import io
import json
import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest
import typst
import zxingcpp
from django.conf import settings
from django.urls import reverse
from pypdf import PdfReader

from registry.services import add_fitting
from registry.services.riser_signs import make_sign
from registry.services.sign_settings import save_settings
from reports.pdf import FOLDER
from reports.riser_sign.paper import sign_document, sign_pdf
from tests.factories import NOW, PSI, make_system
from tests.scheduling.ledger import DAY, accept

pytestmark = [pytest.mark.django_db, pytest.mark.thorough]
MM = 72 / 25.4
SIZES = {"a5": (148, 210), "a4": (210, 297)}


@pytest.fixture(params=["wet", "dry"])
def made(request, world):
    """A sign with all that the register can hold, in both languages."""
    system = make_system(
        world.site, world.owner, kind=request.param, tag="NQ-7", now=NOW - 20 * DAY,
        service_pressure_gauge_pa=(95 if request.param == "wet" else 40) * PSI,
    )  # fmt: skip
    kinds = ("injection_port", "control_valve", "main_drain", "auxiliary_drain", "low_point_drain")
    for kind, label in zip(kinds, ("IP-1", "CV-1", "MD-1", "AD-1", "LP-1"), strict=True):
        add_fitting(
            system=system,
            recorded_by=world.owner,
            now=NOW,
            kind=kind,
            label=label,
            location="Bay 4",
        )
    save_settings(
        site=world.site, now=NOW, languages="en es", contractor_telephone="+1 555 0123",
        owner_telephone="+1 555 0100",
    )  # fmt: skip
    accept(system, NOW - 10 * DAY)
    return make_sign(system=system, made_by=world.owner, now=NOW)


def text_of(page) -> str:
    return " ".join(page.extract_text().replace("\u00a0", " ").split())


@pytest.mark.parametrize("paper", SIZES)
def test_one_page_a_language_of_the_size_that_was_asked_for(made, paper):
    pdf = sign_pdf(made, paper=paper)
    pages = PdfReader(io.BytesIO(pdf)).pages
    width, height = SIZES[paper]
    assert len(pages) == 2
    assert float(pages[0].mediabox.width) == pytest.approx(width * MM, abs=0.5)
    assert float(pages[0].mediabox.height) == pytest.approx(height * MM, abs=0.5)
    assert b"pdfaid:part" in pdf
    assert sign_pdf(made, paper=paper) == pdf


def test_it_says_what_the_register_holds_in_both_languages(made):
    english, spanish = map(text_of, PdfReader(io.BytesIO(sign_pdf(made, paper="a5"))).pages)
    wanted = "50 psi" if made.facts.is_gas_filled else "105 psi"
    for words in (english, spanish):
        for said in ("NQ-7", "IP-1", "CV-1", "MD-1", "AD-1", "LP-1", wanted, "175 psi",
                     "+1 555 0123", "+1 555 0100", str(made.sign.from_sequence)):  # fmt: skip
            assert said in words
    assert "This pipe holds nitrogen" in english and "1 June 2026" in english
    assert "Esta tubería contiene nitrógeno" in spanish and "1 de junio de 2026" in spanish


def test_where_data_is_missing_the_sign_asks_and_invents_nothing(made):
    bare = replace(
        made.facts, ports=(), control_valves=(), main_drains=(), further_drains=(),
        service_gauge_pa=None, contractor="", contractor_telephone="", owner_telephone="",
    )  # fmt: skip
    english, spanish = map(
        text_of, PdfReader(io.BytesIO(sign_pdf(replace(made, facts=bare), paper="a5"))).pages
    )
    assert "Read the gauge" in english and "50 psi" not in english and "105 psi" not in english
    assert english.count("not in the register: find it and ask first") >= 3
    assert "No contractor is in the register" in english and "write it here" in english
    assert "Lea el manómetro" in spanish and "no consta en el registro" in spanish


@pytest.mark.parametrize("paper", SIZES)
def test_its_code_is_read_back_from_the_page_as_it_is_printed(made, paper):
    data, code = sign_document(made, paper=paper)
    data |= {"has_missing_glyphs": False}
    pictures = typst.compile(
        str(FOLDER / "riser_sign.typ"), root=str(FOLDER), format="png", ppi=90,
        sys_inputs={"data": json.dumps(data), "code": code}, ignore_system_fonts=True,
    )  # fmt: skip
    wanted = settings.PUBLIC_URL + reverse("registry:at-sign", args=[made.secret])
    for picture in pictures:
        (found,) = zxingcpp.read_barcodes(pixels(picture))
        assert found.text == wanted


def pixels(png: bytes) -> np.ndarray:
    """The red of a PNG of 8-bit RGBA without interlace (ISO/IEC 15948, clause 9); each channel is
    filtered by itself."""
    width, height, *form = struct.unpack(">IIBBBBB", png[16:29])
    assert form == [8, 6, 0, 0, 0]
    data, at = b"", 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        data += png[at + 8 : at + 8 + length] if png[at + 4 : at + 8] == b"IDAT" else b""
        at += length + 12
    raw, stride = zlib.decompress(data), 1 + 4 * width
    before, found = [0] * width, []
    for start in range(0, height * stride, stride):
        before = unfiltered(raw[start], raw[start + 1 : start + stride : 4], before)
        found.append(before)
    return np.array(found, dtype=np.uint8)


def unfiltered(kind: int, row: bytes, before: list[int]) -> list[int]:
    left = corner = 0
    found = []
    for one, up in zip(row, before, strict=True):
        guess = (0, left, up, (left + up) // 2, paeth(left, up, corner))[kind]
        left, corner = (one + guess) % 256, up
        found.append(left)
    return found


def paeth(left: int, up: int, corner: int) -> int:
    away = [abs(up - corner), abs(left - corner), abs(left + up - 2 * corner)]
    return (left, up, corner)[away.index(min(away))]


def test_the_code_holds_a_secret_that_the_book_keeps_only_as_a_digest(made):
    assert made.secret not in json.dumps(
        {field.name: str(getattr(made.sign, field.name)) for field in made.sign._meta.fields}
    )


def test_text_that_does_not_fit_is_set_smaller_and_stays_on_its_page(made):
    many = tuple(f"LP-{number} (far end of bay {number})" for number in range(1, 25))
    long = replace(made, facts=replace(made.facts, further_drains=many))
    pages = PdfReader(io.BytesIO(sign_pdf(long, paper="a5"))).pages
    assert len(pages) == 2
    assert "LP-24" in text_of(pages[0])
