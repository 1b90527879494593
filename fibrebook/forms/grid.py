"""A grid of rows to tick and fill in, with pasting of columns and blocks; what is typed stands in `values`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

HERE = Path(__file__).parent


def col(name: str, title: str, kind: str = "text", **more: Any) -> dict[str, Any]:
    """Return a column: kind is text, swatch (shown), tick, entry or choice (typed; `options`, `list`, `width`)."""
    return {"name": name, "title": title, "kind": kind, **more}


class Grid(anywidget.AnyWidget):
    """Rows of a few shown cells and a few to fill in.

    Attributes
    ----------
    values : one dict a row, column -> what stands in it (ticks as bool, all else as typed); observe it
    faults : "row:column" -> what is wrong, in words; shown in the cell
    ticked_by : column -> the tick that filling it in sets
    """

    _esm = HERE / "grid.js"
    _css = HERE / "grid.css"
    caption = t.Unicode("").tag(sync=True)
    columns = t.List([]).tag(sync=True)
    rows = t.List([]).tag(sync=True)
    values = t.List([]).tag(sync=True)
    faults = t.Dict({}).tag(sync=True)
    ticked_by = t.Dict({}).tag(sync=True)
    row_head = t.Int(0).tag(sync=True)
    painted = t.Int(0).tag(sync=True)

    def show(
        self,
        caption: str,
        columns: Sequence[Mapping[str, Any]],
        rows: Sequence[Mapping[str, Any]],
        values: Sequence[Mapping[str, Any]],
    ) -> None:
        """Show other rows.

        Parameters
        ----------
        rows : cells (column -> text or swatch parts), label (said with each input), locked (columns not to be changed)
        """
        with self.hold_sync():
            self.caption, self.columns = caption, [dict(c) for c in columns]
            self.rows = [{"locked": [], **r} for r in rows]
            self.values = [dict(v) for v in values]
            self.faults = {}
            self.painted += 1

    def mark(self, faults: Sequence[tuple[int, str, str]]) -> None:
        """Show what is wrong in which cell; what was shown before goes."""
        found = {f"{row}:{column}": words for row, column, words in faults}
        if found != self.faults:
            self.faults = found
