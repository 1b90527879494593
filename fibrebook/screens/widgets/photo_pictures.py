"""Kept photos made small enough for a page: as a data address, never larger than asked for."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from fibrebook.drawings.small_photo import small_jpeg
from fibrebook.register.photos import photo

if TYPE_CHECKING:
    from fibrebook.register import Register

SIDE = 200
SMALL, MOST_REMEMBERED = 400, 100  # pixels; pictures, some 2 MB in all

_SMALL: dict[tuple[str, str, int], str] = {}


def shrunk(data: bytes, side: int = SIDE) -> str:
    """Return a picture, no side longer than `side` pixels, as a data address; "" where it cannot be read."""
    small = small_jpeg(data, side)
    return "data:image/jpeg;base64," + base64.b64encode(small).decode() if small else ""


def kept_photo(reg: Register, file: str, side: int = SIDE) -> str:
    """Return a kept photo as `shrunk` does; small ones are remembered, for a screen shows them again and again.

    Raises
    ------
    NotFoundError, DamagedError : it is not in the register, or not what was kept
    """
    key = (str(reg.where), file, side)  # a file's name is its digest: what is under a name never changes
    if key in _SMALL:
        return _SMALL[key]
    made = shrunk(photo(reg, file), side)
    if side <= SMALL:
        while len(_SMALL) >= MOST_REMEMBERED:
            del _SMALL[next(iter(_SMALL))]
        _SMALL[key] = made
    return made
