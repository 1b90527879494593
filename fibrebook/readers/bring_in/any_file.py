"""A file taken by the reader that says that it takes it: ours of workbooks and folders of .csv, or a plugin's."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from fibrebook.errors import FibrebookError, InputError, PluginError
from fibrebook.plugins import BUILT_IN, code, note, reader_of
from fibrebook.readers.files.about_sheet import (
    ABOUT,
    ABOUT_FILE,
    About,
    agreed,
    read_about,
    read_about_file,
    take_headings,
)
from fibrebook.readers.files.parsed import Incoming, Taken, convert, take_sheets
from fibrebook.readers.files.sheets import Sheet, read_sheets, wrong
from fibrebook.readers.layouts.apply import only_said
from fibrebook.records import KINDS
from fibrebook.register import Register
from fibrebook.regular_files import open_regular

HEAD = 4096  # bytes of a file that tell what it is


def take_file(source: Path, reg: Register) -> tuple[Taken, About | None]:
    """Return what a file holds, by the reader that takes it, and what it tells of where it comes from.

    Raises
    ------
    InputError, NotFoundError : it cannot be read
    PluginError : the plugin whose reader takes it broke at it
    """
    found = reader_of(source.name, _head(source))
    if found is None:
        raise InputError(f"no reader takes {source.name}; save it as .xlsx, .ods or .csv")
    plugin, run = found
    if plugin in BUILT_IN:
        taken: tuple[Taken, About | None] = code(run)(source, reg)
        return taken
    try:
        rows = code(run)(source, reg)
        found_rows = _as_taken(source.name, rows)
    except FibrebookError:
        raise
    except Exception as error:  # whatever a stranger's function may raise
        told = f"its reader {run} broke at {source.name}: {type(error).__name__}: {error}"
        note(plugin, "file_reader", told)
        raise PluginError(f"plugin {plugin!r}: {told}") from error
    return found_rows, None


def _head(source: Path) -> bytes:
    try:
        with open_regular(source) as file:
            return file.read(HEAD)
    except (OSError, ValueError):
        return b""  # a folder, a pipe, a name that cannot be: whoever takes it says so


def _as_taken(name: str, rows: object) -> Taken:
    """Return rows by kind, as a plugin's reader gives them, each known by its number in the file's order."""
    if not isinstance(rows, Mapping) or not all(isinstance(r, Mapping) for kind in rows.values() for r in kind):
        raise TypeError("it gives no rows by kind, as {'tests': [{...}]}")
    if strange := next((kind for kind in rows if kind not in KINDS), None):
        raise TypeError(f"it gives rows of {strange!r}, which is no kind of record")
    taken = Taken()
    for kind in KINDS:
        if rows.get(kind):
            part = _incoming(name, kind, [dict(row) for row in rows[kind]])
            taken.problems += only_said(part, convert(part))
            taken.tables.append(part)
    if not taken.tables:
        raise InputError(f"{name} holds no record")
    return taken


def _incoming(name: str, kind: str, rows: list[dict[str, Any]]) -> Incoming:
    declared = KINDS[kind]
    if strange := next((c for row in rows for c in row if c not in declared.by_name), None):
        raise TypeError(f"it gives the column {strange!r}, which {kind} has not")
    columns = [c for c in declared.names if any(c in row for row in rows) or c in declared.key]
    part = Incoming(
        declared, {c: [row.get(c) for row in rows] for c in columns}, [(name, n) for n in range(1, len(rows) + 1)]
    )
    for column in columns:
        said = np.array([column in row for row in rows])
        if column not in declared.key and not said.all():
            part.said[column] = said
    return part


def take_workbook(source: Path, reg: Register) -> tuple[Taken, About | None]:
    """Return what a workbook, a folder of .csv or one .csv holds: a sheet for each table, its columns in row 1."""
    sheets = read_sheets(source)
    told = take_headings(sheets)
    beside = read_about_file(source)
    about: list[Sheet] = [s for s in sheets if s.name.strip().casefold() == ABOUT]
    taken = take_sheets([s for s in sheets if s not in about], reg.undeclared())
    if not (taken.problems or any(s.name.strip() in KINDS for s in sheets)):
        tables = ", ".join(KINDS)
        raise InputError(f"{source.name} holds no table; name each sheet after its table, which is one of: {tables}")
    if about:
        origin, problems = read_about(about[0])
        taken.problems += problems
        told.insert(0, (about[0].name, origin))
    if len(about) > 1:
        what = f"there is a sheet {about[0].name!r} too"
        taken.problems.append(wrong(about[1].name, None, None, "", what, "keep one of them"))
    if beside is not None:
        told.append((ABOUT_FILE, beside[0]))
        taken.problems += [beside[1]] if beside[1] else []
    found, problems = agreed(told)
    taken.problems += problems
    return taken, found
