"""The columns that plugins add to kinds that are there: which ones the register holds, be their plugin here or not.

Each commit says of which added columns there are values. A column whose plugin is not here stands in no answer; within
the register it is one of its table's columns, so it is merged, relabelled, undone and copied with its row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pyarrow as pa

from fibrebook.errors import FormatError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import ARROW_TYPES, Column, Kind
from fibrebook.register.row_files.site_rows import plain

Columns = Mapping[str, Mapping[str, str]]  # table -> column -> type


def together(*several: Columns) -> dict[str, dict[str, str]]:
    """Return all columns of several registers or states."""
    found: dict[str, dict[str, str]] = {}
    for columns in several:
        for table, types in columns.items():
            found[table] = {**found.get(table, {}), **types}
    return found


def declared_here(tables: Mapping[str, object]) -> dict[str, dict[str, str]]:
    """Return the columns that the plugins that are here add to some tables."""
    found: dict[str, dict[str, str]] = {t: {c.name: c.type for c in KINDS.added(t)} for t in tables}
    return {t: columns for t, columns in found.items() if columns}


def undeclared_columns(columns: Columns) -> list[str]:
    """Return the columns that no plugin that is here adds, as 'cables.drum'; tables without their plugin left out."""
    return [f"{t}.{c}" for t in sorted(columns) if t in KINDS for c in _lacking(KINDS[t], columns)]


def stored_kinds(*several: Columns) -> Mapping[str, Kind]:
    """Return all kinds of record, each with the stored columns that no plugin here adds; these stand last."""
    columns = together(*several)
    lacking = {t: _lacking(KINDS[t], columns) for t in columns if t in KINDS}
    if not any(lacking.values()):
        return KINDS
    return {n: _with(k, {c: columns[n][c] for c in lacking.get(n, ())}) for n, k in KINDS.items()}


def kind_as_stored(table: str, columns: Columns) -> Kind:
    """Return a kind with exactly those added columns that were stored, for writing again what stood once."""
    kind = stored_kinds({table: columns.get(table, {})})[table]
    later = {c.name for c in KINDS.added(table)} - set(columns.get(table, ()))
    return replace(kind, columns=tuple(c for c in kind.columns if c.name not in later)) if later else kind


def fitted(table: pa.Table, kind: Kind) -> pa.Table:
    """Return a table in a kind's columns with its text plain; a column that it lacks is blank."""
    if table.schema.names == list(kind.names):
        return plain(table, kind)
    blank = {c.name: pa.nulls(table.num_rows, c.arrow_type) for c in kind.columns if c.name not in table.column_names}
    return pa.table([blank[n] if n in blank else table[n] for n in kind.names], names=kind.names).cast(kind.schema)


def _lacking(kind: Kind, columns: Columns) -> list[str]:
    return sorted(c for c in columns.get(kind.name, ()) if c not in kind.by_name)


def _with(kind: Kind, types: Mapping[str, str]) -> Kind:
    return replace(kind, columns=(*kind.columns, *(_column(kind, n, t) for n, t in types.items()))) if types else kind


def _column(kind: Kind, name: str, type_: str) -> Column:
    if type_ not in ARROW_TYPES:
        raise FormatError(f"the column {name!r} of {kind.name} is of a type of a newer fibrebook: install it")
    return Column(name, type_, "A column whose plugin is not here.")  # type: ignore[arg-type]
