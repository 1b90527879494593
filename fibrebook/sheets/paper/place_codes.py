"""The code of a place: the site's label and what it is, as one line of text, and as a QR code (ISO/IEC 18004).

``Campus/cable/DH-EN%2F1``: parts with slashes between them; a slash or percent sign within a part, and what is neither
a letter nor a digit nor a plain sign, is written as % and its bytes (RFC 3986). It bears no commit: a label stays for
years. It is an address of the front page without its screen.
"""

from __future__ import annotations

import io
from functools import lru_cache
from urllib.parse import quote, unquote

from fibrebook.errors import FibrebookError, InputError

MISSING = (
    "a PDF needs the packages typst, segno and pillow, which are not installed here: pip install 'fibrebook[paper]'"
)
MOST_LETTERS = 400  # still a code that a phone reads; what is longer names the site alone


def place_code(site: str, *parts: str) -> str:
    """Return the code of a place at a site: ``place_code("Mill", "cable", "M1")`` is ``Mill/cable/M1``."""
    whole = "/".join(quote(p, safe=" ") for p in (site, *parts))
    return whole if len(whole) <= MOST_LETTERS else quote(site, safe=" ")[:MOST_LETTERS]


def read_place_code(text: str) -> tuple[str, ...]:
    """Return the parts of a code: the site's label, and what it names there.

    Raises
    ------
    InputError : a part is blank
    """
    parts = tuple(unquote(p) for p in text.split("/"))
    if not all(parts):
        raise InputError(f"{text[:60]!r} is no code of a place: a part of it is blank")
    return parts


@lru_cache(maxsize=4096)
def qr_picture(code: str) -> bytes:
    """Return a code as a QR code, an SVG, with the quiet zone of four modules that the standard wants.

    Raises
    ------
    FibrebookError : what makes codes is not installed
    """
    try:
        import segno
    except ImportError:
        raise FibrebookError(MISSING) from None
    out = io.BytesIO()
    segno.make_qr(code, error="m").save(out, kind="svg", border=4, xmldecl=False, svgns=True, nl=False)
    return out.getvalue()
