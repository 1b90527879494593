"""Reading: the rows of sites out of segments, the files read last kept at hand."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Collection, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from fibrebook.errors import FormatError
from fibrebook.records.kinds.built_in import BUILT_IN_KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.places.asked import Blobs
from fibrebook.register.row_files.bounded_parquet import damage_told, read_parquet
from fibrebook.register.row_files.site_rows import FIRM
from fibrebook.register.store.formats import upgraded
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import FIRM_SEGMENT, FileRef, State

CACHE_BYTES = 256 * 1024 * 1024
_Name = tuple[str, str | None, tuple[str, ...]]  # file, site, columns as they are declared
BUCKET_READERS = 16  # requests under way at once


class Reader:
    """Reads rows by site; immutable files are read once and kept while there is room."""

    def __init__(self, blobs: Blobs, log: Log) -> None:
        self.blobs = blobs
        self.log = log
        self._kept: OrderedDict[_Name, pa.Table] = OrderedDict()
        self._size = 0
        self._lock = threading.Lock()

    def rows(self, state: State, kind: Kind, sites: Collection[str] | None = None) -> pa.Table:
        """Return the stored rows of some sites (None = all), text columns dictionary-encoded.

        Parameters
        ----------
        sites : site labels; FIRM ("") among them asks for the rows of a kind that belongs to no site
        """
        files = state.segments.get(kind.name, {})
        if kind.scope == "firm":
            names = [FIRM_SEGMENT] if sites is None or FIRM in sites else []
            return _joined(kind, [self._whole(kind, files[s], state) for s in names if s in files])
        if sites is None:
            return _joined(kind, self._many(kind, [files[s] for s in sorted(files)], state))
        wanted: dict[str, list[str]] = {}
        for site in dict.fromkeys(sites):
            if site in state.sites:
                wanted.setdefault(state.sites[site], []).append(site)
        parts = [self._part(kind, files[s], names, state) for s, names in wanted.items() if s in files]
        return _joined(kind, parts)

    def segment(self, state: State, kind: Kind, segment: str) -> pa.Table:
        """Return all rows of one segment."""
        ref = state.segments.get(kind.name, {}).get(segment)
        return _joined(kind, [self._whole(kind, ref, state)] if ref else [])

    def _part(self, kind: Kind, ref: FileRef, sites: list[str], state: State) -> pa.Table:
        if len(sites) > 1 or (ref.file, None, kind.names) in self._kept or self.blobs.local_path(ref.file) is None:
            return _of_sites(self._whole(kind, ref, state), sites)
        return self._keep((ref.file, sites[0], kind.names), lambda: self._read(kind, ref, sites[0], state))

    def _many(self, kind: Kind, refs: list[FileRef], state: State) -> list[pa.Table]:
        """Read many files, of a bucket several at once; files on a disk are read no quicker by several threads."""
        if not refs or self.blobs.local_path(refs[0].file) is not None:
            return [self._whole(kind, r, state) for r in refs]
        with ThreadPoolExecutor(BUCKET_READERS) as pool:
            return list(pool.map(lambda r: self._whole(kind, r, state), refs))

    def _whole(self, kind: Kind, ref: FileRef, state: State) -> pa.Table:
        return self._keep((ref.file, None, kind.names), lambda: self._read(kind, ref, None, state))

    def forget(self) -> None:
        """Drop what was kept of files that may have been replaced."""
        with self._lock:
            self._kept.clear()
            self._size = 0

    def _keep(self, name: _Name, read: Any) -> pa.Table:
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                return self._kept[name]
        table = read()
        with self._lock:
            if name not in self._kept:
                self._kept[name] = table
                self._size += table.nbytes
            while self._size > CACHE_BYTES and len(self._kept) > 1:
                self._size -= self._kept.popitem(last=False)[1].nbytes
        return table

    def _read(self, kind: Kind, ref: FileRef, site: str | None, state: State) -> pa.Table:
        data = self.log.fetch(ref.file, ref.sha256)
        found = read_parquet(data, ref.file, lambda file: _groups(file, site, ref.rows))
        with damage_told(ref.file):
            table = _conform(kind, upgraded(kind.name, found, state.format), ref, state.columns.get(kind.name, {}))
            table.validate(full=True)
            return table if site is None else _of_sites(table, [site])


def coded_schema(kind: Kind) -> pa.Schema:
    """Arrow schema of a kind as it is read: text as dictionaries."""
    return kind.coded_schema


def _groups(file: pq.ParquetFile, site: str | None, rows: int) -> Iterable[int]:
    """Row groups that may hold a site, by the least and greatest site in each (site is the first column)."""
    if file.metadata.num_rows != rows:
        raise ValueError(f"it has {file.metadata.num_rows} rows instead of {rows}")
    if site is None:
        return range(file.metadata.num_row_groups)
    found = []
    for i in range(file.metadata.num_row_groups):
        column = file.metadata.row_group(i).column(0)
        if may_hold(column.statistics if column.path_in_schema == "site" else None, site):
            found.append(i)
    return found


def may_hold(stats: pq.Statistics | None, text: str) -> bool:
    """Tell whether a row group's column may hold a text; Parquet orders text by its bytes."""
    if stats is None or not stats.has_min_max:
        return True
    return bool(stats.min.encode() <= text.encode() <= stats.max.encode())


