"""Sheets as rows of a kind of record, each row knowing the sheet and row it came from, each fault its cell."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.errors import Problem
from fibrebook.readers.files.about_sheet import LISTS
from fibrebook.readers.files.report import CellProblem
from fibrebook.readers.files.sheets import Sheet, is_blank, place, shown, wrong
from fibrebook.records import KINDS, Kind, to_table
from fibrebook.register.row_files.undeclared import REMEDY
from fibrebook.words.matching import shared_ids
from fibrebook.words.nearest import did_you_mean

REMOVE = "remove"  # the last column of every sheet: "yes" there removes the row
YES, NO = {"yes", "y", "true", "x", "1", "1.0"}, {"no", "n", "false", "0", "0.0"}


@dataclass
class Incoming:
    """Rows of one table as a file gives them.

    Attributes
    ----------
    values : declared column -> raw cell values
    places : sheet and row (as the spreadsheet shows it) of each row
    letters : declared column -> column number in the sheet, where the value stands in one cell
    said : column -> which rows say something of it; a column that is not named here is said by every row
    table : the values as typed columns, after `convert`
    bad : rows with something wrong
    cells : column -> sheet, row and column number of each row's cell, where lines of several sheets made the row
    removal : the rows are to be removed; only their keys count
    widths : how many cells each row has, where lines of a .csv may end early; empty = all have all
    """

    kind: Kind
    values: dict[str, list[Any]]
    places: list[tuple[str, int]]
    letters: dict[str, int] = field(default_factory=dict)
    said: dict[str, np.ndarray] = field(default_factory=dict)
    removal: bool = False
    table: pa.Table = field(default_factory=lambda: pa.table({}))
    bad: set[int] = field(default_factory=set)
    cells: dict[str, list[tuple[str, int, int | None]]] = field(default_factory=dict)
    widths: list[int] = field(default_factory=list)

    def at(self, row: int, column: str = "") -> tuple[str, int, int | None]:
        """Return sheet, row and column number of a cell, or of a row (column None)."""
        if column in self.cells:
            return self.cells[column][row]
        return (*self.places[row], self.letters.get(column))

    def where(self, row: int, column: str = "") -> str:
        """Return how a cell, or a row, is named to people."""
        return place(*self.at(row, column), column)

    def wrong(self, row: int, column: str, what: str, remedy: str, key: tuple[Any, ...] = ()) -> CellProblem:
        """Return a problem at a cell, or at a whole row (column "")."""
        sheet, number, letter = self.at(row, column)
        return replace(wrong(sheet, number, letter, column, what, remedy, self.kind.name), key=key)

    def keys(self) -> list[tuple[Any, ...]]:
        """Return the key of each row; what is wrong or blank in it is ""."""
        columns = []
        for name in self.kind.key:
            if name in self.table.column_names:
                columns.append(self.table[name].to_pylist())
            else:
                columns.append(["" if is_blank(v) else v for v in self.values.get(name, [""] * len(self.places))])
        return [tuple("" if v is None else v for v in key) for key in zip(*columns, strict=True)]

    def rows(self, which: Sequence[int], removal: bool) -> Incoming:
        """Return some of the rows; of those to be removed only the keys."""
        names = [n for n in self.values if not removal or n in self.kind.key]
        values = {n: [self.values[n][i] for i in which] for n in names}
        widths = [self.widths[i] for i in which] if self.widths else []
        places = [self.places[i] for i in which]
        return Incoming(self.kind, values, places, self.letters, removal=removal, widths=widths)


@dataclass
class Taken:
    """What a file holds: rows by table, and what was wrong or worth saying on the way."""

    tables: list[Incoming] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    skipped: list[tuple[str, str]] = field(default_factory=list)  # sheet and why


def take_sheets(sheets: Iterable[Sheet], undeclared: Collection[str] = ()) -> Taken:
    """Take sheets named after tables, their first row holding column names.

    undeclared : tables of the register, and columns as "cables.drum", whose plugin is not here
    """
    taken = Taken()
    seen: dict[str, str] = {}
    for sheet in sheets:
        name = sheet.name.strip()
        if name.casefold() in seen:
            what = f"there is a sheet {seen[name.casefold()]!r} too"
            taken.problems.append(wrong(sheet.name, None, None, "", what, "keep one of them"))
        elif name in KINDS:
            take_sheet(sheet, KINDS[name], taken, undeclared)
        elif sheet.hidden:
            if name != LISTS:
                taken.skipped.append((sheet.name, "a hidden sheet that is no table"))
        elif name in undeclared:
            what, remedy = f"the table {name!r} belongs to a plugin that is not here", f"{REMEDY}; or delete the sheet"
            taken.problems.append(wrong(sheet.name, None, None, "", what, remedy))
        else:
            remedy = did_you_mean(name, KINDS, 1, f"sheets are: {', '.join(KINDS)}")
            taken.problems.append(wrong(sheet.name, None, None, "", f"there is no table {name!r}", remedy))
        seen.setdefault(name.casefold(), sheet.name)
    return taken


def take_sheet(sheet: Sheet, kind: Kind, taken: Taken, undeclared: Collection[str] = ()) -> None:
    """Take one sheet's rows of a kind, those to be removed apart; `undeclared` as for `take_sheets`."""
    if not any(not is_blank(v) for row in sheet.rows for v in row):
        taken.skipped.append((sheet.name, "an empty sheet"))
        return
    columns, problems = _read_header(sheet, kind, undeclared)
    taken.problems += problems
    if problems:
        return
    numbers = [r for r, row in enumerate(sheet.rows[1:], 2) if any(not is_blank(v) for v in row)]
    faults = {at: what for at, what in sheet.faults.items() if at[0] > 1}
    numbers = sorted({*numbers, *(r for r, _ in faults)})
    values = {n: [sheet.cell(r, c) for r in numbers] for n, c in columns.items()}
    removes = values.pop(REMOVE, [""] * len(numbers))
    letters = {n: c for n, c in columns.items() if n != REMOVE}
    widths = [len(sheet.rows[r - 1]) if r <= len(sheet.rows) else 0 for r in numbers]
    whole = Incoming(kind, values, [(sheet.name, r) for r in numbers], letters, widths=widths)
    marks = [faults.get((r, columns.get(REMOVE, 0))) for r in numbers]
    wanted = [None if mark else _wants_removal(v) for mark, v in zip(marks, removes, strict=True)]
    for i, want in enumerate(wanted):
        if want is None:
            what = f"holds {marks[i]}" if marks[i] else f"{shown(removes[i])[:40]!r} is neither yes nor no"
            remedy = "write yes to remove the row, or leave it blank"
            taken.problems.append(wrong(sheet.name, numbers[i], columns[REMOVE], REMOVE, what, remedy, kind.name))
    taken.problems += _stray_cells(sheet, kind, set(columns.values()), numbers)
    for removal in (False, True):
        which = [i for i, want in enumerate(wanted) if want is removal]
        if which:
            part = whole.rows(which, removal)
            taken.problems += convert(part, faults)
            taken.tables.append(part)


