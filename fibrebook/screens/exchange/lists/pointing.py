"""What was pointed at on a list, what became of it, and saying what it means."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.readers.files.limits import column_letter
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE
from fibrebook.readers.lists.columns import ListColumn
from fibrebook.readers.lists.tables.roles import ROLES
from fibrebook.screens.exchange.lists.shown import ListShown, meaning_of, meanings_of_a_row
from fibrebook.screens.frame.screen import button, html, row, section

INITIAL = {"description_width": "initial"}
AS_IT_IS = "as it is read now"
Say = Callable[[int | None, int | None, str], Any]


class Pointing(w.VBox):
    """Shows the cell, column or row that was pointed at; `say` is called with row, column and what it means."""

    def __init__(self, say: Say) -> None:
        self._say = say
        self._row = self._column = -1
        self._silent = False
        told = "Press the head of a column or a row, or a cell, to see its records and to say what it means."
        self._about = html(f"<div>{told}</div>", "fb-pointed")
        self.column = self._choice("The column means", "fb-column-means", self._column_said)
        self.line = self._choice("The row is", "fb-row-is", self._row_said)
        self.words = w.Text(description="The cell says", style=INITIAL, continuous_update=False)
        self.words.add_class("fb-cell-says")
        self._apply = button("Read it so", self._cell_said, "fb-read-so", once=True)
        self._cell = row(self.words, self._apply)
        self._help = html("", "fb-cell-help")
        super().__init__(
            [section("Say what it means", self._about, row(self.column, self.line), self._cell, self._help)]
        )
        self.add_class("fb-pointing")
        self._show(False, False, False)

    def _choice(self, title: str, name: str, said: Callable[[str], Any]) -> w.Dropdown:
        made = w.Dropdown(description=title, options=[AS_IT_IS], style=INITIAL)
        made.add_class(name)
        made.observe(lambda change: None if self._silent or change["new"] == AS_IT_IS else said(change["new"]), "value")
        return made

    def _show(self, column: bool, line: bool, cell: bool) -> None:
        for part, there in ((self.column, column), (self.line, line), (self._cell, cell), (self._help, cell)):
            part.layout.display = None if there else "none"

    def show(self, shown: ListShown, sheet: str, at: tuple[int, int], seen: range) -> None:
        """Show what was pointed at: a cell, the head of a column (row 0) or of a row (column 0)."""
        self._row, self._column = at
        found = shown.column_at(sheet, *at, seen) if at[1] > 0 or at[0] > 0 else None
        told = []
        grid = shown.reading.whole.grids[sheet]
        text = grid.texts.get(at, "") if at[0] and at[1] else ""
        if at[0] and at[1]:
            name = f"{column_letter(at[1])}{at[0]}"
            told.append(f"<b>Cell {name}</b> {escape(repr(text)) if text else 'is blank'}")
            told += [escape(shown.told((sheet, at)))] if text else []
        elif at[0]:
            told.append(f"<b>Row {at[0]}</b>")
        else:
            told.append(f"<b>Column {column_letter(at[1])}</b>")
        if found is not None:
            heading = f" {escape(repr(found[1].heading))}" if found[1].heading else ""
            told.append(f"its column{heading}: {escape(meaning_of(found[1]) or 'no meaning yet')}")
        self._about.value = f"<div role='status' aria-live='polite'>{'; '.join(told)}.</div>"
        turned = found is not None and found[0].turned
        self._offer(found[1] if found else None, at, turned)
        self._show(found is not None or at[0] == 0 or (at[1] == 0 and turned), at[0] > 0 and not turned, bool(text))
        self._silent = True
        self.words.value = text
        self._silent = False
        outside = found is None
        self._help.value = (
            "Outside the lines: <i>cable C1</i>, <i>panel P1</i>, <i>site Mill</i>, <i>note</i> or <i>leave out</i>."
            if outside
            else "It holds for every cell of the column with the same text; <i>note</i> keeps it as a note, "
            "<i>leave out</i> leaves it out."
        )

    def _offer(self, column: ListColumn | None, at: tuple[int, int], turned: bool) -> None:
        self._silent = True
        roles = [AS_IT_IS, *(words for role, words in ROLES.items() if role != LEAVE_OUT), LEAVE_OUT]
        self.column.options = roles
        now = ROLES.get(column.role, "") if column is not None else ""
        now = LEAVE_OUT if column is not None and column.role == LEAVE_OUT else now
        self.column.value = now if now in roles and not (column and column.asked) else AS_IT_IS
        self.line.options = [AS_IT_IS, *meanings_of_a_row()]
        self.line.value = AS_IT_IS
        self._turned = turned
        self._silent = False

    def _column_said(self, words: str) -> None:
        if self._turned:
            self._say(self._row, None, words)
        else:
            self._say(None, self._column, words)

    def _row_said(self, words: str) -> None:
        self._say(self._row, None, words)

    def _cell_said(self) -> None:
        words = " ".join(self.words.value.split())
        self._say(self._row, self._column, words or NOTE)
