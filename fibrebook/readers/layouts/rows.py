"""From lines to records: each line makes rows in several tables, equal ones become one, different ones are named."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from fibrebook.errors import Problem
from fibrebook.readers.files.sheets import place, shown, wrong
from fibrebook.readers.layouts.layout import Aggregate, RecordTemplate
from fibrebook.readers.layouts.lines import ListLine
from fibrebook.records import KINDS, Kind, as_label


@dataclass
class Cell:
    """A value and where it stands: sheet, row, column (None: it is made of no single cell)."""

    value: Any
    sheet: str
    row: int
    column: int | None

    def where(self, name: str) -> str:
        """Return how it is named to people."""
        return place(self.sheet, self.row, self.column, name)


@dataclass
class Record:
    """One record made of one or several lines; `blank`: where a part of its key should stand and does not."""

    sheet: str
    row: int
    key: tuple[Any, ...]
    cells: dict[str, Cell] = field(default_factory=dict)
    blank: dict[str, Cell] = field(default_factory=dict)


@dataclass
class Records:
    """Records by table, in the order in which lines make them."""

    tables: dict[str, dict[tuple[Any, ...], Record]] = field(default_factory=dict)
    compared: list[tuple[Record, str, Cell]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def make_records(lines: Sequence[ListLine], rows: Sequence[RecordTemplate]) -> Records:
    """Make the records of all lines."""
    out = Records()
    for made in rows:
        kind = KINDS[made.table]
        over = [(n, v) for n, v in made.columns.items() if isinstance(v, Aggregate)]
        sources: dict[tuple[Any, ...], list[ListLine]] = {}
        for line in lines:
            if not made.wanted(line.values):
                continue
            cells = _cells(made, line)
            if not made.when and any(k not in cells and kind.by_name[k].required for k in kind.key):
                continue  # a line that does not name this record makes none
            key = tuple(_plain(kind, k, cells[k].value) if k in cells else "" for k in kind.key)
            record = out.tables.setdefault(kind.name, {}).setdefault(key, Record(line.sheet, line.row, key))
            sources.setdefault(key, []).append(line)
            for name in kind.key:
                if name not in cells:
                    record.blank.setdefault(name, _blank_cell(made.columns.get(name), line))
            for name, cell in cells.items():
                _lay(kind, record, name, cell, made.on_clash, out.problems)
            compared = ((n, t, t.fill(line.values)) for n, t in made.compare.items())
            out.compared += [(record, n, _cell(line, t, v)) for n, t, v in compared if v is not None]
        for name, value in over:
            for key, from_lines in sources.items():
                over_all = _over(kind, name, value, from_lines, out.problems)
                if over_all is not None:
                    _lay(kind, out.tables[kind.name][key], name, over_all, made.on_clash, out.problems)
    return out


def _cells(made: RecordTemplate, line: ListLine) -> dict[str, Cell]:
    filled = ((n, v, v.fill(line.values)) for n, v in made.columns.items() if not isinstance(v, Aggregate))
    return {n: _cell(line, v, value) for n, v, value in filled if value is not None}


def _blank_cell(source: Any, line: ListLine) -> Cell:
    """Return the first cell whose being blank leaves a value blank."""
    for name in source.fields if source is not None else ():
        if line.values.get(name) is None and name in line.cells:
            return Cell(None, line.sheet, *line.cells[name])
    return Cell(None, line.sheet, line.row, None)


def _cell(line: ListLine, source: Any, value: Any) -> Cell:
    """Return a value with the one cell that it stands in, if it is made of one only."""
    at = {line.cells[n] for n in source.fields if n in line.cells}
    if len(at) == 1:
        row, column = at.pop()
        return Cell(value, line.sheet, row, column)
    return Cell(value, line.sheet, line.row, None)


def _lay(kind: Kind, record: Record, name: str, cell: Cell, on_clash: str, problems: list[Problem]) -> None:
    """Put a value into a record; a different one that is there already is decided as the layout says."""
    before = record.cells.get(name)
    if before is None or on_clash == "last":
        record.cells[name] = cell
        return
    if _plain(kind, name, before.value) == _plain(kind, name, cell.value) or on_clash == "first":
        return
    if on_clash == "join":
        texts = shown(before.value).split("; ")
        if shown(cell.value) not in texts:
            before.value = "; ".join([*texts, shown(cell.value)])
        return
    key = "/".join(shown(k) for k in record.key if k != "")
    there = f"{before.where('')} says {shown(before.value)!r}"
    what = f"{kind.singular} {key} would have {name} {shown(cell.value)!r}, but {there}"
    remedy = "mend one of them, or say on_clash in the layout"
    problems.append(wrong(cell.sheet, cell.row, cell.column, name, what, remedy, kind.name))


def _over(kind: Kind, name: str, value: Aggregate, lines: Iterable[ListLine], problems: list[Problem]) -> Cell | None:
    """Return the highest of a field, or how many lines have it."""
    having = [(line, line.values[value.field]) for line in lines if line.values.get(value.field) is not None]
    if not having:
        return None
    line = having[0][0]
    if value.how == "count":
        return Cell(len({shown(v) for _, v in having}), line.sheet, line.row, None)
    numbers = []
    for at, found in having:
        try:
            numbers.append((float(found), at))
        except (TypeError, ValueError):
            cell = _cell(at, value, found)
            what = f"{shown(found)!r} is no number, but the layout asks for the highest {value.field}"
            problems.append(wrong(cell.sheet, cell.row, cell.column, name, what, "write a number", kind.name))
    if not numbers:
        return None
    highest, at = max(numbers, key=lambda n: n[0])
    cell = _cell(at, value, int(highest) if highest.is_integer() else highest)
    return cell


def _plain(kind: Kind, name: str, value: Any) -> Any:
    """Return a value as the table would hold it, for comparing: 1, 1.0 and "1" are one."""
    type_ = kind.by_name[name].type
    try:
        if type_ in ("integer", "number"):
            return float(value)
        return as_label(value) if type_ in ("label", "text") else value
    except (TypeError, ValueError):
        return shown(value)
