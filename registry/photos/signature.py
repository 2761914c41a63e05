"""A signature drawn on a screen, as the page sends it. Pure."""

import base64
import binascii

PREFIX = "data:image/png;base64,"
MOST_BYTES = 200_000
WIDEST, HIGHEST = 2400, 1200


class SignatureError(ValueError):
    """What was sent is no drawing that the book keeps."""


def png_of(sent: str) -> bytes:
    """The PNG of a data address; SignatureError where it is none, or is too large."""
    if not sent.startswith(PREFIX) or len(sent) > 2 * MOST_BYTES:
        raise SignatureError("It is not a drawing of this page.")
    try:
        png = base64.b64decode(sent.removeprefix(PREFIX), validate=True)
    except binascii.Error:
        raise SignatureError("It is not a drawing of this page.") from None
    if not png.startswith(b"\x89PNG\r\n\x1a\n") or png[12:16] != b"IHDR" or len(png) > MOST_BYTES:
        raise SignatureError("It is not a drawing of this page.")
    width, height = (int.from_bytes(png[at : at + 4], "big") for at in (16, 20))
    if not (0 < width <= WIDEST and 0 < height <= HIGHEST):
        raise SignatureError("The drawing is larger than a signature.")
    return png
