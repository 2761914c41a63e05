"""Where something lies, as people copy it from a map: “52.0511, 1.1483” or “52.0511 N 1.1483 W”."""

import re

from django.utils.translation import gettext

_PLACE = re.compile(
    r"\s*(?P<a>[-+−]?\d{1,3}(?:[.,]\d+)?)\s*°?\s*(?P<ns>[NS])?\s*[,;\s]\s*"
    r"(?P<b>[-+−]?\d{1,3}(?:[.,]\d+)?)\s*°?\s*(?P<ew>[EW])?\s*",
    re.IGNORECASE,
)


class PlaceError(ValueError):
    """Degrees that cannot be read; the text says what would be right."""


def parse_place(text: str) -> tuple[float, float] | None:
    """Latitude and longitude in decimal degrees, north and east positive; None for empty text."""
    if not text.strip():
        return None
    match = _PLACE.fullmatch(text)
    if not match:
        raise PlaceError(
            gettext(
                "“{text}” cannot be read; write latitude and longitude in degrees: 52.0511, 1.1483."
            ).format(text=text.strip())
        )
    latitude = _number(match["a"]) * (-1 if (match["ns"] or "").upper() == "S" else 1)
    longitude = _number(match["b"]) * (-1 if (match["ew"] or "").upper() == "W" else 1)
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise PlaceError(
            gettext(
                "“{text}” lies nowhere: latitude goes from -90 to 90, longitude from -180 to 180."
            ).format(text=text.strip())
        )
    return latitude, longitude


def _number(text: str) -> float:
    return float(text.replace("−", "-").replace(",", "."))


def place_text(latitude: float | None, longitude: float | None) -> str:
    if latitude is None or longitude is None:
        return ""
    return f"{latitude:.5f}, {longitude:.5f}"
