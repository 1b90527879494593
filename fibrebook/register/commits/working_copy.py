"""A working copy of the touched sites' tables: rows put, removed and relabelled before anything is committed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError, NotFoundError, Problem, RuleError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.row_files.site_rows import FIRM, plain, sites_in
from fibrebook.words.matching import IntArray, repeated, shared_ids

ReadTable = Callable[[Kind, Sequence[str]], pa.Table]


class WorkingCopy:
    """Tables of some sites before and after the changes made so far; sites are read in as they are touched."""

    def __init__(self, load: ReadTable, kinds: Mapping[str, Kind] = KINDS) -> None:
        self._load = load
        self._kinds = kinds  # with the stored columns that nobody here declares
        self._sites: dict[str, set[str]] = {}
        self.before: dict[str, pa.Table] = {}
        self.mine: dict[str, pa.Table] = {}

    @property
    def sites(self) -> tuple[str, ...]:
        """Touched sites; FIRM for the firm's own records."""
        return tuple(sorted(set().union(*self._sites.values()))) if self._sites else ()

    def rows(self, kind: Kind, sites: Sequence[str]) -> pa.Table:
        """Return the working rows of a kind, after making sure that these sites are read in."""
        kind = self._kinds[kind.name]
        known = self._sites.setdefault(kind.name, set())
        new = [s for s in dict.fromkeys(sites if kind.scope == "site" else [FIRM]) if s not in known]
        if new or kind.name not in self.mine:
            found = plain(self._load(kind, new), kind)
            self.before[kind.name] = _together(self.before.get(kind.name), found)
            self.mine[kind.name] = _together(self.mine.get(kind.name), found)
            known.update(new)
        return self.mine[kind.name]

    def level(self) -> None:
        """Read every touched kind for every touched site, so that all tables speak of the same sites."""
        site_sites = [s for s in self.sites if s != FIRM]
        for name in list(self.mine):
            self.rows(KINDS[name], site_sites)

    def upsert(self, kind: Kind, given: pa.Table, name_row: Callable[[int], str]) -> None:
        """Put rows by key: columns that are not given keep their values, a new row must have all it needs."""
        refuse_repeated(kind, given, name_row)
        kind = self._kinds[kind.name]
        current = self.rows(kind, sites_in(given))
        own, asked = shared_ids([[t[k] for k in kind.key] for t in (current, given)])
        place = _find(own, asked)
        old, new = np.flatnonzero(place >= 0), np.flatnonzero(place < 0)
        self._need(kind, given, new, name_row)
        columns = []
        for column in kind.columns:
            kept = current[column.name]
            if column.name in given.column_names:
                source = np.arange(len(kept) + len(new))
                source[place[old]] = len(kept) + old
                source[len(kept) :] = len(kept) + new
                both = pa.chunked_array([*kept.chunks, *given[column.name].chunks], column.arrow_type)
                columns.append(both.take(pa.array(source)))
            else:
                columns.append(pa.chunked_array([*kept.chunks, pa.nulls(len(new), column.arrow_type)]))
        self.mine[kind.name] = pa.table(columns, schema=kind.schema).combine_chunks()

    def _need(self, kind: Kind, given: pa.Table, new: IntArray, name_row: Callable[[int], str]) -> None:
        lacking = [c.name for c in kind.values if c.required and c.name not in given.column_names]
        if len(new) and lacking:
            raise InputError(
                f"{len(new)} new row(s) of {kind.name} lack {', '.join(lacking)}",
                [_at(kind, given, int(i), name_row, f"is new and lacks {lacking[0]!r}", "give it") for i in new],
            )

    def remove(self, kind: Kind, keys: pa.Table, name_row: Callable[[int], str]) -> None:
        """Remove rows by key; with a cable goes what is said of its cores."""
        current = self.rows(kind, sites_in(keys))
        own, asked = shared_ids([[t[k] for k in kind.key] for t in (current, keys)])
        missing = np.flatnonzero(_find(own, asked) < 0)
        if len(missing) and kind.name == "cores":
            missing = self._no_such_core(keys, missing)
        if len(missing):
            raise NotFoundError(
                f"{len(missing)} of the {kind.name} to remove are not there",
                [_at(kind, keys, int(i), name_row, "is not there", "look up its label") for i in missing],
            )
        self.mine[kind.name] = current.filter(pa.array(~np.isin(own, asked)))
        if kind.name == "cables":
            self._forget_cores(keys)

    def _forget_cores(self, cables: pa.Table) -> None:
        said = self.rows(KINDS["cores"], sites_in(cables))
        own, gone = shared_ids([[t["site"], t["cable"]] for t in (said, cables)])
        self.mine["cores"] = said.filter(pa.array(~np.isin(own, gone)))

    def _no_such_core(self, keys: pa.Table, missing: IntArray) -> IntArray:
        """Of cores that no stored row speaks of, those that their cable does not have either."""
        cables = self.rows(KINDS["cables"], sites_in(keys))
        own, asked = shared_ids([[t["site"], t["cable"]] for t in (cables, keys)])
        place = _find(own, asked)[missing]
        count = np.append(cables["core_count"].to_numpy(), 0)[place]
        found: IntArray = missing[keys["core"].to_numpy()[missing] > count]
        return found

    def replace(self, kind: Kind, column: str, mask: np.ndarray[Any, Any], value: str) -> None:
        """Write one value into a column where a mask says so."""
        table = self.mine[kind.name]
        written_value = pa.scalar(None if value == "" and column not in kind.key else value, pa.string())
        written = pc.if_else(pa.array(mask), written_value, table[column])
        position = table.schema.get_field_index(column)
        self.mine[kind.name] = table.set_column(position, kind.schema.field(column), written)


def refuse_repeated(kind: Kind, given: pa.Table, name_row: Callable[[int], str]) -> None:
    """Raise RuleError where rows put together bear the same key."""
    twice = repeated([given[k] for k in kind.key])
    if len(twice):
        raise RuleError(
            f"{len(twice)} row(s) of {kind.name} bear a key that an earlier row has",
            [_at(kind, given, int(i), name_row, "has the key of an earlier row", "give it once") for i in twice],
        )


def _together(known: pa.Table | None, more: pa.Table) -> pa.Table:
    return more if known is None else pa.concat_tables([known, more]).combine_chunks()


def _find(own: IntArray, asked: IntArray) -> IntArray:
    """Row of `own` with each id in `asked`, -1 where there is none."""
    place = np.full(int(max(own.max(initial=-1), asked.max(initial=-1))) + 2, -1, np.int64)
    place[own] = np.arange(len(own))
    return place[asked]


def _at(kind: Kind, table: pa.Table, i: int, name_row: Callable[[int], str], what: str, remedy: str) -> Problem:
    key = tuple(table[k][i].as_py() for k in kind.key)
    text = "/".join(str(k) for k in key if k not in (None, ""))
    return Problem(f"{name_row(i)} ({kind.singular} {text})", what, remedy, kind.name, key, row=i)
