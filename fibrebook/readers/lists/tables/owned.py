"""Which cells of a sheet its tables hold, kept by row: lines are many, and each row of a table has the same fields."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.tables.block import Block


class Owned(Collection[Position]):
    """The cells that tables hold: their headings, and where their lines meet their fields.

    What lies there and is another's (a total, a legend, a table laid across) is named elsewhere, so a whole row of
    fields may be told to be held.
    """

    def __init__(self, blocks: Iterable[Block], cells: Iterable[Position] = ()) -> None:
        self._cells = set(cells)
        self._fields: dict[int, list[frozenset[int]]] = {}
        for block in blocks:
            self._cells.update(block.head)
            if block.turned:
                self._cells.update(block.cells())
                continue
            fields = frozenset(block.fields)
            for line in block.lines:
                self._fields.setdefault(line, []).append(fields)
        self._rows = {r for r, _ in self._cells}

    def free(self, row: int, columns: Sequence[int]) -> list[int]:
        """Return those of a row's columns that no table holds."""
        rest = columns
        for fields in self._fields.get(row, ()):
            rest = [c for c in rest if c not in fields]
        if row in self._rows:
            rest = [c for c in rest if (row, c) not in self._cells]
        return list(rest)

    def __contains__(self, at: object) -> bool:
        if not isinstance(at, tuple):
            return False
        return at in self._cells or any(at[1] in fields for fields in self._fields.get(at[0], ()))

    def __iter__(self) -> Iterator[Position]:
        yield from self._cells
        for row, every in self._fields.items():
            yield from ((row, c) for fields in every for c in fields if (row, c) not in self._cells)

    def __len__(self) -> int:
        return len(self._cells) + sum(len(fields) for every in self._fields.values() for fields in every)
