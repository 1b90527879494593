"""The smallest whole picture: one grey point, as PNG (ISO/IEC 15948)."""

from __future__ import annotations

import struct
import zlib


def _part(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


PICTURE = (
    b"\x89PNG\r\n\x1a\n"
    + _part(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    + _part(b"IDAT", zlib.compress(b"\0\x7f"))
    + _part(b"IEND", b"")
)
