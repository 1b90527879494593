"""One table of a sheet: its headings, its lines, and the titles that hold for it."""

from __future__ import annotations

from collections.abc import Container, Sequence
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
    without: Sequence[Container[Position]] = ()

    def at(self, line: int, field_: int) -> Position:
        """Return the cell of a line and a field."""
        return (field_, line) if self.turned else (line, field_)

    def text(self, line: int, field_: int) -> str:
        """Return the text of a line and a field; "" where the cell is not its own."""
        at = self.at(line, field_)
        return "" if any(at in other for other in self.without) else self.grid.text(at)

    def cells(self) -> list[Position]:
        """Return the cells of its lines in which something stands."""
        every = (self.at(i, j) for i in self.lines for j in self.fields)
        return [at for at in every if at in self.grid.texts and not any(at in other for other in self.without)]

    @property
    def first(self) -> Position:
        """The first cell of it, by which it is known."""
        return min(self.head) if self.head else self.at(self.lines[0], self.fields[0])
