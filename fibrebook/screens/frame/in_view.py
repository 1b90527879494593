"""Bringing an answer into view: who chose it by a row far down the page must not look for it."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets as t


class InView(anywidget.AnyWidget):
    """Shows nothing; `call` scrolls to what stands next in the page, where that is out of view, and goes there."""

    _esm = Path(__file__).parents[1] / "widgets" / "in_view.js"
    calls = t.Int(0).tag(sync=True)

    def call(self) -> None:
        """Bring what follows into view, and the keyboard with it."""
        self.calls += 1
