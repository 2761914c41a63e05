"""Pictures of customers in PDF/A: their pixels, colours and clearness, as ISO 19005-2 asks.

It forbids interpolation, alternates and OPI of images (6.2.8), and LZW (6.1.7.2). Colours without
a profile of their own take the one of the output intent (6.2.4.3), which must be of their kind. It
allows soft masks under conditions (6.2.10); the book uses none for pictures, whatever was drawn.
From memory: verify against the standard.
"""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw
from pypdf.generic import BooleanObject, IndirectObject, NameObject

from registry.runs.steps import RunStep
from registry.services.run_beside import add_photos, sign_hand_over
from registry.services.runs import log_step
from reports.certificate.paper import certificate_of
from reports.kept.photos import LARGEST_PX
from reports.kept.work.hand_over import hand_over_paper
from tests.factories import NOW
from tests.reports.kept.reading import is_pdf_a_2b, reader_of, text_of
from tests.restoration import RESTORED
from tests.world_objects import make_run

pytestmark = pytest.mark.django_db
SIZE = (300, 100)
FILTERS = {"/FlateDecode", "/DCTDecode"}
BITS = {1, 2, 4, 8, 16}
CHANNELS = {"/DeviceGray": 1, "/DeviceRGB": 3, "/DeviceCMYK": 4, "/CalGray": 1, "/CalRGB": 3}


def signature(mode: str) -> bytes:
    """As a screen draws it: ink on nothing, or on white."""
    clear = {"RGBA": (0, 0, 0, 0), "LA": (0, 0)}.get(mode, 255 if mode != "RGB" else "white")
    image = Image.new(mode, SIZE, clear)
    ink = {"RGBA": (20, 20, 60, 200), "LA": (20, 200), "RGB": (20, 20, 60)}.get(mode, 0)
    ImageDraw.Draw(image).line([(10, 80), (120, 20), (280, 70)], fill=ink, width=4)
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def photo(mode: str, kind: str) -> bytes:
    out = BytesIO()
    Image.new(mode, (1200, 900)).save(out, kind)
    return out.getvalue()


def resolved(thing):
    return thing.get_object() if isinstance(thing, IndirectObject) else thing


def pictures_of(reader):
    """Every image of every page, those inside of forms too."""
    for page in reader.pages:
        waiting = [page["/Resources"]]
        while waiting:
            for one in resolved(waiting.pop().get("/XObject", {})).values():
                held = one.get_object()
                if held["/Subtype"] == "/Form":
                    waiting.append(resolved(held.get("/Resources", {})))
                else:
                    yield held


def channels_of(space) -> int:
    space = resolved(space)
    if isinstance(space, str):
        return CHANNELS[space]
    if space[0] == "/ICCBased":
        return int(space[1].get_object()["/N"])
    return 1 if space[0] == "/Indexed" else CHANNELS[space[0]]


def faults_of(reader) -> list[str]:
    (intent,) = reader.trailer["/Root"]["/OutputIntents"]
    profile = intent.get_object()["/DestOutputProfile"].get_object()
    faults = []
    for one in pictures_of(reader):
        space = resolved(one["/ColorSpace"])
        filters = one.get("/Filter", [])
        filters = set(filters if isinstance(filters, list) else [filters])
        is_plain = isinstance(space, str) and space.startswith("/Device")
        checks = {
            "a filter that is not allowed": filters <= FILTERS,
            "interpolated": not one.get("/Interpolate", False),
            "alternates or OPI": not {"/Alternates", "/OPI"} & set(one),
            "bits of a pixel": int(one["/BitsPerComponent"]) in BITS,
            "a colour that no profile tells": not is_plain
            or channels_of(space) in (1, int(profile["/N"])),
            "not opaque": not {"/SMask", "/Mask"} & set(one),
            "not in the file": "/F" not in one and bool(one.get_data()),
        }
        faults += [name for name, holds in checks.items() if not holds]
    return faults


