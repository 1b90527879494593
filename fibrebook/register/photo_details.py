"""What a camera writes into a picture besides the picture: place, time, device, owner. Taken out without loss.

The parts of the file that make the picture are kept byte for byte; the others are left out, with all that stands behind
the picture's end. Two things of the others stay: the colour profile, and which way up the picture is to be shown.
Sources: JPEG, ITU-T T.81 annex B, and JFIF, ITU-T T.871; PNG, W3C Portable Network Graphics, third edition, section 11,
and Exif 2.32 (CIPA DC-008) for the tag of the orientation; WebP, RFC 9649; GIF, its specification 89a. From memory.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable, Iterator

from fibrebook.errors import InputError

TAKEN_OUT = "taken out"  # what stands in a row for a photo that a redaction removed
# First bytes of the pictures that a browser shows, by their file format specifications.
SORTS = ((b"\xff\xd8\xff", "jpg"), (b"\x89PNG\r\n\x1a\n", "png"), (b"GIF8", "gif"))
UPRIGHT = 1
_ORIENTATION = 0x0112
_PNG_KEPT = {
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"bKGD", b"pHYs",
    b"cICP", b"mDCV", b"cLLI", b"acTL", b"fcTL", b"fdAT",
}  # fmt: skip
_WEBP_KEPT = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF", b"ICCP"}
_WEBP_EXIF, _WEBP_XMP = 0x08, 0x04  # flags of VP8X
_GIF_KEPT = (b"NETSCAPE2.0", b"ANIMEXTS1.0")  # how often an animation runs
_NEXT_MARKER = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")


def sort_of(data: bytes) -> str | None:
    """Tell what sort of picture some bytes are, or None."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    return next((sort for start, sort in SORTS if data.startswith(start)), None)


def without_details(data: bytes, sort: str) -> bytes:
    """Return a picture without what the camera wrote into it; a picture that bears nothing of it as it is.

    Parameters
    ----------
    sort : jpg, png, gif or webp

    Raises
    ------
    InputError : the file is cut short or not as its format says, so that it cannot be told what is in it
    """
    try:
        return _WITHOUT[sort](data)
    except (IndexError, struct.error, KeyError):
        raise InputError(
            "this photo is cut short or damaged, so what the camera wrote into it cannot be taken out: save it anew "
            "with any program for pictures, and add it again"
        ) from None


