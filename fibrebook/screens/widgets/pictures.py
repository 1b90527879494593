"""A picture on a screen: as wide as the page, but never so small that its words cannot be read; it scrolls then."""

from __future__ import annotations

import math
import re
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.screens.widgets.controls import html

LEAST_PX = 12  # the smallest letters on a page that is narrow, or zoomed; screen.css lets them be 10.4 on a wide one


def picture_html(*drawn: Any) -> str:
    """Return pictures (`drawings.Picture`) below one another as HTML; each can be reached by Tab and scrolled."""
    return "".join(
        f"<div class='fb-picture' style='--fb-least:{_least_px(p)}px' tabindex='0' role='region' "
        f"aria-label='Picture: {_short(p.told)}'>{p.svg}</div>"
        for p in drawn
    )


def _least_px(drawn: Any) -> int:
    """Return the width at which the picture's smallest letters are as large as LEAST_PX."""
    letters = [float(size) for size in re.findall(r'font-size="([\d.]+)"', drawn.svg)]
    found: int = math.ceil(drawn.width * LEAST_PX / min(letters, default=LEAST_PX))
    return found


def picture_view(drawn: Any, *classes: str) -> w.HTML:
    """Return a picture as a widget."""
    return html(picture_html(drawn), *classes)


def _short(told: str, most: int = 120) -> str:
    return escape(told if len(told) <= most else told[: most - 1] + "…", quote=True)
