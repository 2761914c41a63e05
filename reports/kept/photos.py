"""Photos of records as paper carries them: small, upright, and without where they were taken."""

import logging
import warnings
from collections.abc import Iterable
from io import BytesIO

from django.utils.translation import gettext

from registry.models import Attachment
from reports.kept.layout import Photo, Photos

log = logging.getLogger(__name__)

LARGEST_PX = 900
"""A third of a page is 55 mm wide: 400 dots an inch."""
QUALITY = 78
MOST_PIXELS = 80_000_000
SHOWN = ("image/jpeg", "image/png", "image/webp")


def photos_of(
    attachments: Iterable[tuple[Attachment, str]], *, with_files: bool = True
) -> tuple[Photos, dict[str, bytes]]:
    """The block, and the bytes of its pictures by name. A file that is gone, is not the one that
    was recorded, or is no picture, keeps its place and its words."""
    photos: list[Photo] = []
    files: dict[str, bytes] = {}
    for number, (attachment, words) in enumerate(attachments, start=1):
        small = _small(attachment) if with_files else b""
        if attachment.taken_back_by_id:
            words = gettext("taken back")
        name = f"photo-{number}.jpg" if small else ""
        photos.append(Photo(f"{attachment.name}: {words}", name))
        if small:
            files[name] = small
    return Photos(photos), files


def _small(attachment: Attachment) -> bytes:
    is_shown = attachment.content_type in SHOWN and attachment.is_shown
    if not is_shown or not attachment.is_intact():
        return b""
    with attachment.open() as file:
        return shrunk(file.read())


def shrunk(content: bytes) -> bytes:
    """A JPEG no larger than paper can show; empty where the bytes are no picture that can be
    read."""
    from PIL import Image, ImageOps  # here, since most requests show no photo

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # a picture that unfolds to a bomb warns first
            with Image.open(BytesIO(content)) as image:
                if image.width * image.height > MOST_PIXELS:
                    return b""
                image.draft("RGB", (LARGEST_PX, LARGEST_PX))
                upright = ImageOps.exif_transpose(image)
                upright.thumbnail((LARGEST_PX, LARGEST_PX))
                return _jpeg(upright)
    except Exception as error:  # a decoder may fail in any way on bytes from outside
        log.info("photo.not_shown %s", error)
        return b""


def opaque(content: bytes) -> bytes:
    """A signature as an opaque PNG of eight bits a colour, ink on white; empty where the bytes are
    no picture that can be read: a paper without it is better than none."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(BytesIO(content)) as image:
                out = BytesIO()
                _on_white(image).save(out, "PNG")
                return out.getvalue()
    except Exception as error:  # a decoder may fail in any way on bytes from outside
        log.info("signature.not_shown %s", error)
        return b""


def _jpeg(image) -> bytes:
    out = BytesIO()
    _on_white(image).save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def _on_white(image):
    from PIL import Image

    if image.mode in ("RGBA", "LA", "P"):
        clear = image.convert("RGBA")
        image = Image.new("RGB", clear.size, "white")
        image.paste(clear, mask=clear.getchannel("A"))
    return image.convert("RGB")
