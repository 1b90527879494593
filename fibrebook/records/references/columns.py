"""Integers to text columns again: codes into a list of texts, and rows of a text column."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pyarrow as pa

from fibrebook.records.references.labels_as_numbers import Ints, Labels


def coded(codes: Ints, texts: Iterable[str]) -> pa.DictionaryArray:
    """Text column from integers into a list of texts; -1 is blank."""
    pool = [*texts, ""]
    return pa.DictionaryArray.from_arrays(
        pa.array(np.where(codes < 0, len(pool) - 1, codes).astype(np.int32)), pa.array(pool, pa.string())
    )


def taken(column: pa.ChunkedArray, rows: Ints) -> pa.Array:
    """Values of a text column at rows; a row of -1 is blank. Text stays dictionary-encoded."""
    labels = Labels()
    ids = labels.ids(column)
    return pa.DictionaryArray.from_arrays(
        pa.array(np.append(ids, 0)[rows].astype(np.int32)), pa.array(labels.texts, pa.string())
    )