@pytest.fixture
def returned(world, system):
    run = make_run(system, world.technician, NOW - timedelta(days=1), (99.0,))
    for step, details in (
        ("inerting.final_purge", {"pressure_gauge_pa": 0.0}),
        ("inerting.water_filled", {}),
        ("inerting.returned", RESTORED),
    ):
        log_step(
            run=run, step=RunStep(step), details=details, recorded_by=world.technician, now=NOW,
            occurred_at=NOW - timedelta(hours=3), is_kept=True,
        )  # fmt: skip
    run.refresh_from_db()
    return run


def sign(run, by, mode: str) -> None:
    sign_hand_over(
        run=run, details={"name": "O. Manager", "way": "screen"}, drawn=signature(mode),
        recorded_by=by, now=NOW,
    )  # fmt: skip


def drawn_in(reader) -> list:
    return [one for one in pictures_of(reader) if (one["/Width"], one["/Height"]) == SIZE]


@pytest.mark.parametrize("mode", ["RGBA", "LA", "RGB", "L", "1", "P"])
def test_a_signature_of_any_pixels_is_on_the_certificate_as_pdf_a_asks(world, returned, mode):
    sign(returned, world.technician, mode)
    pdf = certificate_of(returned, units="si").pdf()
    reader = reader_of(pdf)
    assert drawn_in(reader), "the signature is not among the pictures"
    assert faults_of(reader) == []
    assert is_pdf_a_2b(pdf)


@pytest.mark.parametrize(
    ("mode", "kind"),
    [("RGB", "JPEG"), ("L", "JPEG"), ("CMYK", "JPEG"), ("RGBA", "PNG"), ("P", "PNG"),
     ("I;16", "PNG"), ("RGBA", "WEBP")],
)  # fmt: skip
def test_a_photo_of_any_pixels_and_a_signature_are_on_the_sheet(world, returned, mode, kind):
    """A photo becomes a small opaque JPEG of the profile's colours, whatever it was."""
    name = f"gauge.{kind.lower()}"
    add_photos(
        run=returned, details={"of": "gauge"}, recorded_by=world.technician, now=NOW,
        files=[SimpleUploadedFile(name, photo(mode, kind))],
    )  # fmt: skip
    sign(returned, world.technician, "RGBA")
    pdf = hand_over_paper(returned, reader=world.owner, now=NOW).pdf()
    reader = reader_of(pdf)
    photos = [one for one in pictures_of(reader) if one["/Width"] == LARGEST_PX]
    assert [one["/Filter"] for one in photos] == ["/DCTDecode"]
    assert channels_of(photos[0]["/ColorSpace"]) == 3
    assert drawn_in(reader)
    assert faults_of(reader) == []
    assert is_pdf_a_2b(pdf)


def test_the_faults_that_are_looked_for_are_found(world, returned):
    sign(returned, world.technician, "RGBA")
    reader = reader_of(certificate_of(returned, units="si").pdf())
    (one,) = drawn_in(reader)
    assert faults_of(reader) == []
    one[NameObject("/SMask")] = one
    one[NameObject("/Interpolate")] = BooleanObject(True)
    one[NameObject("/ColorSpace")] = NameObject("/DeviceCMYK")
    assert set(faults_of(reader)) == {
        "not opaque", "interpolated", "a colour that no profile tells",
    }  # fmt: skip


def test_what_only_begins_as_a_drawing_keeps_no_certificate_away(world, returned):
    """The head is that of a PNG; what follows cannot be read."""
    broken = signature("RGB")[:60]
    sign_hand_over(
        run=returned, details={"name": "O. Manager", "way": "screen"}, drawn=broken,
        recorded_by=world.technician, now=NOW,
    )  # fmt: skip
    pdf = certificate_of(returned, units="si").pdf()
    assert drawn_in(reader_of(pdf)) == []
    assert "O.Manager" in text_of(pdf)
