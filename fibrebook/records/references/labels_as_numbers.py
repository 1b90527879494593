"""Labels and keys as integers: text is met once, in the small dictionaries of the text columns."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Ints = npt.NDArray[np.int64]

CLOSE = 32  # places in an index's own table for each key, at most


class Labels:
    """One set of labels as integers; "" is 0."""

    def __init__(self) -> None:
        self._ids: dict[str | None, int] = {"": 0, None: 0}
        self._texts = [""]

    def __len__(self) -> int:
        return len(self._texts)

    def ids(self, column: pa.ChunkedArray | pa.Array) -> Ints:
        """Return the integer of each label in a text column; null counts as blank."""
        coded = one_array(column)
        words = coded.dictionary.to_pylist()
        ids = self._ids
        for word in words:
            if word not in ids:
                ids[word] = len(self._texts)
                self._texts.append(word)
        table = np.fromiter((ids[w] for w in words), np.int64, len(words))
        codes = coded.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)
        found: Ints = np.append(table, 0)[codes]
        return found

    @property
    def texts(self) -> list[str]:
        """Labels by integer."""
        return self._texts


def one_array(column: pa.ChunkedArray | pa.Array) -> pa.DictionaryArray:
    """Return a text column as one dictionary-encoded array."""
    if isinstance(column, pa.ChunkedArray):
        if column.num_chunks == 1:
            column = column.chunk(0)
        elif pa.types.is_dictionary(column.type):
            column = column.unify_dictionaries().combine_chunks()
        else:
            column = column.combine_chunks()
    if isinstance(column, pa.ChunkedArray):  # combine_chunks of no chunks
        column = pa.array([], pa.string())
    return column if pa.types.is_dictionary(column.type) else column.dictionary_encode()


class Index:
    """Integer keys to row numbers (the first row of a key), -1 where a key is not there or negative.

    Keys that lie close together stand in a table of their own; others are found by binary search.
    """

    def __init__(self, keys: Ints) -> None:
        span = int(keys.max(initial=-1)) + 1
        self._table: npt.NDArray[np.int32] | None = None
        if span <= CLOSE * len(keys) + 1024:
            rows = np.arange(len(keys), dtype=np.int32)[::-1]  # backwards: the first row of a key is written last
            real = keys[::-1] >= 0
            self._table = np.full(span + 1, -1, np.int32)
            self._table[keys[::-1][real]] = rows[real]
        else:
            self._order = np.argsort(keys, kind="stable")
            self._sorted = keys[self._order]

    def rows(self, keys: Ints) -> Ints:
        """Return the row that holds each key, or -1."""
        if self._table is not None:
            most = len(self._table) - 1  # the last place is always empty
            return self._table[np.where((keys < 0) | (keys > most), most, keys)].astype(np.int64)
        at = np.minimum(np.searchsorted(self._sorted, keys), len(self._sorted) - 1)
        return np.where((self._sorted[at] == keys) & (keys >= 0), self._order[at], -1)


def integers(column: pa.ChunkedArray, blank: int = 0) -> Ints:
    """Return a whole-number column as int64, null as `blank`."""
    found: Ints = column.cast(pa.int64()).fill_null(blank).to_numpy()
    return found
