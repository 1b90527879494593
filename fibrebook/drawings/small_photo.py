"""A photo made small, and drawn anew: what was hidden in its file does not come along."""

from __future__ import annotations

import io
import warnings

MOST_PIXELS = 60_000_000  # to be unpacked at once, some 200 MB


def small_jpeg(data: bytes, side: int) -> bytes:
    """Return a picture, no side longer than `side` pixels, as a JPEG; b"" where it cannot be read."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with (
            warnings.catch_warnings(action="ignore", category=Image.DecompressionBombWarning),
            Image.open(io.BytesIO(data)) as picture,
        ):  # how large it may be is said here
            picture.draft("RGB", (2 * side, 2 * side))  # a JPEG is read no larger than it is shown
            if picture.width * picture.height > MOST_PIXELS:
                return b""
            small = ImageOps.exif_transpose(picture).convert("RGB")
            small.thumbnail((side, side))
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError, ValueError):
        return b""
    out = io.BytesIO()
    small.save(out, "JPEG", quality=80)
    return out.getvalue()
