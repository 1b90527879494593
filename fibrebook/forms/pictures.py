"""A picture on a screen: as wide as the page, but never so small that its words cannot be read; it scrolls then."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.forms.base import html


def picture_html(*drawn: Any) -> str:
    """Return pictures (`drawings.Picture`) below one another as HTML; each can be reached by Tab and scrolled."""
    return "".join(
        f"<div class='fb-picture' tabindex='0' role='region' aria-label='Picture: {_short(p.told)}'>{p.svg}</div>"
        for p in drawn
    )


def picture_view(drawn: Any, *classes: str) -> w.HTML:
    """Return a picture as a widget."""
    return html(picture_html(drawn), *classes)


def _short(told: str, most: int = 120) -> str:
    return escape(told if len(told) <= most else told[: most - 1] + "…", quote=True)
