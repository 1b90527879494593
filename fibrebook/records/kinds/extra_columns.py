"""The columns that plugins add to kinds that are there, each looked at before anything relies on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from fibrebook.plugins import gathered, note
from fibrebook.records.kinds.declared import Column, Kind
from fibrebook.records.kinds.from_plugins import column_faults

HOOK = "extra_columns"
Added = dict[str, tuple[Column, ...]]  # by kind


def gathered_columns(kinds: Mapping[str, Kind]) -> Added:
    """Return the columns that plugins add, by kind, in the order of the plugins.

    A plugin with a faulty declaration adds no column at all, and is noted as not well with what is wrong.

    Parameters
    ----------
    kinds : every kind there is, without added columns
    """
    found: Added = {}
    for plugin, given in gathered(HOOK):
        own: Added = {}
        faults = _faults(given, kinds, found, own)
        if fault := next(faults, ""):
            note(plugin, HOOK, fault)
            continue
        found |= {name: (*found.get(name, ()), *columns) for name, columns in own.items()}
    return found


def _faults(given: object, kinds: Mapping[str, Kind], found: Added, own: Added) -> Iterator[str]:
    """Give what is wrong with what a plugin gives; what is not goes into `own`."""
    if not isinstance(given, Mapping):
        yield "its extra_columns give no mapping: write the columns by kind, as {'cables': [Column(...)]}"
        return
    for name, columns in given.items():
        if name not in kinds:
            yield f"its extra_columns add to {name!r}, which is no kind of record; those are: {', '.join(kinds)}"
            return
        if isinstance(columns, str | bytes) or not isinstance(columns, Iterable):
            yield f"its extra_columns give {columns!r} for {name!r}: write a list of Column"
            return
        taken = {*kinds[name].names, *(c.name for c in found.get(name, ()))}
        for column in columns:
            if not isinstance(column, Column):
                yield f"its extra_columns give {column!r} for {name!r}, which is no Column"
                return
            for fault in [*column_faults(column), *_unfit(column, kinds[name], taken)]:
                yield f"its extra_columns are faulty: the kind of record {name!r} {fault}"
                return
            taken.add(column.name)
            own[name] = (*own.get(name, ()), column)


def _unfit(column: Column, kind: Kind, taken: set[str]) -> Iterator[str]:
    where = f"has the column {column.name!r}"
    if column.name in taken:
        yield f"{where} already: give it another name"
    if column.required:
        yield f"{where}, which must be given: rows that stand already lack it, write it without"
    if column.personal and kind.scope == "firm":
        yield f"{where}, which is personal: only a site's may be"
