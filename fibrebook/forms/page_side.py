"""A screen's own side in the page: keys stay inside it; what is done on it reaches one thread, in order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget


class PageSide(anywidget.AnyWidget):
    """Shows nothing. `drawn` is called each time the screen appears in a page, in the loop that hears its messages."""

    _esm = Path(__file__).parent / "page_side.js"

    def __init__(self, drawn: Callable[[], Any]) -> None:
        super().__init__()
        self.on_msg(lambda _, content, __: drawn() if content == "drawn" else None)

    def __repr__(self) -> str:
        return "PageSide()"  # a screen's own text, kept in notebooks, names its parts: without places in memory
