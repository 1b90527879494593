"""Rows in immutable Parquet files: writing a segment, reading the rows of some sites out of one."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Collection, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from fibrebook.errors import DamagedError, FormatError
from fibrebook.records.fields import Kind
from fibrebook.records.keys import natural_order
from fibrebook.records.kinds import BUILT_IN_KINDS
from fibrebook.register.files import AlreadyThere, Blobs, Missing
from fibrebook.register.formats import upgraded
from fibrebook.register.log import RESTORE, Log
from fibrebook.register.state import FIRM_SEGMENT, FileRef, State, digest

ROW_GROUP = 20_000  # mostly one: fewer pieces read quicker, for all sites and for one, than many small ones
SITES_EACH = 64
ROWS_EACH = 20_000
CACHE_BYTES = 256 * 1024 * 1024
MOST_ROWS, MOST_BYTES = 5_000_000, 2_000_000_000  # of one segment; a thousand times what is ever written
BUCKET_READERS = 16  # requests under way at once
FIRM = ""  # stands for "the firm itself" where a list of sites is meant


def to_parquet(table: pa.Table, **more: Any) -> bytes:
    """Return a table as Parquet: zstd, page checksums, nothing in it that only Arrow reads."""
    sink = pa.BufferOutputStream()
    pq.write_table(
        table, sink, compression="zstd", store_schema=False, write_page_checksum=True,
        row_group_size=more.pop("row_group_size", ROW_GROUP), **more,
    )  # fmt: skip
    return bytes(sink.getvalue().to_pybytes())


def put_once(blobs: Blobs, path: str, data: bytes) -> None:
    """Create a file whose name holds its digest; the same bytes under that name are as good."""
    try:
        blobs.create(path, data)
    except AlreadyThere:
        if blobs.read(path) != data:
            raise DamagedError(f"{path} is damaged: it is not what its name says; run verify") from None
        blobs.refresh(path)  # else a tidying under way might take it for long left over


def write_segment(blobs: Blobs, kind: Kind, segment: str, rows: pa.Table) -> FileRef | None:
    """Write a segment's rows, sorted by key as people sort labels; None where there are no rows."""
    if not rows.num_rows:
        return None
    rows = rows.take(pa.array(natural_order([rows[k] for k in kind.key])))
    data = to_parquet(rows.cast(kind.schema))
    whole = digest(data)
    path = f"tables/{kind.name}/{segment}-{whole[:32]}.parquet"
    put_once(blobs, path, data)
    return FileRef(path, whole, rows.num_rows, len(data))


class Reader:
    """Reads rows by site; immutable files are read once and kept while there is room."""

    def __init__(self, blobs: Blobs, log: Log) -> None:
        self.blobs = blobs
        self.log = log
        self._kept: OrderedDict[tuple[str, str | None], pa.Table] = OrderedDict()
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
            return _joined(kind, [self._whole(kind, files[s], state.format) for s in names if s in files])
        if sites is None:
            return _joined(kind, self._many(kind, [files[s] for s in sorted(files)], state.format))
        wanted: dict[str, list[str]] = {}
        for site in dict.fromkeys(sites):
            if site in state.sites:
                wanted.setdefault(state.sites[site], []).append(site)
        parts = [self._part(kind, files[s], names, state.format) for s, names in wanted.items() if s in files]
        return _joined(kind, parts)

    def segment(self, state: State, kind: Kind, segment: str) -> pa.Table:
        """Return all rows of one segment."""
        ref = state.segments.get(kind.name, {}).get(segment)
        return _joined(kind, [self._whole(kind, ref, state.format)] if ref else [])

    def _part(self, kind: Kind, ref: FileRef, sites: list[str], form: int) -> pa.Table:
        if len(sites) > 1 or (ref.file, None) in self._kept or self.blobs.local_path(ref.file) is None:
            return _of_sites(self._whole(kind, ref, form), sites)
        return self._keep((ref.file, sites[0]), lambda: self._read(kind, ref, sites[0], form))

    def _many(self, kind: Kind, refs: list[FileRef], form: int) -> list[pa.Table]:
        """Read many files, of a bucket several at once; files on a disk are read no quicker by several threads."""
        if not refs or self.blobs.local_path(refs[0].file) is not None:
            return [self._whole(kind, r, form) for r in refs]
        with ThreadPoolExecutor(BUCKET_READERS) as pool:
            return list(pool.map(lambda r: self._whole(kind, r, form), refs))

    def _whole(self, kind: Kind, ref: FileRef, form: int) -> pa.Table:
        return self._keep((ref.file, None), lambda: self._read(kind, ref, None, form))

    def forget(self) -> None:
        """Drop what was kept of files that may have been replaced."""
        with self._lock:
            self._kept.clear()
            self._size = 0

    def _keep(self, name: tuple[str, str | None], read: Any) -> pa.Table:
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

    def _read(self, kind: Kind, ref: FileRef, site: str | None, form: int) -> pa.Table:
        try:
            data = pa.BufferReader(self.log.fetch(ref.file, ref.sha256))
            about = pq.read_metadata(data)
            _refuse_huge(about)
            known = set(about.schema.names)
            coded = [n for n in text_columns(kind) if n in known]  # one declared since then is not in the file
            with pq.ParquetFile(data, metadata=about, read_dictionary=coded, pre_buffer=False) as file:
                groups = range(file.metadata.num_row_groups) if site is None else _groups(file, site)
                found = file.read_row_groups(list(groups), use_threads=False)
            if site is None and found.num_rows != ref.rows:
                raise ValueError(f"it has {found.num_rows} rows instead of {ref.rows}")
            table = _conform(kind, upgraded(kind.name, found, form), ref)
            table.validate(full=True)
            return table if site is None else _of_sites(table, [site])
        except (OSError, Missing, ValueError, KeyError, pa.ArrowException) as error:
            raise DamagedError(f"{ref.file} ({kind.name}) cannot be read: {error}. Run verify, {RESTORE}") from error