def _wants_removal(value: Any) -> bool | None:
    if is_blank(value):
        return False
    word = str(value).strip().casefold()
    return True if word in YES else False if word in NO else None


def _read_header(sheet: Sheet, kind: Kind, undeclared: Collection[str]) -> tuple[dict[str, int], list[Problem]]:
    """Return column name -> column number; what is wrong with the first row."""
    columns: dict[str, int] = {}
    problems: list[Problem] = []

    def bad(column: int | None, name: str, what: str, remedy: str) -> None:
        problems.append(wrong(sheet.name, 1, column, name, what, remedy, kind.name))

    for number, value in enumerate(sheet.rows[0] if sheet.rows else (), 1):
        if (1, number) in sheet.faults:
            bad(number, "", f"holds {sheet.faults[1, number]}", "write the column's name")
        if is_blank(value):
            continue
        name = shown(value).strip()
        if name in columns:
            bad(number, name, f"column {name!r} stands twice", "keep one of them")
        elif name in kind.by_name or name == REMOVE:
            columns[name] = number
        elif f"{kind.name}.{name}" in undeclared:
            bad(
                number, name, f"column {name!r} belongs to a plugin that is not here", f"{REMEDY}; or delete the column"
            )
        else:
            remedy = did_you_mean(name, [*kind.names, REMOVE], 1, f"columns are: {', '.join(kind.names)}")
            bad(number, name, f"there is no column {name!r} in the table {kind.name!r}", remedy)
    if not columns and not problems:
        bad(None, "", "row 1 is blank", f"row 1 holds the column names: {', '.join(kind.names)}")
        return columns, problems
    for name in kind.key:
        if name not in columns and kind.by_name[name].required:
            bad(None, name, f"the key column {name!r} is missing", "write it in row 1 and fill it for every row")
    return columns, problems


