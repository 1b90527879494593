"""The index of the history, held against the changes that it is derived from, while these are read commit by commit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import FibrebookError
from fibrebook.register.commits.history import CHANGES, read_changes
from fibrebook.register.commits.history_index import FOLDER, INDEX, SAID, HistoryIndex, IndexFile, said_of
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import Json

AT_ONCE = 512  # commits whose changes are compared in one go
AS_MADE = [("commit", "ascending"), ("place", "ascending")]
SAYS_OTHERWISE = "does not say what the changes say"


class IndexHeld:
    """Compares each part of the index with the changes of its commits, as these come by.

    Parameters
    ----------
    log : of the register; what it says of a commit was checked before
    """

    def __init__(self, log: Log) -> None:
        self.log = log
        self._index = HistoryIndex(log)
        self._names = log.blobs.list(FOLDER)
        self._wrong: dict[str, str] = {}
        self._parts: dict[
            str, tuple[IndexFile, pa.Table]
        ] = {}  # those that fit, their rows in the order they were made
        self._told: dict[str, int] = {}  # how many of a part's rows were found among the changes
        self._waiting: list[tuple[Json, pa.Table]] = []
        self._came: set[int] = set()
        for name, part, wrong in self._index.looked_through():
            if part is None or wrong:
                self._wrong[name] = wrong or "does not belong here"
                continue
            try:
                self._parts[name] = part, self._index.rows_of(part).sort_by(AS_MADE)
            except FibrebookError as error:
                self._wrong[name] = f"cannot be read ({error})"
        self._told = dict.fromkeys(self._parts, 0)

    @property
    def wanted(self) -> bool:
        """Whether there is anything to compare the changes with."""
        return bool(self._parts)

    def changes(self, commit: Json, rows: pa.Table) -> None:
        """Take the changes of a commit; the commits come in the order of their numbers."""
        if self._parts and commit["commit"] not in self._came:
            self._came.add(commit["commit"])
            self._waiting.append((commit, rows))
            if len(self._waiting) >= AT_ONCE:
                self._compare()

    def _compare(self) -> None:
        waiting, self._waiting = self._waiting, []
        if not waiting:
            return
        counts = [len(rows) for _, rows in waiting]
        numbers = np.repeat(np.array([c["commit"] for c, _ in waiting], np.int32), counts)
        starts = np.repeat(np.cumsum([0, *counts[:-1]]), counts)
        said = [said_of(c) for c, _ in waiting]
        of = pa.array(np.repeat(np.arange(len(waiting)), counts))
        rows = pa.concat_tables([CHANGES.empty_table(), *(rows for _, rows in waiting)])
        columns = {
            "commit": pa.array(numbers),
            "place": pa.array((np.arange(len(numbers)) - starts).astype(np.int32)),
            **{n: pa.array([s[n] for s in said], pa.string()).take(of) for n in SAID},
            **{n: rows[n] for n in CHANGES.names},
        }
        made = pa.table(columns, schema=INDEX).sort_by(AS_MADE)
        came = [c["commit"] for c, _ in waiting]
        for name, (part, held) in self._parts.items():
            first, last = max(part.first, came[0]), min(part.last, came[-1])
            if first > last:
                continue
            own, theirs = _between(made, first, last), _between(held, first, last)
            if came[-1] - came[0] >= len(came):
                theirs = theirs.filter(pc.is_in(theirs["commit"], pa.array(came, pa.int32())))
            self._told[name] += len(theirs)
            if not own.equals(theirs):
                self._wrong[name] = SAYS_OTHERWISE

    def faults(self) -> Iterator[tuple[str, str]]:
        """Give each file of the index that does not say what the changes say, and what is wrong with it.

        Raises
        ------
        DamagedError : changes that did not come by cannot be read
        """
        self._compare()
        covered = {n for part, _ in self._parts.values() for n in range(part.first, part.last + 1)}
        for number in sorted(covered - self._came):
            commit = self.log.commit(number)
            self.changes(commit, read_changes(self.log, commit))
            self._compare()  # alone: it does not come in its order
        for name in self._names:
            if name in self._parts and self._told[name] != len(self._parts[name][1]):
                self._wrong.setdefault(name, SAYS_OTHERWISE)
            if name in self._wrong:
                yield f"{FOLDER}/{name}", f"{self._wrong[name]}; the history is told without it: tidy removes it"


def _between(rows: pa.Table, first: int, last: int) -> pa.Table:
    """Return the rows of some commits out of rows in the order of their commits."""
    numbers = rows["commit"].combine_chunks()
    at = np.searchsorted(numbers.to_numpy(), [first, last + 1])
    return rows.slice(int(at[0]), int(at[1] - at[0]))