def _refuse_huge(about: pq.FileMetaData) -> None:
    """Refuse what no segment can be before it is unpacked: a hostile file may expand without end."""
    size = sum(about.row_group(i).total_byte_size for i in range(about.num_row_groups))
    if about.num_rows > MOST_ROWS or size > MOST_BYTES:
        raise ValueError(f"it would expand to {about.num_rows:,} rows of {size:,} bytes, more than any segment holds")


def text_columns(kind: Kind) -> list[str]:
    """Names of the columns that are read dictionary-encoded."""
    return [c.name for c in kind.columns if c.type in ("label", "text")]


def coded_schema(kind: Kind) -> pa.Schema:
    """Arrow schema of a kind as it is read: text as dictionaries."""
    return kind.coded_schema


def _groups(file: pq.ParquetFile, site: str) -> list[int]:
    """Row groups that may hold a site, by the least and greatest site in each (site is the first column)."""
    found = []
    for i in range(file.metadata.num_row_groups):
        column = file.metadata.row_group(i).column(0)
        stats = column.statistics if column.path_in_schema == "site" else None
        if stats is None or not stats.has_min_max or _holds(stats.min, stats.max, site):
            found.append(i)
    return found


def _holds(least: str, most: str, site: str) -> bool:
    return least.encode() <= site.encode() <= most.encode()  # Parquet orders text by its bytes


def _of_sites(table: pa.Table, sites: Iterable[str]) -> pa.Table:
    column = table["site"]
    names = list(sites)
    if len(names) == 1:
        return table.filter(pc.equal(column, names[0]))
    return table.filter(pc.is_in(column, pa.array(names, pa.string())))


def _conform(kind: Kind, table: pa.Table, ref: FileRef) -> pa.Table:
    """Put a file's columns in today's declared order; a column declared since then is blank."""
    if kind.name not in BUILT_IN_KINDS:
        _refuse_other_version(kind, table, ref)
    schema = kind.coded_schema
    lacking = [k for k in kind.key if k not in table.column_names or table[k].null_count]
    if lacking:
        raise ValueError(f"rows lack their key ({lacking[0]})")
    if table.schema.names != schema.names:
        strange = [n for n in table.column_names if n not in kind.by_name]
        if strange:
            raise FormatError(f"{ref.file} has the column {strange[0]!r} of a newer fibrebook: install it")
        blank = {f.name: pa.nulls(table.num_rows, f.type) for f in schema if f.name not in table.column_names}
        table = pa.table([blank[n] if n in blank else table[n] for n in schema.names], names=schema.names)
    return table.cast(schema)


