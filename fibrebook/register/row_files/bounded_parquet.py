"""The one place where a Parquet file of a register is opened: measured first, unpacked only if it can be borne.

Somebody else may have made the file. A few kilobytes can ask for many gigabytes: by pages that unpack without end, by
counts of values that are not there, by one long text in a dictionary to which every row refers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from fibrebook.errors import DamagedError
from fibrebook.register.row_files.footer import check_footer
from fibrebook.register.row_files.page_sizes import unpacked_size
from fibrebook.register.store.log import RESTORE

MOST_BYTES = 1_000_000_000  # of one file: its pages unpacked, and its rows written out with their texts in full
MOST_ROWS = 5_000_000  # of a segment; a thousand times what is ever written
MOST_CHANGES = 50_000_000  # of a commit's changes: one row a cell
MOST_COLUMNS = 500
LONGEST_FOOTER = 2_000_000
MOST_IN_FOOTER = 1_000  # row groups, columns
FEW_BYTES = 8_000_000  # that a small file cannot exceed with every text in full, whatever stands in it
INDEX_BYTES = 8  # of a row's value or reference as it is held

CANNOT_READ = (OSError, ValueError, KeyError, pa.ArrowException, MemoryError)  # what a hostile or spoilt file raises
Groups = Callable[[pq.ParquetFile], Iterable[int]]


@contextmanager
def _opened(data: bytes, most_rows: int) -> Iterator[pq.ParquetFile]:
    """Open a file after it was measured; ValueError where it holds more than can be borne."""
    about = _contents(data).metadata
    text, _ = _measured(data, about, most_rows)
    with pq.ParquetFile(pa.BufferReader(data), metadata=about, read_dictionary=text, pre_buffer=False) as file:
        yield file


def _contents(data: bytes) -> pq.ParquetFile:
    """Read a file's list of contents, itself of bounded size."""
    length = int.from_bytes(data[-8:-4], "little")
    if length > LONGEST_FOOTER:
        raise ValueError(f"its list of contents has {length:,} bytes, more than any file of a register")
    limits = {"thrift_string_size_limit": LONGEST_FOOTER, "thrift_container_size_limit": MOST_IN_FOOTER}
    return pq.ParquetFile(pa.BufferReader(data), pre_buffer=False, **limits)


def measured_rows(data: bytes, path: str) -> int:
    """Return how many rows a file has, after it was measured and before any is unpacked; DamagedError as above."""
    with damage_told(path):
        about = _contents(data).metadata
        _measured(data, about, MOST_ROWS)
        return int(about.num_rows)


def stored_schema(data: bytes, path: str) -> pa.Schema:
    """Return the columns that a file says it has; DamagedError as `read_parquet`."""
    with damage_told(path):
        return _contents(data).schema_arrow


def read_parquet(data: bytes, path: str, groups: Groups | None = None, most_rows: int = MOST_ROWS) -> pa.Table:
    """Return a file's rows, text as dictionaries.

    Parameters
    ----------
    path : its name in the register, for errors
    groups : which row groups are wanted; None = all

    Raises
    ------
    DamagedError : it holds more than can be borne, or is not as this package writes files
    """
    with damage_told(path):
        with _opened(data, most_rows) as file:
            wanted = range(file.metadata.num_row_groups) if groups is None else groups(file)
            table = file.read_row_groups(list(wanted), use_threads=False)
        table.validate(full=True)
        written_out = sum(_written_out(c) for c in table.columns)
        if written_out > MOST_BYTES:
            raise ValueError(f"its rows written out have {written_out:,} bytes, more than any file of a register")
        return table


def read_in_full(data: bytes, path: str, most_rows: int) -> pa.Table:
    """Return a file's rows, texts in full; what is small however its texts repeat is read without detours.

    Raises
    ------
    DamagedError : as `read_parquet`
    """
    with damage_told(path):
        opened = _contents(data)
        text, size = _measured(data, opened.metadata, most_rows)
        if opened.metadata.num_rows * max(len(text), 1) * size <= FEW_BYTES:
            with opened:
                table = opened.read(use_threads=False)
            table.validate(full=True)
            return table
    table = read_parquet(data, path, None, most_rows)
    with damage_told(path):
        return in_full(table)


@contextmanager
def damage_told(path: str) -> Iterator[None]:
    """Tell in words whatever a hostile or spoilt file raises while its rows are taken."""
    try:
        yield
    except CANNOT_READ as error:
        why = str(error).strip(". \n") or "there is not memory enough"
        raise DamagedError(f"{path} cannot be read: {why}. Run verify, {RESTORE}") from error


def in_full(table: pa.Table) -> pa.Table:
    """Return a table with its texts in full instead of as dictionaries."""
    fields = [f.with_type(f.type.value_type) if pa.types.is_dictionary(f.type) else f for f in table.schema]
    return table.cast(pa.schema(fields))


def _measured(data: bytes, about: pq.FileMetaData, most_rows: int) -> tuple[list[str], int]:
    """Refuse a file that cannot be borne; return its columns of text, and its size with its pages unpacked."""
    groups = [about.row_group(i).num_rows for i in range(about.num_row_groups)]
    if about.num_columns > MOST_COLUMNS:
        raise ValueError(f"it has {about.num_columns:,} columns, more than any file of a register")
    columns = [about.schema.column(i) for i in range(about.num_columns)]
    if any(c.max_repetition_level or c.max_definition_level > 1 for c in columns):
        raise ValueError("it has lists or groups in a column, which are never written")
    if min(groups, default=0) < 0 or sum(groups) != about.num_rows:
        raise ValueError(f"it says {about.num_rows:,} rows, its parts say {sum(groups):,}")
    if about.num_rows > most_rows:
        raise ValueError(f"it would expand to {about.num_rows:,} rows, more than any file of a register")
    check_footer(data, about)
    size = unpacked_size(data, about) + about.num_rows * about.num_columns * INDEX_BYTES
    if size > MOST_BYTES:
        raise ValueError(f"it would expand to {size:,} bytes, more than any file of a register")
    return [c.name for c in columns if c.physical_type == "BYTE_ARRAY"], size


def _written_out(column: pa.ChunkedArray) -> int:
    """Return how many bytes a column has with every text in full; exact only where it could be too much."""
    size = 0
    for chunk in column.chunks:
        if not isinstance(chunk, pa.DictionaryArray):
            size += chunk.nbytes
            continue
        lengths = pc.binary_length(chunk.dictionary).cast(pa.int64())
        most = len(chunk) * (pc.max(lengths).as_py() or 0)
        if most > MOST_BYTES // MOST_COLUMNS:
            counts = np.bincount(chunk.indices.drop_null().to_numpy(), minlength=len(lengths))
            most = int((counts * lengths.fill_null(0).to_numpy()).sum())
        size += most
    return size
