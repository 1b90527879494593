"""Three-way merge by row and column: what I changed, laid over what others changed since.

The same function serves an edit, an undo, a workbook sent out and returned, and a copy brought back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.records.kinds.declared import Kind
from fibrebook.register.row_files.site_rows import plain
from fibrebook.words.matching import IntArray, shared_ids, value_codes

UNKNOWN = "not known"  # stands for the value before, where nobody knows it
ROW = ""  # the column of a conflict about a whole row
Choices = Mapping[tuple[str, tuple[Any, ...], str], str]  # (table, key, column) -> "mine" or "theirs"


@dataclass(frozen=True, slots=True)
class Conflict:
    """One cell (or row) that both sides changed; `column` is "" where one side removed the row."""

    table: str
    key: tuple[Any, ...]
    column: str
    base: Any
    theirs: Any
    mine: Any

    def __str__(self) -> str:
        name = "/".join(str(k) for k in self.key if k not in (None, ""))
        if self.column == ROW and self.base == UNKNOWN:
            return f"{self.table} {name}: removed in what came in; whether it was changed since is not known"
        if self.column == ROW:
            return f"{self.table} {name}: {self.theirs} by others, {self.mine} by you"
        if self.base == UNKNOWN:
            told = f"{_shown(self.theirs)} in the register, {_shown(self.mine)} in what came in"
            return f"{self.table} {name}, {self.column}: {told}; which is newer is not known"
        return (
            f"{self.table} {name}, {self.column}: {_shown(self.theirs)} by others, {_shown(self.mine)} by you, "
            f"{_shown(self.base)} before"
        )


def _shown(value: Any) -> str:
    return "blank" if value in (None, "") else repr(value)


class Rows:
    """Several tables of one kind side by side, each row known by an integer that equal keys share."""

    def __init__(self, kind: Kind, *tables: pa.Table) -> None:
        self.kind = kind
        self.tables = [plain(t, kind) for t in tables]
        ids = shared_ids([[t[k] for k in kind.key] for t in self.tables])
        self.count = max((int(i.max(initial=-1)) for i in ids), default=-1) + 1
        self.place = [_places(i, self.count) for i in ids]  # id -> row of that table, -1 = it has no such row
        self.has = [p >= 0 for p in self.place]
        self.offset = np.cumsum([0, *[t.num_rows for t in self.tables]])
        self.joined = pa.concat_tables(self.tables).combine_chunks()

    def codes(self, column: str) -> list[IntArray]:
        """Value of a column as integers by id for each table; null and an absent row = -1."""
        by_row = value_codes([t[column] for t in self.tables])
        return [
            np.where(p >= 0, np.append(c, -1)[p], -1) for c, p in zip(by_row, self.place, strict=True)
        ]  # the appended -1 is what place -1 finds

    def at(self, which: int) -> IntArray:
        """Place of each id's row in `joined` as table `which` has it (-1 where it has none)."""
        return np.where(self.has[which], self.place[which] + self.offset[which], -1)

    def value(self, which: int, column: str, row: int) -> Any:
        """One value, None where that table has no such row."""
        place = int(self.place[which][row])
        return None if place < 0 else self.tables[which][column][place].as_py()

    def key(self, row: int) -> tuple[Any, ...]:
        """Key of a row as a tuple."""
        which = next(i for i, has in enumerate(self.has) if has[row])
        return tuple(self.value(which, k, row) for k in self.kind.key)


def _places(ids: IntArray, count: int) -> IntArray:
    place = np.full(count, -1, np.int64)
    place[ids] = np.arange(len(ids))
    return place


BASE, MINE, THEIRS = 0, 1, 2


