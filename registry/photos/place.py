"""Where a photo was taken, taken out of it before it is kept. Pure: bytes in, bytes out.

The numbers are blanked where they stand, so nothing else of the photo moves: the picture, when it
was taken and how it is turned all stay. Source of the layout: Exif (CIPA DC-008), in which tag
0x8825 leads to the GPS directory, and TIFF 6.0 for directories; PNG's chunks and their CRC, ISO/IEC
15948; RIFF chunks of WebP, RFC 9649. HEIC and JPEG mark the Exif block by the word Exif.
"""

import re
import struct
import zlib
from collections.abc import Iterator
from itertools import islice

EXIF_MARK = re.compile(rb"Exif\x00\x00(?=II\*\x00|MM\x00\*)")
GPS_OF_XMP = re.compile(
    rb"(exif:GPS\w+\s*=\s*)(\"[^\"<]*\"|'[^'<]*')|(<exif:GPS\w{1,60}[^<>]{0,200}>)([^<]*)(</exif:GPS\w{1,60}>)"
)
GPS_DIRECTORY = 0x8825
ENTRY, LONGEST_DIRECTORY = 12, 200
MOST_BLOCKS, LONGEST_VALUE = 64, 4096
"""More than any camera writes. Without a bound, a photo made for it would keep a server busy."""
SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8}
PNG_HEAD = 8


def without_place(data: bytes) -> tuple[bytes, bool]:
    """The photo without the place where it was taken, and whether there was one in it."""
    kept = bytearray(data)
    for start in islice(_exif_blocks(data), MOST_BLOCKS):
        _blank_gps(kept, start)
    kept[:] = GPS_OF_XMP.sub(_blanked, bytes(kept))
    if kept == data:
        return data, False
    if data.startswith(b"\x89PNG"):
        _mend_checksums(kept)
    return bytes(kept), True


def _blanked(found: re.Match[bytes]) -> bytes:
    """As long as before, so that no offset in the file moves."""
    if found[1] is not None:
        return found[1] + found[2][:1] + b" " * (len(found[2]) - 2) + found[2][-1:]
    return found[3] + b" " * len(found[4]) + found[5]


def _exif_blocks(data: bytes) -> Iterator[int]:
    """Where each TIFF block of Exif begins."""
    for mark in EXIF_MARK.finditer(data):
        yield mark.end()
    if data.startswith(b"\x89PNG"):
        yield from (at for kind, at, _ in _png_chunks(data) if kind == b"eXIf")
    if data.startswith(b"RIFF"):
        yield from (at for kind, at in _riff_chunks(data) if kind == b"EXIF")


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Kind, beginning and length of each chunk's data."""
    at = PNG_HEAD
    while at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        yield bytes(data[at + 4 : at + 8]), at + 8, length
        at += 12 + length


def _riff_chunks(data: bytes) -> Iterator[tuple[bytes, int]]:
    at = 12
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "little")
        yield data[at : at + 4], at + 8
        at += 8 + length + length % 2


def _mend_checksums(data: bytearray) -> None:
    for _, at, length in list(_png_chunks(bytes(data))):
        end = at + length
        if end + 4 <= len(data):
            data[end : end + 4] = zlib.crc32(data[at - 4 : end]).to_bytes(4, "big")


def _blank_gps(data: bytearray, start: int) -> None:
    """Empties the GPS directory of the TIFF block at `start`; a broken block stays as it is."""
    order = "<" if data[start : start + 2] == b"II" else ">"
    try:
        (first,) = struct.unpack_from(f"{order}I", data, start + 4)
        for tag, _, _, value_at in _entries(data, start, first, order):
            if tag == GPS_DIRECTORY:
                (directory,) = struct.unpack_from(f"{order}I", data, value_at)
                _empty(data, start, directory, order)
                return  # a block has one
    except struct.error:
        return


def _entries(
    data: bytearray, start: int, directory: int, order: str
) -> Iterator[tuple[int, int, int, int]]:
    """Tag, type, count, and where the value or its offset stands, of each entry."""
    (count,) = struct.unpack_from(f"{order}H", data, start + directory)
    for number in range(min(count, LONGEST_DIRECTORY)):
        at = start + directory + 2 + ENTRY * number
        tag, kind, values = struct.unpack_from(f"{order}HHI", data, at)
        yield tag, kind, values, at + 8


def _empty(data: bytearray, start: int, directory: int, order: str) -> None:
    entries = list(_entries(data, start, directory, order))
    for _, kind, values, value_at in entries:
        size = SIZES.get(kind, 0) * values
        if size > 4:
            (offset,) = struct.unpack_from(f"{order}I", data, value_at)
            begin, end = start + offset, min(start + offset + min(size, LONGEST_VALUE), len(data))
            if start < begin < end:
                data[begin:end] = bytes(end - begin)
    begin = start + directory
    data[begin : begin + 2 + ENTRY * len(entries)] = bytes(2 + ENTRY * len(entries))
