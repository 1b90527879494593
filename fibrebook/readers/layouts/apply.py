"""A firm's own spreadsheet, read as its layout says, as rows of the register's tables."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fibrebook.errors import Problem, place_in_words
from fibrebook.plugins import gathered_files
from fibrebook.readers.files.parsed import Incoming, Taken, convert
from fibrebook.readers.files.report import CellProblem
from fibrebook.readers.files.sheets import read_sheets
from fibrebook.readers.layouts.colour_check import colour_notes
from fibrebook.readers.layouts.file import read_layout
from fibrebook.readers.layouts.layout import Layout
from fibrebook.readers.layouts.lines import read_lines
from fibrebook.readers.layouts.rows import Record, make_records
from fibrebook.records import KINDS


@dataclass
class LayoutReading:
    """What a layout makes of a file.

    Attributes
    ----------
    tables : table -> rows as dicts, each with only what the file says of it
    places : table -> sheet and row (as the spreadsheet shows it) that first named each row
    notes : worth a look, nothing stopped: colours that contradict core numbers, headers passed over
    problems : cells that cannot be read as the layout says, lines that contradict each other
    """

    tables: dict[str, list[dict[str, Any]]]
    places: dict[str, list[tuple[str, int]]]
    notes: list[str]
    problems: list[Problem]


def read_with_layout(
    path: str | os.PathLike[str],
    layout: Layout | str | os.PathLike[str],
    own_codes: Mapping[str, Any] | None = None,
    usual_code: str | None = None,
) -> LayoutReading:
    """Read a spreadsheet as a layout says, without touching a register.

    Parameters
    ----------
    own_codes : the firm's own colour codes, code -> colours in order (``reg.own_codes()``)
    usual_code : the colour code of cables that say none (``reg.usual_code()``)

    Raises
    ------
    LayoutError : the layout itself is wrong
    InputError : the file is no spreadsheet
    NotFoundError : no such file
    """
    taken = take_with_layout(Path(path), layout, own_codes, usual_code)
    tables = {p.kind.name: _dicts(p) for p in taken.tables}
    places = {p.kind.name: p.places for p in taken.tables}
    return LayoutReading(tables, places, taken.notes, taken.problems)


def _dicts(part: Incoming) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = part.table.to_pylist()
    return [{n: v for n, v in row.items() if n not in part.said or part.said[n][i]} for i, row in enumerate(rows)]


def take_with_layout(
    path: Path,
    layout: Layout | str | os.PathLike[str],
    own_codes: Mapping[str, Any] | None = None,
    usual_code: str | None = None,
) -> Taken:
    """Read a file as its layout says into rows that know their cells."""
    how = layout if isinstance(layout, Layout) else read_layout(_found(layout))
    found = read_lines(read_sheets(path, how.encoding, how.delimiter), how, path.stem)
    records = make_records(found.lines, how.rows)
    taken = Taken(problems=[*found.problems, *records.problems], notes=found.notes, skipped=found.skipped)
    taken.notes += colour_notes(records, own_codes, usual_code)
    for name in KINDS:
        if name in records.tables:
            part = _incoming(name, list(records.tables[name].values()))
            taken.problems += only_said(part, convert(part))
            taken.tables.append(part)
    taken.problems = _blank_once(taken.problems)
    if not taken.tables and not taken.problems:
        remedy = f"look at the layout {how.name}: where its table begins and ends"
        taken.problems.append(Problem(path.name, "no line makes a record", remedy))
    return taken


def _found(layout: str | os.PathLike[str]) -> Path:
    """Return the layout's file; where there is no such file, a plugin's layout of that name."""
    path = Path(layout)
    with place_in_words(f"the layout {path.name} cannot be read"):
        if path.exists():
            return path
    theirs = gathered_files("layout_files")
    return next((p for p in theirs if str(layout) in (p.name, p.stem)), path)


def _incoming(name: str, records: list[Record]) -> Incoming:
    kind = KINDS[name]
    needed = {n for n in kind.key if kind.by_name[n].required}  # where every line is blank, each is to be named
    columns = [c.name for c in kind.columns if c.name in needed or any(c.name in r.cells for r in records)]
    values = {n: [r.cells[n].value if n in r.cells else None for r in records] for n in columns}
    part = Incoming(kind, values, [(r.sheet, r.row) for r in records])
    part.cells = {n: [_at(r, n) for r in records] for n in columns}
    for n in columns:
        mask = np.array([n in r.cells for r in records])
        if n not in kind.key and not mask.all():
            part.said[n] = mask
    return part


def _at(record: Record, name: str) -> tuple[str, int, int | None]:
    cell = record.cells.get(name) or record.blank.get(name)
    return (cell.sheet, cell.row, cell.column) if cell else (record.sheet, record.row, None)


def _blank_once(problems: list[Problem]) -> list[Problem]:
    """Of many records that lack a part of their key because one cell is blank or wrong, name the cell once."""
    first: dict[tuple[Any, ...], int] = {}
    out: list[Problem] = []
    follows: dict[int, list[Problem]] = {}
    for problem in problems:
        if isinstance(problem, CellProblem) and problem.letter is not None:
            at = (problem.sheet, problem.row, problem.letter)
            if at in first and problem.what == "is blank":
                follows.setdefault(first[at], []).append(problem)
                continue
            first.setdefault(at, len(out))
        out.append(problem)
    return [replace(p, follows=tuple(follows.get(i, ()))) for i, p in enumerate(out)]


def only_said(part: Incoming, problems: list[Problem]) -> list[Problem]:
    """Leave out "is blank" for what a row says nothing of: the register has it, or asks for it itself."""
    kept = []
    for problem in problems:
        if isinstance(problem, CellProblem) and problem.column in part.said and problem.what == "is blank":
            continue
        kept.append(problem)
    wrong = {p.key for p in kept}
    part.bad = {i for i, key in enumerate(part.keys()) if key in wrong}
    return [replace(p, table=p.table or part.kind.name) for p in kept]
