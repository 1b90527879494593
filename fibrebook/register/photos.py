"""Photos: kept in the register by the digest of their bytes, written once, never changed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fibrebook.errors import DamagedError, InputError, NotFoundError
from fibrebook.register.files import AlreadyThere, Missing
from fibrebook.register.state import digest

if TYPE_CHECKING:
    from fibrebook.register.register import Register

MOST_BYTES = 25_000_000
# First bytes of the pictures that a browser shows, by their file format specifications.
SORTS = ((b"\xff\xd8\xff", "jpg"), (b"\x89PNG\r\n\x1a\n", "png"), (b"GIF8", "gif"))


def keep_photo(reg: Register, data: bytes) -> str:
    """Put a picture into the register; return its name there, for the column `file` of a row of `photos`.

    The same picture twice is kept once. The row itself is committed like any other.

    Raises
    ------
    InputError : no picture that a browser shows, or too large
    """
    reg._writable()
    sort = sort_of(data) if isinstance(data, bytes) else None
    if sort is None:
        raise InputError("this file is no photo that can be shown: use JPEG, PNG, GIF or WebP")
    if len(data) > MOST_BYTES:
        raise InputError(f"this photo has {len(data):,} bytes, more than {MOST_BYTES:,}; make it smaller first")
    name = f"{digest(data)}.{sort}"
    try:
        reg._store.blobs.create(f"photos/{name}", data)
    except AlreadyThere:
        photo(reg, name)  # the same picture, kept before; a damaged one is told
    return name


def photo(reg: Register, name: str) -> bytes:
    """Return a picture's bytes, checked against its digest.

    Raises
    ------
    NotFoundError, DamagedError
    """
    if not isinstance(name, str) or not re.fullmatch(r"[0-9a-f]{16,64}\.[a-z]{3,4}", name):
        raise NotFoundError(f"{name!r} is not the name of a kept photo")
    try:
        data = reg._store.blobs.read(f"photos/{name}")
    except Missing:
        raise NotFoundError(f"the photo {name} is not in the register at {reg.where}") from None
    if not digest(data).startswith(name.partition(".")[0]):
        raise DamagedError(f"the photo {name} is not what was kept; restore photos/{name} from a copy")
    return data


def sort_of(data: bytes) -> str | None:
    """Tell what sort of picture some bytes are, or None."""
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    return next((sort for start, sort in SORTS if data.startswith(start)), None)
