"""One table of a sheet: its headings, its lines, and the titles that hold for it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.tables.grid import Grid


@dataclass
class Block:
    """One table.

    Attributes
    ----------
    turned : its lines run across: line numbers are columns, field numbers rows
    head : cells of its headings; heads : field -> the heading's text, upper rows first, parted by " / "
    lines : numbers of its lines; fields : numbers of its fields
    titles : cells that stand above it or between its lines -> the line number from which they hold
    without : cells among its lines that are not its own: a legend beside it, another table
    """

    grid: Grid
    turned: bool
    head: list[Position]
    heads: dict[int, str]
    lines: list[int]
    fields: list[int]
    titles: dict[Position, int] = field(default_factory=dict)
    without: Sequence[Collection[Position]] = ()
    _mine: dict[Position, str] | None = field(default=None, repr=False)

    def at(self, line: int, field_: int) -> Position:
        """Return the cell of a line and a field."""
        return (field_, line) if self.turned else (line, field_)

    def text(self, line: int, field_: int) -> str:
        """Return the text of a line and a field; "" where the cell is not its own."""
        at = (field_, line) if self.turned else (line, field_)
        return self._mine.get(at, "") if self._mine is not None else self._looked_up(at)

    def _looked_up(self, at: Position) -> str:
        return "" if any(at in other for other in self.without) else self.grid.text(at)

    def settle(self) -> None:
        """Remember which texts are its own: from here on neither its lines' extent nor what is not its own changes."""
        if not self.grid.home and not any(self._meets(other) for other in self.without):
            self._mine = self.grid.texts  # the usual table: nothing among its lines is another's
            return
        every = (self.at(i, j) for i in self.lines for j in self.fields)
        self._mine = {at: text for at in every if (text := self._looked_up(at))}

    def _meets(self, other: Collection[Position]) -> bool:
        """Whether any of the cells lies among its lines; the smaller side is gone through."""
        if len(other) > len(self.lines) * len(self.fields):
            return any(self.at(i, j) in other for i in self.lines for j in self.fields)
        lines, fields = set(self.lines), set(self.fields)
        along, across = (1, 0) if self.turned else (0, 1)
        return any(at[along] in lines and at[across] in fields for at in other)

    def cells(self) -> list[Position]:
        """Return the cells of its lines in which something stands."""
        texts, others = self.grid.texts, [o for o in self.without if o]
        if self.turned:
            every = [(j, i) for i in self.lines for j in self.fields if (j, i) in texts]
        else:
            every = [(i, j) for i in self.lines for j in self.fields if (i, j) in texts]
        return [at for at in every if not any(at in o for o in others)] if others else every

    @property
    def first(self) -> Position:
        """The first cell of it, by which it is known."""
        return min(self.head) if self.head else self.at(self.lines[0], self.fields[0])
