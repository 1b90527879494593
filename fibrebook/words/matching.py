"""Text and numbers as small integers, so that comparing and matching rows is array work.

Equal values get equal integers across several tables at once; no row is ever looked at in Python.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.words.labels import natural

IntArray = np.ndarray[Any, np.dtype[np.int64]]
ROOM = 2**62  # folding stops and starts afresh before an int64 could run over


def grouped(values: IntArray) -> tuple[IntArray, list[IntArray]]:
    """Return the different values, rising, and for each the places in the array that hold it, rising too.

    One sort for all groups: a mask for each of them would cost groups times places.
    """
    if not len(values):
        return np.empty(0, np.int64), []
    order = np.argsort(values, kind="stable")
    rising = values[order]
    starts = np.flatnonzero(np.append(True, rising[1:] != rising[:-1]))
    return rising[starts], np.split(order, starts[1:])


def value_codes(columns: Sequence[pa.Array | pa.ChunkedArray]) -> list[IntArray]:
    """Give every value of several like columns an integer: equal values equal integers, null = -1.

    Parameters
    ----------
    columns : arrays of one logical type; text may be plain or dictionary-encoded, each in its own way

    Returns
    -------
    one int64 array for each column, as long as the column
    """
    chunks: list[pa.Array] = []
    counts: list[int] = []
    for column in columns:
        parts = column.chunks if isinstance(column, pa.ChunkedArray) else [column]
        chunks += [p if pa.types.is_dictionary(p.type) else p.dictionary_encode() for p in parts]
        counts.append(len(column))
    if not chunks:
        return [np.empty(0, np.int64) for _ in columns]
    wide = pa.dictionary(pa.int32(), chunks[0].type.value_type)
    joined = pa.chunked_array([c.cast(wide) if c.type != wide else c for c in chunks])
    coded = joined.unify_dictionaries()
    codes = [pc.fill_null(c.indices, -1).to_numpy(zero_copy_only=False) for c in coded.chunks]
    flat = np.concatenate(codes).astype(np.int64)
    return np.split(flat, np.cumsum(counts)[:-1])


def shared_ids(tables: Sequence[Sequence[pa.Array | pa.ChunkedArray]]) -> list[IntArray]:
    """Give every key tuple of several tables an integer: equal tuples equal integers, from 0 without gap.

    Parameters
    ----------
    tables : for each table its key columns, the same number of columns in each; a blank text and null are one

    Returns
    -------
    one int64 array for each table, as long as its columns
    """
    counts = [len(columns[0]) for columns in tables]
    ids = np.zeros(sum(counts), np.int64)
    span = 1
    for place in range(len(tables[0])):
        codes = np.concatenate(value_codes([_blank_is_null(t[place]) for t in tables])) + 1
        width = int(codes.max(initial=0)) + 1
        if span > ROOM // max(width, 1):
            ids = np.unique(ids, return_inverse=True)[1].astype(np.int64)
            span = int(ids.max(initial=0)) + 1
        ids = ids * width + codes
        span *= width
    dense = np.unique(ids, return_inverse=True)[1].astype(np.int64)
    return np.split(dense, np.cumsum(counts)[:-1])


def _blank_is_null(column: pa.Array | pa.ChunkedArray) -> pa.Array | pa.ChunkedArray:
    """Text columns with "" put as null; others untouched."""
    if pa.types.is_dictionary(column.type):
        if not pa.types.is_string(column.type.value_type):
            return column
        chunks = column.chunks if isinstance(column, pa.ChunkedArray) else [column]
        return pa.chunked_array([_blank_dictionary(c) for c in chunks], column.type)
    if not pa.types.is_string(column.type):
        return column
    return pc.if_else(pc.equal(column, ""), pa.scalar(None, pa.string()), column)


def _blank_dictionary(chunk: pa.DictionaryArray) -> pa.DictionaryArray:
    blank = pc.index(chunk.dictionary, "").as_py()
    if blank < 0:
        return chunk
    indices = pc.if_else(pc.equal(chunk.indices, blank), pa.scalar(None, chunk.indices.type), chunk.indices)
    return pa.DictionaryArray.from_arrays(indices, chunk.dictionary)


def repeated(columns: Sequence[pa.Array | pa.ChunkedArray]) -> IntArray:
    """Return the positions of rows whose key tuple stands in an earlier row already."""
    ids = shared_ids([columns])[0]
    first = np.unique(ids, return_index=True)[1]
    mask = np.ones(len(ids), bool)
    mask[first] = False
    return np.flatnonzero(mask)


def natural_order(columns: Sequence[pa.Array | pa.ChunkedArray]) -> IntArray:
    """Return the order that sorts rows by their key columns as people sort labels (2 before 10)."""
    ranks = []
    for column in columns:
        codes = value_codes([column])[0]
        values = _values_by_code(column, codes)
        if values and isinstance(next((v for v in values if v is not None), None), str):
            order = sorted(range(len(values)), key=lambda i, v=values: (natural(v[i]), v[i] or ""))  # type: ignore[misc]
        else:
            order = sorted(range(len(values)), key=lambda i, v=values: (v[i] is not None, v[i]))  # type: ignore[misc]
        rank = np.empty(len(values) + 1, np.int64)
        rank[order] = np.arange(len(values))
        rank[-1] = -1  # null first
        ranks.append(rank[codes])
    return np.lexsort(ranks[::-1]) if ranks else np.empty(0, np.int64)


def _values_by_code(column: pa.Array | pa.ChunkedArray, codes: IntArray) -> list[Any]:
    """Return one value for each code in use; a code that no row has gets None."""
    size = int(codes.max(initial=-1)) + 1
    used, first = np.unique(codes, return_index=True)
    keep = used >= 0
    values: list[Any] = [None] * size
    for code, value in zip(used[keep].tolist(), column.take(pa.array(first[keep])).to_pylist(), strict=True):
        values[code] = value
    return values