def _orientation(tiff: bytes) -> int:
    """Which way up a picture is, by its Exif part (a small TIFF file)."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return UPRIGHT
    try:
        (at,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, at)
        for i in range(count):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tiff, at + 2 + 12 * i)
            if tag == _ORIENTATION and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        pass
    return UPRIGHT


def _tiff(orientation: int) -> bytes:
    """An Exif part that says which way up, and nothing else."""
    return struct.pack("<2sHIHHHIHHI", b"II", 42, 8, 1, _ORIENTATION, 3, 1, orientation, 0, 0)


# --- JPEG ------------------------------------------------------------------------------------------------------------
def _jpeg(data: bytes) -> bytes:
    parts: list[bytes] = []
    way_up, seen_picture, head = UPRIGHT, False, 0
    at = 2
    while at < len(data):
        if data[at] != 0xFF:
            raise IndexError
        marker = data[at + 1]
        if marker == 0xFF:  # filling
            at += 1
            continue
        if marker == 0xD9:
            parts.append(b"\xff\xd9")
            break
        (length,) = struct.unpack_from(">H", data, at + 2)
        body = data[at + 4 : at + 2 + length]
        if len(body) != length - 2:
            raise IndexError
        at += 2 + length
        if marker == 0xE1 and body.startswith(b"Exif\0\0"):
            way_up = _orientation(body[6:])
        kept = _jpeg_part(marker, body)
        if kept is not None:
            parts.append(struct.pack(">BBH", 0xFF, marker, len(kept) + 2) + kept)
            head = len(parts) if marker == 0xE0 else head
        if marker == 0xDA:
            seen_picture = True
            found = _NEXT_MARKER.search(data, at)
            end = found.start() if found else len(data)
            parts.append(data[at:end])
            at = end
    if not seen_picture:
        raise IndexError
    if way_up != UPRIGHT:
        exif = b"Exif\0\0" + _tiff(way_up)
        parts.insert(head, struct.pack(">BBH", 0xFF, 0xE1, len(exif) + 2) + exif)
    return b"\xff\xd8" + b"".join(parts)


def _jpeg_part(marker: int, body: bytes) -> bytes | None:
    """A part as it is to be kept; None = left out."""
    if marker == 0xE0:
        return body[:12] + b"\0\0" if body.startswith(b"JFIF\0") else None  # without its small picture
    if marker == 0xE2:
        return body if body.startswith(b"ICC_PROFILE\0") else None
    if marker == 0xEE:
        return body[:12] if body.startswith(b"Adobe") else None
    return None if 0xE0 <= marker <= 0xFE else body


# --- PNG -------------------------------------------------------------------------------------------------------------
def _png(data: bytes) -> bytes:
    parts, way_up, at = [data[:8]], UPRIGHT, 8
    while True:
        length, name = struct.unpack_from(">I4s", data, at)
        chunk = data[at : at + 12 + length]
        if len(chunk) != 12 + length:
            raise IndexError
        at += len(chunk)
        if name == b"eXIf":
            way_up = _orientation(chunk[8:-4])
        if name in _PNG_KEPT:
            parts.append(chunk)
        if name == b"IEND":
            break
    if way_up != UPRIGHT:
        body = b"eXIf" + _tiff(way_up)
        parts.insert(2, struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body)))
    return b"".join(parts)


# --- WebP ------------------------------------------------------------------------------------------------------------
def _webp_chunks(data: bytes, at: int, end: int) -> Iterator[tuple[bytes, bytes]]:
    while at < end:
        name, length = struct.unpack_from("<4sI", data, at)
        body = data[at + 8 : at + 8 + length]
        if len(body) != length:
            raise IndexError
        yield name, body
        at += 8 + length + length % 2


def _webp_chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack("<4sI", name, len(body)) + body + b"\0" * (len(body) % 2)


def _webp(data: bytes) -> bytes:
    (size,) = struct.unpack_from("<I", data, 4)
    if size + 8 > len(data) + 1:
        raise IndexError
    found = list(_webp_chunks(data, 12, min(size + 8, len(data))))
    exif = next((b for n, b in found if n == b"EXIF"), b"")
    way_up = _orientation(exif.removeprefix(b"Exif\0\0"))
    parts = []
    for name, body in found:
        if name not in _WEBP_KEPT:
            continue
        kept = body
        if name == b"VP8X":
            flags = body[0] & ~(_WEBP_EXIF | _WEBP_XMP) | (_WEBP_EXIF if way_up != UPRIGHT else 0)
            kept = bytes([flags]) + body[1:]
        elif name == b"ANMF":
            inner = _webp_chunks(body, 16, len(body))
            kept = body[:16] + b"".join(_webp_chunk(n, b) for n, b in inner if n in (b"VP8 ", b"VP8L", b"ALPH"))
        parts.append(_webp_chunk(name, kept))
    if not any(n in (b"VP8 ", b"VP8L", b"ANMF") for n, _ in found):
        raise IndexError
    if way_up != UPRIGHT:
        parts.append(_webp_chunk(b"EXIF", _tiff(way_up)))
    whole = b"WEBP" + b"".join(parts)
    return b"RIFF" + struct.pack("<I", len(whole)) + whole


# --- GIF -------------------------------------------------------------------------------------------------------------
def _gif(data: bytes) -> bytes:
    at = 13 + _gif_colours(data[10])
    parts = [data[:at]]
    while True:
        what, begin = data[at], at
        if what == 0x3B:
            parts.append(b"\x3b")
            return b"".join(parts)
        if what == 0x2C:
            at += 10 + _gif_colours(data[at + 9]) + 1
            kept = True
        elif what == 0x21:
            label = data[at + 1]
            kept = label == 0xF9 or (label == 0xFF and data[at + 3 : at + 14] in _GIF_KEPT)
            at += 2
        else:
            raise IndexError
        while data[at]:
            at += data[at] + 1
        at += 1
        if kept:
            parts.append(data[begin:at])


def _gif_colours(flags: int) -> int:
    """Bytes of a table of colours."""
    return 3 << (flags & 7) + 1 if flags & 0x80 else 0


_WITHOUT: dict[str, Callable[[bytes], bytes]] = {"jpg": _jpeg, "png": _png, "webp": _webp, "gif": _gif}
