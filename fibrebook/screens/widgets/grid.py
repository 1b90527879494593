"""A grid of rows to tick and fill in, with pasting of columns and blocks; what is typed stands in `values`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

from fibrebook.screens.widgets.cell_script import with_cells

HERE = Path(__file__).parent


def col(name: str, title: str, kind: str = "text", **more: Any) -> dict[str, Any]:
    """Return a column: kind is text, swatch (shown), tick, entry or choice (typed; `options`, `list`, `width`)."""
    return {"name": name, "title": title, "kind": kind, **more}


def late_words(subject: str) -> str:
    """Return what is said where something was typed into a list while another one took its place."""
    return (
        f"what was typed last stood in the list of {subject}, which was just being replaced; it was not taken in: "
        "type or paste it again"
    )


class Grid(anywidget.AnyWidget):
    """Rows of a few shown cells and a few to fill in.

    The page sends single cells as they are filled in, each by its row's label, and keeps them until they were heard: so
    rows may be shown anew at any time, and nothing that was typed meanwhile is lost or lands in another list.

    Attributes
    ----------
    subject : what the rows are of; what the page still sends of an older subject is not taken, and `late` is told
    values : one dict a row, column -> what stands in it (ticks as bool, all else as typed); observe it
    faults : "row:column" -> what is wrong, in words; shown in the cell
    ticked_by : column -> the tick that filling it in sets
    all_needs : tick -> the column that must be filled in where "All" is to tick a row
    heard : the page's last message that was taken in
    """

    _esm = with_cells("grid.js")
    _css = HERE / "grid.css"
    caption = t.Unicode("").tag(sync=True)
    subject = t.Unicode("").tag(sync=True)
    columns = t.List([]).tag(sync=True)
    rows = t.List([]).tag(sync=True)
    values = t.List([]).tag(sync=True)
    faults = t.Dict({}).tag(sync=True)
    ticked_by = t.Dict({}).tag(sync=True)
    all_needs = t.Dict({}).tag(sync=True)
    row_head = t.Int(0).tag(sync=True)
    painted = t.Int(0).tag(sync=True)
    heard = t.Int(0).tag(sync=True)

    def __init__(self, late: Callable[[str], Any] | None = None, **more: Any) -> None:
        super().__init__(**more)
        self._late = late or (lambda words: None)
        self.on_msg(lambda _, content, __: self.typed(**content))

    def show(
        self,
        caption: str,
        columns: Sequence[Mapping[str, Any]],
        rows: Sequence[Mapping[str, Any]],
        values: Sequence[Mapping[str, Any]],
        subject: str | None = None,
    ) -> None:
        """Show other rows; the same ones again are left as they are.

        Parameters
        ----------
        subject : what the rows are of (None: the caption says it)
        rows : cells (column -> text or swatch parts), label (said with each input), locked (columns not to be changed)
        """
        now = {
            "subject": caption if subject is None else subject, "caption": caption,
            "columns": [dict(c) for c in columns], "rows": [{"locked": [], **r} for r in rows],
            "values": [dict(v) for v in values],
        }  # fmt: skip
        if all(getattr(self, name) == value for name, value in now.items()):
            return
        with self.hold_sync():
            for name, value in now.items():
                setattr(self, name, value)
            self.faults = {}
            self.painted += 1

    def fill(self, values: Sequence[Mapping[str, Any]]) -> None:
        """Let other values stand in the rows shown."""
        with self.hold_sync():
            self.values = [dict(v) for v in values]
            self.painted += 1

    def typed(self, subject: str, number: int, cells: Sequence[tuple[str, str, Any]]) -> None:
        """Take in what the page sends: (row's label, column, what stands there now) each."""
        with self.hold_sync():
            self.heard = number
            place = {r["label"]: i for i, r in enumerate(self.rows)}
            known = {c["name"] for c in self.columns}
            if subject != self.subject or any(label not in place or column not in known for label, column, _ in cells):
                self._late(subject)
                return
            values = [dict(v) for v in self.values]
            for label, column, value in cells:
                if column not in self.rows[place[label]]["locked"]:
                    values[place[label]][column] = value
            self.values = values

    def mark(self, faults: Sequence[tuple[int, str, str]]) -> None:
        """Show what is wrong in which cell; what was shown before goes."""
        found = {f"{row}:{column}": words for row, column, words in faults}
        if found != self.faults:
            self.faults = found
