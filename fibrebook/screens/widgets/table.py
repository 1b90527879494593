"""A table on a screen: text in the page; sorted, searched and paged in Python, however many rows it has."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import numpy as np
import traitlets as t

from fibrebook.screens.widgets.cell_script import with_cells

if TYPE_CHECKING:
    import pandas as pd

HERE = Path(__file__).parent
PAGE = 50
Render = Mapping[str, Callable[[Any], Any]]


class Table(anywidget.AnyWidget):
    """Show a DataFrame. `show` gives it another one.

    Attributes
    ----------
    picked : position in the DataFrame of the row that was clicked (-1 none); needs `clickable`
    picks : rises with every click, so that clicking the same row again is noticed
    """

    _esm = with_cells("table.js")
    _css = HERE / "table.css"
    caption = t.Unicode("").tag(sync=True)
    columns = t.List([]).tag(sync=True)
    rows = t.List([]).tag(sync=True)
    numbers = t.List([]).tag(sync=True)
    total = t.Int(0).tag(sync=True)
    pages = t.Int(1).tag(sync=True)
    page = t.Int(0).tag(sync=True)
    find = t.Unicode("").tag(sync=True)
    order = t.List([-1, False]).tag(sync=True)
    clickable = t.Bool(False).tag(sync=True)
    sortable = t.Bool(True).tag(sync=True)
    picked = t.Int(-1).tag(sync=True)
    picks = t.Int(0).tag(sync=True)
    painted = t.Int(0).tag(sync=True)

    def __init__(self, frame: pd.DataFrame, render: Render | None = None, page_rows: int = PAGE, **more: Any) -> None:
        super().__init__(**more)
        self._render, self._page_rows = dict(render or {}), page_rows
        self.show(frame)
        self.observe(self._asked, ["page", "find", "order"])

    def show(self, frame: pd.DataFrame) -> None:
        """Show another DataFrame; the page, search and order are kept where they can be."""
        self._frame = frame
        self._texts: list[str] | None = None
        self._paint()

    def _asked(self, change: Any) -> None:
        if change["name"] != "page" and self.page:
            self.page = 0  # paints by itself
            return
        self._paint()

    def _which(self) -> np.ndarray:
        """Positions of the rows that are searched for, in the order asked for."""
        which = np.arange(len(self._frame))
        words = self.find.casefold().split()
        if words:
            if self._texts is None:
                cells = [self._shown(n) for n in self._frame.columns]
                self._texts = [" ".join(map(_text, row)).casefold() for row in zip(*cells, strict=True)]
            which = np.array([i for i, text in enumerate(self._texts) if all(w in text for w in words)], int)
        by, down = self.order
        if 0 <= by < len(self._frame.columns):
            column = self._frame.iloc[:, by]
            rank = np.array(_order(column))
            inverse = np.empty(len(rank), int)
            inverse[rank] = np.arange(len(rank))
            which = which[np.argsort(-inverse[which] if down else inverse[which], kind="stable")]
        return which

    def _shown(self, name: Any, which: Any = slice(None)) -> list[Any]:
        render: Callable[[Any], Any] = self._render.get(name, plain_text)
        return [render(v) for v in self._frame[name].iloc[which].tolist()]

    def _paint(self) -> None:
        which = self._which()
        pages = max(1, -(-len(which) // self._page_rows))
        page = min(max(self.page, 0), pages - 1)
        now = which[page * self._page_rows : (page + 1) * self._page_rows]
        cells = [self._shown(n, now) for n in self._frame.columns]
        with self.hold_sync():
            self.columns = [{"title": heading(n), "numeric": _is_number(self._frame[n])} for n in self._frame.columns]
            self.rows = [list(r) for r in zip(*cells, strict=True)]
            self.numbers = [int(i) for i in now]
            self.total, self.pages = len(which), pages
            self.page = page
            self.painted += 1


def heading(name: Any) -> str:
    """Return a column name as people read it: a_port -> A port, loss_db -> Loss (dB)."""
    units = {"_db": " (dB)", "_dbm": " (dBm)", "_nm": " (nm)", "_m": " (m)", "_utc": " (UTC)", "_km": " (km)"}
    text = str(name)
    for tail, unit in units.items():
        if text.endswith(tail):
            text = text.removesuffix(tail) + unit
            break
    text = text.replace("_", " ")
    return text[:1].upper() + text[1:]


def plain_text(value: Any) -> str:
    """Return a cell's value as it is shown: blank for nothing, days as 2026-03-31, numbers to a useful place."""
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float | np.floating):
        if value != value:
            return ""
        return f"{value:.4g}" if abs(float(value)) < 1e4 else f"{value:.0f}"
    if hasattr(value, "hour") and hasattr(value, "date"):
        midnight = not (value.hour or value.minute or value.second)
        found: str = value.strftime("%Y-%m-%d" if midnight else "%Y-%m-%d %H:%M")
        return found
    if isinstance(value, tuple | list):
        return " / ".join(plain_text(v) for v in value if v not in (None, ""))
    return str(value)


def exact_text(value: Any) -> str:
    """Return a cell's value as `plain_text` does, but numbers to the last place: two that differ never look alike."""
    return f"{value:.15g}" if isinstance(value, float) and value == value else plain_text(value)


def _text(cell: Any) -> str:
    return str(cell["word"]) if isinstance(cell, dict) else str(cell)


def _is_number(column: pd.Series[Any]) -> bool:
    return getattr(column.dtype, "kind", "O") in "if"


def _order(column: pd.Series[Any]) -> list[int]:
    """Positions in rising order: numbers as numbers, labels 2 before 10, blanks last."""
    from fibrebook.words.labels import natural

    values = column.tolist()
    blank = [plain_text(v) == "" for v in values]
    if _is_number(column) or getattr(column.dtype, "kind", "O") in "M":
        return sorted(range(len(values)), key=lambda i: (blank[i], 0 if blank[i] else values[i]))
    return sorted(range(len(values)), key=lambda i: (blank[i], natural(plain_text(values[i]))))
