"""Rows that break a rule, as problems that name the record, what is wrong and what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.references.reference_index import Ends, key_text

Tables = Mapping[str, pa.Table]
Row = dict[str, object]
Records = tuple[tuple[str, tuple[object, ...]], ...]  # table and key of each
AT_ONCE = 1000  # rows that are read in one go: whoever wants only the first problems does not pay for all


class Judged(dict[str, pa.Table]):
    """Whole tables of some sites by kind, with the numbers that every rule shares. Kinds left out count as empty."""

    def __init__(self, tables: Tables, ends: Ends | None = None) -> None:
        super().__init__(tables)
        self._ends = ends
        self._whole: Judged | None = None

    def only(self, kinds: Iterable[str]) -> Judged:
        """Return some of the tables, with the same numbers."""
        found = Judged({kind: self[kind] for kind in kinds if kind in self})
        found._whole = self
        return found

    @property
    def ends(self) -> Ends:
        """The labels as integers, made when first asked for."""
        if self._ends is None:
            self._ends = Ends(self) if self._whole is None else self._whole.ends
        return self._ends


def one_row(table: pa.Table, i: int) -> Row:
    """Return a row of a table as a dict."""
    return {k: v[0] for k, v in table.slice(int(i), 1).to_pydict().items()}


def problem(kind: str, row: Row, i: int, what: str, remedy: str, column: str = "") -> Problem:
    """Return a problem about row number `i` of a kind."""
    key = tuple(row[k] for k in KINDS[kind].key)
    return Problem(f"{kind} {key_text(row, KINDS[kind].key)}", what, remedy, kind, key, column, int(i))


def each(
    ends: Ends,
    kind: str,
    bad: np.ndarray,
    tell: Callable[[Row], tuple[str, str]],
    column: str = "",
    rests_on: Callable[[Row], Records] | None = None,
) -> Iterator[Problem]:
    """Give one problem for each bad row of a kind, in their order.

    Parameters
    ----------
    bad : for each row whether it is bad
    tell : what is wrong with a row, and what to do
    rests_on : records without which the row would not be bad
    """
    numbers = np.flatnonzero(bad)
    for start in range(0, len(numbers), AT_ONCE):
        block = numbers[start : start + AT_ONCE]
        for i, row in zip(block, ends.table(kind).take(pa.array(block)).to_pylist(), strict=True):
            found = problem(kind, row, i, *tell(row), column)
            yield found if rests_on is None else replace(found, rests_on=rests_on(row))


def blank(column: pa.ChunkedArray) -> np.ndarray:
    """Tell for each cell whether nothing stands in it."""
    if pa.types.is_dictionary(column.type):
        column = column.cast(pa.string())
    none = column.is_null()
    found: np.ndarray = (
        pc.or_(none, pc.equal(column, "").fill_null(True)) if pa.types.is_string(column.type) else none
    ).to_numpy()
    return found
