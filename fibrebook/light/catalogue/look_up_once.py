"""Look up once for each different combination, then spread the answers over the whole array."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np


def is_scalar(*columns: Any) -> bool:
    """Tell whether every argument is a single value (a text or a number), so that a scalar is to come out."""
    return all(isinstance(c, str) or c is None or np.ndim(c) == 0 for c in columns)


def per_kind(look_up: Callable[..., tuple[Any, ...]], *columns: Any) -> list[np.ndarray]:
    """Call look_up once for each different combination of the columns' values.

    Parameters
    ----------
    look_up : takes one value of each column, returns a tuple of answers (floats or texts).
    columns : scalars, sequences, numpy or pyarrow arrays; scalars and length 1 broadcast.

    Returns
    -------
    one array for each answer (float64 where all are numbers, else object), of the columns' common length.
    """
    coded = [_factored(column) for column in columns]
    lengths = {len(codes) for codes, _ in coded} - {1} or {1}
    if len(lengths) > 1:
        raise ValueError(f"columns of different lengths: {sorted(lengths)}")
    length = lengths.pop()
    key = np.zeros(length, np.int64)
    for codes, values in coded:
        key = key * max(len(values), 1) + codes
    _kinds, first, kind_of = np.unique(key, return_index=True, return_inverse=True)
    answers = [look_up(*(values[codes[k if len(codes) > 1 else 0]] for codes, values in coded)) for k in first]
    if not answers:
        return [np.empty(0) for _ in range(_width(look_up))]
    return [_array(list(column))[kind_of] for column in zip(*answers, strict=True)]


def _width(look_up: Callable[..., tuple[Any, ...]]) -> int:
    return int(getattr(look_up, "answers", 1))


def _array(values: list[Any]) -> np.ndarray:
    if all(isinstance(v, float) for v in values):
        return np.array(values, np.float64)
    found = np.empty(len(values), object)
    found[:] = values
    return found


def _factored(column: Any) -> tuple[np.ndarray, list[Any]]:
    """Return (index of each value in the list of different values, that list)."""
    if isinstance(column, str) or column is None or np.ndim(column) == 0:
        return np.zeros(1, np.int64), [column if isinstance(column, str) or column is None else float(column)]
    if hasattr(column, "dictionary_encode") or hasattr(column, "dictionary"):  # pyarrow, not imported here for its name
        return _factored_arrow(column)
    if isinstance(column, np.ndarray) and column.dtype.kind in "iuf":
        values, codes = np.unique(column.astype(float), return_inverse=True)
        return codes.astype(np.int64), values.tolist()
    index: dict[Any, int] = {}
    codes = np.fromiter((index.setdefault(v, len(index)) for v in column), np.int64, len(column))
    return codes, list(index)


def _factored_arrow(column: Any) -> tuple[np.ndarray, list[Any]]:
    whole = column.combine_chunks() if hasattr(column, "combine_chunks") else column
    coded = whole if hasattr(whole, "dictionary") else whole.dictionary_encode()
    codes = coded.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)
    values = coded.dictionary.to_pylist()
    return np.where(codes < 0, len(values), codes), [*values, None]