def _of_sites(table: pa.Table, sites: Iterable[str]) -> pa.Table:
    column = table["site"]
    names = list(sites)
    if len(names) == 1:
        return table.filter(pc.equal(column, names[0]))
    return table.filter(pc.is_in(column, pa.array(names, pa.string())))


def _conform(kind: Kind, table: pa.Table, ref: FileRef, added: Mapping[str, str]) -> pa.Table:
    """Put a file's columns in today's declared order; a column declared since then is blank.

    added : columns that plugins have added to the table; those that the kind lacks are left out
    """
    if kind.name not in BUILT_IN_KINDS or added:
        _refuse_other_version(kind, table, ref, added)
    schema = kind.coded_schema
    lacking = [k for k in kind.key if k not in table.column_names or table[k].null_count]
    if lacking:
        raise ValueError(f"rows lack their key ({lacking[0]})")
    if table.schema.names != schema.names:
        strange = [n for n in table.column_names if n not in kind.by_name and n not in added]
        if strange:
            raise FormatError(f"{ref.file} has the column {strange[0]!r} of a newer fibrebook: install it")
        blank = {f.name: pa.nulls(table.num_rows, f.type) for f in schema if f.name not in table.column_names}
        table = pa.table([blank[n] if n in blank else table[n] for n in schema.names], names=schema.names)
    return table.cast(schema)


def _refuse_other_version(kind: Kind, table: pa.Table, ref: FileRef, added: Mapping[str, str]) -> None:
    """Refuse rows that do not fit what a plugin declares: there is no damage, it is another version of it."""
    told = f"{ref.file} does not fit the table {kind.name!r} as its plugin declares it"
    remedy = "install the version of the plugin that wrote it"
    ours = kind.name in BUILT_IN_KINDS
    for name in table.column_names:
        if name not in kind.by_name:
            if ours or name in added:
                continue  # its plugin is not here, or a newer fibrebook wrote it
            raise FormatError(f"{told}: it has the column {name!r}; {remedy}")
        if ours and name not in added:
            continue
        found = table.schema.field(name).type
        found = found.value_type if pa.types.is_dictionary(found) else found
        if found != kind.by_name[name].arrow_type:
            raise FormatError(f"{told}: its column {name!r} is no {kind.by_name[name].type}; {remedy}")
    for name in () if ours else kind.key:
        if name not in table.column_names:
            raise FormatError(f"{told}: it lacks the key column {name!r}; {remedy}")


def _joined(kind: Kind, parts: list[pa.Table]) -> pa.Table:
    if not parts:
        return kind.coded_schema.empty_table()
    if len(parts) == 1:
        return parts[0]
    return pa.concat_tables(parts).unify_dictionaries().combine_chunks()