def _stray_cells(sheet: Sheet, kind: Kind, named: set[int], numbers: list[int]) -> list[Problem]:
    """Values in columns that bear no name: one problem a column."""
    found: dict[int, int] = {}
    for r in numbers:
        row = sheet.rows[r - 1] if r <= len(sheet.rows) else ()
        for c, value in enumerate(row, 1):
            if c not in named and c not in found and not is_blank(value):
                found[c] = r
    for r, c in sheet.faults:
        if r > 1 and c not in named:
            found[c] = min(r, found.get(c, r))
    return [
        wrong(sheet.name, r, c, "", "has a value, but row 1 names no column here", "name it or clear it", kind.name)
        for c, r in found.items()
    ]


def convert(part: Incoming, faults: Mapping[tuple[int, int], str] | None = None) -> list[Problem]:
    """Type the rows' values into `part.table`; return every cell that does not fit, named as the sheet shows it."""
    problems: list[Problem] = []
    told: set[tuple[int, str]] = set()
    names = {c: n for n, c in part.letters.items()}
    index = {number: i for i, (_, number) in enumerate(part.places)}
    for (row, column), what in (faults or {}).items():
        if row in index and (column in names):
            i, name = index[row], names[column]
            told.add((i, name))
            part.bad.add(i)
            problems.append(part.wrong(i, name, f"holds {what}", "write the value itself"))
    part.table, found = to_table(part.kind, part.values)
    keys = part.keys() if found else []
    for problem in found:
        if problem.row is not None and (problem.row, problem.column) not in told:
            part.bad.add(problem.row)
            found_at = keys[problem.row]
            problems.append(part.wrong(problem.row, problem.column, problem.what, problem.remedy, found_at))
    return sorted(problems, key=lambda p: (p.row or 0, part.letters.get(p.column, 0)))


def twice(parts: Sequence[Incoming]) -> list[Problem]:
    """Name every row whose key an earlier row of the same table has, with both rows."""
    problems: list[Problem] = []
    by_kind: dict[str, list[Incoming]] = {}
    for part in parts:
        by_kind.setdefault(part.kind.name, []).append(part)
    for same in by_kind.values():
        ids = shared_ids([[p.table[k] for k in p.kind.key] for p in same])
        first: dict[int, tuple[Incoming, int]] = {}
        for part, own in zip(same, ids, strict=True):
            for i, id_ in enumerate(own.tolist()):
                if i in part.bad:
                    continue
                if id_ not in first:
                    first[id_] = (part, i)
                    continue
                other, j = first[id_]
                key = tuple(part.table[k][i].as_py() for k in part.kind.key)
                what = f"the key {'/'.join(str(k) for k in key if k != '')} stands in row {other.places[j][1]} already"
                problems.append(part.wrong(i, "", what, "keep one of the two rows", key))
                part.bad.add(i)
    return problems
