"""Kept photos made small enough for a page: as a data address, never larger than asked for."""

from __future__ import annotations

import base64
import io
import warnings
from typing import TYPE_CHECKING

from fibrebook.register.photos import photo

if TYPE_CHECKING:
    from fibrebook.register import Register

SIDE = 200
SMALL, MOST_REMEMBERED = 400, 100  # pixels; pictures, some 2 MB in all
MOST_PIXELS = 60_000_000  # to be unpacked at once, some 200 MB

_SMALL: dict[tuple[str, str, int], str] = {}


def shrunk(data: bytes, side: int = SIDE) -> str:
    """Return a picture, no side longer than `side` pixels, as a data address; "" where it cannot be read."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with (
            warnings.catch_warnings(action="ignore", category=Image.DecompressionBombWarning),
            Image.open(io.BytesIO(data)) as picture,
        ):  # how large it may be is said here
            picture.draft("RGB", (2 * side, 2 * side))  # a JPEG is read no larger than it is shown
            if picture.width * picture.height > MOST_PIXELS:
                return ""
            small = ImageOps.exif_transpose(picture).convert("RGB")
            small.thumbnail((side, side))
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError, ValueError):
        return ""
    out = io.BytesIO()
    small.save(out, "JPEG", quality=80)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode()


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