def _refuse_other_version(kind: Kind, table: pa.Table, ref: FileRef) -> None:
    """Refuse rows that do not fit what their plugin declares: there is no damage, it is another version of it."""
    told = f"{ref.file} does not fit the table {kind.name!r} as its plugin declares it"
    remedy = "install the version of the plugin that wrote it"
    for name in table.column_names:
        if name not in kind.by_name:
            raise FormatError(f"{told}: it has the column {name!r}; {remedy}")
        found = table.schema.field(name).type
        found = found.value_type if pa.types.is_dictionary(found) else found
        if found != kind.by_name[name].arrow_type:
            raise FormatError(f"{told}: its column {name!r} is no {kind.by_name[name].type}; {remedy}")
    for name in kind.key:
        if name not in table.column_names:
            raise FormatError(f"{told}: it lacks the key column {name!r}; {remedy}")


def _joined(kind: Kind, parts: list[pa.Table]) -> pa.Table:
    if not parts:
        return kind.coded_schema.empty_table()
    if len(parts) == 1:
        return parts[0]
    return pa.concat_tables(parts).unify_dictionaries().combine_chunks()


def plain(table: pa.Table, kind: Kind) -> pa.Table:
    """Return a table with its text as plain strings, as it is merged and written."""
    return table if table.schema.equals(kind.schema) else table.cast(kind.schema)


def without_sites(table: pa.Table, sites: Collection[str]) -> pa.Table:
    """Return the rows of all other sites."""
    return table.filter(pc.invert(pc.is_in(table["site"], pa.array(list(sites), pa.string()))))


def sites_in(table: pa.Table) -> list[str]:
    """Return the different sites in a table, in order of first appearance; [FIRM] for a kind without sites."""
    if "site" not in table.column_names:
        return [FIRM] if table.num_rows else []
    return [s for s in pc.unique(table["site"]).to_pylist() if s is not None]


def split_by(table: pa.Table, segment_of: Mapping[str, str]) -> dict[str, pa.Table]:
    """Return the rows of each segment's sites, in their order."""
    coded = pc.dictionary_encode(table["site"]).unify_dictionaries().combine_chunks()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.chunk(0) if coded.num_chunks else pa.array([], pa.string()).dictionary_encode()
    homes = [segment_of[s] for s in coded.dictionary.to_pylist()]
    names = sorted(set(homes))
    if len(names) == 1:
        return {names[0]: table}
    number = np.array([names.index(h) for h in homes], np.int64)[coded.indices.to_numpy()]
    ordered = table.take(pa.array(np.argsort(number, kind="stable")))
    counts = np.bincount(number, minlength=len(names))
    starts = np.cumsum(counts) - counts
    return {n: ordered.slice(s, c) for n, s, c in zip(names, starts.tolist(), counts.tolist(), strict=True)}


class Places:
    """Says which segment a site goes to: the one it is in, else the newest one with room, else a new one."""

    def __init__(self, state: State) -> None:
        self.sites = dict(state.sites)
        self._numbers = sorted({int(s) for s in state.sites.values()}) or [0]
        last = self.name(self._numbers[-1])
        self._in_last = sum(1 for s in state.sites.values() if s == last)
        self._rows = sum(files[last].rows for files in state.segments.values() if last in files)

    @staticmethod
    def name(number: int) -> str:
        """Name of a numbered segment."""
        return f"{number:04d}"

    def place(self, site: str, rows: int) -> str:
        """Return a site's segment, giving it one if it is new."""
        if site not in self.sites:
            newest = self._numbers[-1]
            if newest == 0 or self._in_last >= SITES_EACH or (self._in_last and self._rows + rows > ROWS_EACH):
                newest += 1
                self._numbers.append(newest)
                self._in_last = self._rows = 0
            self._in_last += 1
            self._rows += rows
            self.sites[site] = self.name(newest)
        return self.sites[site]


def rows_by_site(tables: Iterable[pa.Table]) -> dict[str, int]:
    """Return how many rows each site has over several tables."""
    counts: dict[str, int] = {}
    for table in tables:
        if "site" in table.column_names and table.num_rows:
            found = pc.value_counts(table["site"].combine_chunks())
            for site, n in zip(found.field(0).to_pylist(), np.asarray(found.field(1)).tolist(), strict=True):
                counts[site] = counts.get(site, 0) + n
    return counts
