"""A sheet as it was found, a windowful of rows at a time: what became of each cell, and pointing at cells and heads."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

HERE = Path(__file__).parent


class FoundView(anywidget.AnyWidget):
    """Shows rows of a sheet; a press on a cell, the head of a column (row 0) or of a row (column 0) chooses it.

    Attributes
    ----------
    heads : one a column: letter, and what it means in words
    rows : one a row: number, means (of a row), cells: text, fate ("used", "left out", "question", "" = blank), why,
        fill ("#rrggbb" or ""), bold, struck
    first, total : number of the first row shown, and of the sheet's last
    chosen : row and column last pointed at; [-1, -1] none; `picks` rises with every pointing
    marked : "row:column" of the cells of what is chosen elsewhere
    """

    _esm = HERE / "found_view.js"
    _css = HERE / "found_view.css"
    caption = t.Unicode("").tag(sync=True)
    heads = t.List([]).tag(sync=True)
    rows = t.List([]).tag(sync=True)
    first = t.Int(1).tag(sync=True)
    total = t.Int(0).tag(sync=True)
    window = t.Int(20).tag(sync=True)
    chosen = t.List([-1, -1]).tag(sync=True)
    picks = t.Int(0).tag(sync=True)
    marked = t.List([]).tag(sync=True)
    painted = t.Int(0).tag(sync=True)

    def __init__(self, on_pick: Callable[[int, int], Any], on_turn: Callable[[], Any], **more: Any) -> None:
        super().__init__(**more)
        self.observe(lambda _: on_pick(*self.chosen), "picks")
        self.observe(lambda _: on_turn(), "first")

    def show(
        self, caption: str, heads: Sequence[Mapping[str, str]], rows: Sequence[Mapping[str, Any]], total: int
    ) -> None:
        """Show other rows; what is drawn already is changed in place."""
        with self.hold_sync():
            self.caption, self.total = caption, total
            self.heads, self.rows = [dict(h) for h in heads], [dict(r) for r in rows]
            self.painted += 1

    def mark(self, cells: Iterable[tuple[int, int]]) -> None:
        """Mark cells, and turn to the first of them where none is in view."""
        found = sorted(set(cells))
        self.marked = [f"{row}:{column}" for row, column in found]
        if found and not any(self.first <= row < self.first + self.window for row, _ in found):
            self.turn_to(found[0][0])

    def turn_to(self, row: int) -> None:
        """Show the window in which a row is."""
        self.first = max(1, min(row - 3, self.total - self.window + 1))
