"""Rows that came in against the register as it stood when the file was taken: what is added, what changed.

Only true differences are put into the edit, so what others changed meanwhile in other cells stays theirs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.readers.files.parsed import Incoming
from fibrebook.register import Register
from fibrebook.words.matching import shared_ids, value_codes

DIGITS = 1e-14  # two numbers that differ by less, relatively, are one in a spreadsheet


@dataclass
class Difference:
    """One table's rows against the base.

    Attributes
    ----------
    there : row of the base with the same key, -1 = none
    changed : column -> which rows hold another value than the base; only for rows that are there
    """

    part: Incoming
    base: pa.Table
    there: np.ndarray
    changed: dict[str, np.ndarray] = field(default_factory=dict)

    @property
    def new(self) -> np.ndarray:
        """Which rows the base does not have."""
        return self.there < 0

    @property
    def any_changed(self) -> np.ndarray:
        """Which rows differ from the base in some column."""
        out = np.zeros(len(self.there), bool)
        for mask in self.changed.values():
            out |= mask
        return out

    def fates(self) -> np.ndarray:
        """Return added, changed, unchanged or removed for each row."""
        if self.part.removal:
            return np.full(len(self.there), "removed", dtype="<U9")
        return np.where(self.new, "added", np.where(self.any_changed, "changed", "unchanged"))

    def leave_blanks(self) -> int:
        """Take blank cells for silence, not for a wish to clear; return how many that were."""
        count = 0
        for name, mask in self.changed.items():
            clears = mask & self.part.table[name].is_null().to_numpy()
            mask &= ~clears
            count += int(clears.sum())
        return count

    def told(self, row: int) -> tuple[str, str]:
        """Return the changed columns of a row, and each value before and after, as text."""
        columns = [n for n, mask in self.changed.items() if mask[row]]
        before = {n: self.base[n][int(self.there[row])].as_py() for n in columns}
        after = {n: self.part.table[n][row].as_py() for n in columns}
        return ", ".join(columns), "; ".join(f"{n}: {_shown(before[n])} → {_shown(after[n])}" for n in columns)

    def groups(self) -> Iterator[pa.Table]:
        """Give the rows to put: new ones with all they say, changed ones with their changed columns only."""
        names = [n for n in self.part.table.column_names if n not in self.part.kind.key]
        said = {n: self.part.said.get(n, np.ones(len(self.there), bool)) for n in names}
        wanted = np.stack([np.where(self.new, said[n], self.changed[n]) for n in names], 1) if names else None
        rows = np.flatnonzero(self.new | self.any_changed)
        if wanted is None or not len(rows):
            if len(rows):
                yield self.part.table.take(pa.array(rows))
            return
        patterns, which = np.unique(wanted[rows], axis=0, return_inverse=True)
        which = which.reshape(-1)
        for p, pattern in enumerate(patterns):
            columns = [*self.part.kind.key, *(n for n, w in zip(names, pattern, strict=True) if w)]
            yield self.part.table.select(columns).take(pa.array(rows[which == p]))


def _shown(value: Any) -> str:
    return "blank" if value is None else repr(value) if isinstance(value, str) else str(value)


def compare(part: Incoming, base: Register) -> Difference:
    """Match rows by key with the register at the base commit and find which cells differ."""
    kind = part.kind
    table = _base_rows(part, base)
    own, asked = shared_ids([[t[k] for k in kind.key] for t in (table, part.table)])
    place = np.full(int(max(own.max(initial=-1), asked.max(initial=-1))) + 1, -1, np.int64)
    place[own] = np.arange(len(own))
    there = place[asked]
    difference = Difference(part, table, there)
    if part.removal:
        return difference
    known = there >= 0
    at = pa.array(there, mask=~known)
    stored = _stored_cores(part, base, asked, table) if kind.name == "cores" else {}
    for name in part.table.column_names:
        if name in kind.key:
            continue
        before, after = value_codes([table[name].take(at), part.table[name]])
        differs = known & (before != after)
        if kind.by_name[name].type == "number":
            differs &= ~_same_number(table[name].take(at), part.table[name])
        if name in part.said:
            differs &= part.said[name]
        if name in stored:  # a blank means "as the cable gives it", which it is where nothing was overruled
            differs &= ~((after < 0) & ~stored[name][there])
        difference.changed[name] = differs
    return difference


def _same_number(one: pa.ChunkedArray, other: pa.ChunkedArray) -> np.ndarray:
    """Tell which numbers are equal as a spreadsheet holds them: to fifteen digits."""
    a, b = (c.fill_null(np.nan).to_numpy() for c in (one, other))
    found: np.ndarray = np.isclose(a, b, rtol=DIGITS, atol=0)
    return found


def _base_rows(part: Incoming, base: Register) -> pa.Table:
    """Return the base's rows of the sites that the part speaks of."""
    if "site" not in part.kind.key:
        return base.arrow(part.kind.name)
    wanted = set(part.table["site"].unique().to_pylist())
    known = [s for s in base.sites() if s in wanted]
    return base.arrow(part.kind.name, known)


def _stored_cores(part: Incoming, base: Register, asked: np.ndarray, full: pa.Table) -> dict[str, np.ndarray]:
    """For each generated column, which of the base's cores have a value of their own there."""
    wanted = set(part.table["site"].unique().to_pylist())
    said = base.tables([s for s in base.sites() if s in wanted], ["cores"])["cores"]
    keys = part.kind.key
    own, all_ = shared_ids([[t[k] for k in keys] for t in (said, full)])
    out = {}
    for column in part.kind.columns:
        if column.generated:
            overruled = own[said[column.name].is_valid().to_numpy()]
            out[column.name] = np.append(np.isin(all_, overruled), False)
    return out
