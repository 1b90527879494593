"""Tables that the register holds and nobody here declares: the plugin that adds them is not at the door.

Their rows stay as they are, byte for byte. What can be done with rows alone (copy, compare, mend, publish) is done by a
declaration read off their files: types and key columns stand in Parquet itself. What needs the plugin's word (their
links, which columns are personal) is refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.errors import FormatError, PluginError, Problem
from fibrebook.records.kinds.built_in import BUILT_IN_KINDS, KINDS
from fibrebook.records.kinds.declared import ARROW_TYPES, Column, ColumnType, Kind
from fibrebook.register.row_files.bounded_parquet import stored_schema
from fibrebook.register.row_files.columns_stored import undeclared_columns
from fibrebook.register.row_files.read import Reader
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import FileRef, State
from fibrebook.words.matching import shared_ids

TYPES: tuple[ColumnType, ...] = ("text", "integer", "number", "date", "yes/no")
REMEDY = "install that plugin, or name it in FIBREBOOK_PLUGINS"
MAY_NAME = "may be named by a row of a table whose plugin is not here"


def undeclared(*states: State) -> list[str]:
    """Return the tables that some states have rows of and no kind of record stands for."""
    names = {table for state in states for table, files in state.segments.items() if files}
    return sorted(n for n in names if n not in BUILT_IN_KINDS and n not in KINDS)


def all_undeclared(state: State) -> list[str]:
    """Return the tables of a state that nobody declares, then such columns of other tables, as 'cables.drum'."""
    return [*undeclared(state), *undeclared_columns(state.columns)]


def lacking(table: str, what: str = "") -> PluginError:
    """Return the error that says that a table's plugin is wanted (`what`: for what)."""
    told = f"{what}: the" if what else "the"
    return PluginError(f"{told} table {table!r} belongs to a plugin that is not here; {REMEDY}")


def lacking_column(name: str, what: str) -> PluginError:
    """Return the error that says that the plugin of a column, as 'cables.drum', is wanted for something."""
    return PluginError(f"{what}: the column {name!r} belongs to a plugin that is not here; {REMEDY}")


def refuse(tables: Iterable[str], what: str) -> None:
    """Raise PluginError where one of some tables is declared by nobody here."""
    for table in sorted(tables):
        if table not in KINDS:
            raise lacking(table, what)


def left_out_whole(tables: Iterable[str]) -> str:
    """Return the words by which somebody is told that tables are left out where nothing personal is to go."""
    names = ", ".join(repr(n) for n in tables)
    return f"left out whole: {names}, whose plugin is not here to say what in it is personal; {REMEDY}"


def kinds_of(log: Log, *states: State) -> dict[str, Kind]:
    """Return the tables that nobody declares, as their files tell of them.

    Raises
    ------
    FormatError : files of one table do not agree, so that rows cannot be laid side by side
    """
    return {n: kind_of_files(log, n, [f for s in states for f in s.segments.get(n, {}).values()])
            for n in undeclared(*states)}  # fmt: skip


def kind_of_files(log: Log, table: str, files: Iterable[FileRef]) -> Kind:
    """Return a table's declaration as its files tell it; columns that only some have stand last."""
    columns: dict[str, Column] = {}
    key: tuple[str, ...] | None = None
    for ref in {f.file: f for f in files}.values():
        schema = stored_schema(log.fetch(ref.file, ref.sha256), ref.file)
        own = {f.name: _column(table, f) for f in schema}
        keys = tuple(f.name for f in schema if not f.nullable)
        if (key is not None and keys != key) or any(columns.get(n, c) != c for n, c in own.items()):
            raise FormatError(f"two versions of a plugin wrote the table {table!r}, in ways that differ; {REMEDY}")
        key, columns = keys, {**columns, **own}
    if not key:
        raise lacking(table, "its rows cannot be told apart")
    scope: Any = "site" if key[0] == "site" else "firm"
    return Kind(table, table, f"Rows of {table}.", tuple(columns.values()), key, (), scope)


def _column(table: str, field: pa.Field) -> Column:
    found = next((t for t in TYPES if ARROW_TYPES[t] == field.type), None)
    if found is None:
        raise lacking(table, f"its column {field.name!r} is of a type of its own")
    return Column(field.name, found, "", required=not field.nullable)


def reading(reader: Reader, state: State, sites: Sequence[str] | None = None) -> dict[str, tuple[Kind, pa.Table]]:
    """Return the rows of some sites (None = all) in the tables that nobody declares."""
    found = {n: (k, reader.rows(state, k, sites)) for n, k in kinds_of(reader.log, state).items()}
    return {n: (k, t) for n, (k, t) in found.items() if t.num_rows}


def dangling(
    reader: Reader, state: State, before: Mapping[str, pa.Table], after: Mapping[str, pa.Table]
) -> list[Problem]:
    """Return the records that a change takes away and that rows of tables without their plugin may name.

    Which columns of such a table are links is not known here. So a record counts as named where one row of its site
    holds all labels of its key, or holds the first of them and no record is left that begins so.
    """
    if not undeclared(state):
        return []
    gone = {n: _gone(KINDS[n], before[n], after[n]) for n in after if n != "cores" and KINDS[n].scope == "site"}
    sites = sorted({str(key[0]) for keys in gone.values() for key in keys})
    if not sites:
        return []
    cells: dict[str, list[frozenset[str]]] = {}
    for kind, rows in reading(reader, state, sites).values():
        if kind.scope == "site":
            for row in rows.to_pylist():
                said = frozenset(str(v) for n, v in row.items() if n != "site" and v not in (None, ""))
                cells.setdefault(row["site"], []).append(said)
    return [
        Problem(f"{name} {'/'.join(str(k) for k in key if k not in (None, ''))}", MAY_NAME, REMEDY, name, key)
        for name, keys in gone.items()
        for key, beginnings in keys.items()
        if any(set(b) <= row for row in cells.get(str(key[0]), ()) for b in beginnings)
    ]


def _gone(kind: Kind, before: pa.Table, after: pa.Table) -> dict[tuple[Any, ...], list[tuple[str, ...]]]:
    """Return the keys that are no more, each with the beginnings of it (without the site) that none has any more.

    A cable that has fewer cores than before counts as gone: its higher cores are.
    """
    more = ["core_count"] if kind.name == "cables" else []
    names = list(kind.key)
    here, there = shared_ids([[t[k] for k in names] for t in (before, after)])
    if not more and np.isin(here, there).all():
        return {}
    old, new = (t.select([*names, *more]).to_pylist() for t in (before, after))
    left = {tuple(r[k] for k in names): int(r["core_count"] or 0) if more else 0 for r in new}
    beginnings = {(k[0], k[1 : n + 1]) for k in left for n in range(1, len(names))}
    found: dict[tuple[Any, ...], list[tuple[str, ...]]] = {}
    for row in old:
        key = tuple(row[k] for k in names)
        if key in left and not (more and left[key] < int(row["core_count"] or 0)):
            continue
        parts = [key[1 : n + 1] for n in range(1, len(names))]
        lost = [p for p in parts if (key[0], p) not in beginnings or key in left]
        found[key] = [tuple(str(v) for v in p if v not in (None, "")) for p in lost] or [()]
    return found