def merge(
    base: pa.Table, mine: pa.Table, theirs: pa.Table, kind: Kind, choices: Choices | None = None
) -> tuple[pa.Table, list[Conflict]]:
    """Lay my changes (base to mine) over theirs, cell by cell.

    Parameters
    ----------
    base, mine, theirs : whole tables of the same sites in declared columns; keys unique in each
    choices : for cells (or rows) known to conflict, whose value stands; a chosen one is no conflict any more

    Returns
    -------
    merged : rows of theirs in their order, then rows that I added; a cell in conflict keeps their value
    conflicts : every cell that both changed to different values, every row that one removed and the other changed
    """
    rows = Rows(kind, base, mine, theirs)
    _, in_mine, in_theirs = rows.has
    both = in_mine & in_theirs
    touched_mine, touched_theirs = np.zeros(rows.count, bool), np.zeros(rows.count, bool)
    source: dict[str, IntArray] = {}
    conflicts: list[Conflict] = []
    keep_theirs = rows.at(THEIRS)
    keep_mine = rows.at(MINE)
    for column in kind.values:
        b, m, t = rows.codes(column.name)
        my_change, their_change = m != b, t != b
        touched_mine |= my_change
        touched_theirs |= their_change
        clash = both & my_change & their_change & (m != t)
        take_mine = both & my_change & ~their_change
        for i in np.flatnonzero(clash).tolist():
            conflict = Conflict(
                kind.name, rows.key(i), column.name,
                rows.value(BASE, column.name, i), rows.value(THEIRS, column.name, i), rows.value(MINE, column.name, i),
            )  # fmt: skip
            _decide(conflict, choices, take_mine, i, conflicts)
        source[column.name] = np.where(take_mine | ~in_theirs, keep_mine, keep_theirs)
    keep = _kept_rows(rows, touched_mine, touched_theirs, choices, conflicts)
    order = np.flatnonzero(keep)
    rank = np.where(in_theirs, rows.place[THEIRS], rows.tables[THEIRS].num_rows + rows.place[MINE])
    order = order[np.argsort(rank[order], kind="stable")]
    whole_row = np.where(in_theirs, keep_theirs, keep_mine)
    picked = [rows.joined[n].take(pa.array(source.get(n, whole_row)[order])) for n in kind.names]
    return pa.table(picked, schema=kind.schema), conflicts


def merge_unsure(
    mine: pa.Table, theirs: pa.Table, kind: Kind, choices: Choices | None = None
) -> tuple[pa.Table, list[Conflict]]:
    """Lay rows over theirs of which nobody knows what they were changed from: only blanks are filled.

    Parameters
    ----------
    mine, theirs, choices : as for `merge`

    Returns
    -------
    merged, conflicts : as of `merge`; a value that differs from theirs and a row that is to go are conflicts, a blank
        says nothing
    """
    blank = [theirs[c.name] if c.name in kind.key else pa.nulls(theirs.num_rows, c.arrow_type) for c in kind.columns]
    merged, found = merge(pa.table(blank, schema=kind.schema), mine, theirs, kind, choices)
    return merged, [replace(c, base=UNKNOWN) for c in found]


def _decide(
    conflict: Conflict,
    choices: Choices | None,
    flag: np.ndarray[Any, Any],
    row: int,
    conflicts: list[Conflict],
) -> None:
    choice = (choices or {}).get((conflict.table, conflict.key, conflict.column))
    if choice is None:
        conflicts.append(conflict)
    elif choice == "mine":
        flag[row] = True


def _kept_rows(
    rows: Rows,
    touched_mine: np.ndarray[Any, Any],
    touched_theirs: np.ndarray[Any, Any],
    choices: Choices | None,
    conflicts: list[Conflict],
) -> np.ndarray[Any, Any]:
    """Tell which rows the merged table has: removed on one side and untouched on the other means gone."""
    in_base, in_mine, in_theirs = rows.has
    keep = (in_mine & in_theirs) | (~in_base & (in_mine | in_theirs))
    they_removed = in_base & in_mine & ~in_theirs & touched_mine
    i_removed = in_base & ~in_mine & in_theirs & touched_theirs
    keep |= i_removed  # in conflict, their row stands until somebody decides
    stays = np.zeros(rows.count, bool)
    goes = np.zeros(rows.count, bool)
    for i in np.flatnonzero(they_removed).tolist():
        _decide(
            Conflict(rows.kind.name, rows.key(i), ROW, None, "removed", "changed"),
            choices,
            stays,
            i,
            conflicts,
        )
    for i in np.flatnonzero(i_removed).tolist():
        _decide(
            Conflict(rows.kind.name, rows.key(i), ROW, None, "changed", "removed"),
            choices,
            goes,
            i,
            conflicts,
        )
    return (keep | stays) & ~goes
