"""The history put in order by site, table and key, so that a record's past is found without reading every commit.

It lies beside the changes in `index/`, in parts that each cover a run of commits. Nothing depends on it: it is derived
from the changes, and where it is missing, damaged or of another history, the changes themselves are read. A part is
used only where its name fits this register: the digests of the commit before its first and of its last commit, and the
digest of its own bytes (with a key in use: their HMAC by that key, so that nobody without it can make one).
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import hmac
import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from fibrebook.errors import DamagedError, FibrebookError, InputError
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.commits import history
from fibrebook.register.commits.history import CHANGES
from fibrebook.register.places.asked import AlreadyThere, Missing
from fibrebook.register.row_files.bounded_parquet import MOST_CHANGES, Groups, damage_told, in_full, read_parquet
from fibrebook.register.row_files.read import may_hold
from fibrebook.register.row_files.written import to_parquet
from fibrebook.register.store.keys import keys_in_use
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import Json, digest

FOLDER = "index"
TAIL = 64  # commits that may stand outside the index before it is carried on
GROUP_ROWS = 8192
SAID = ("time_utc", "by", "why")
BEGINNING = 16  # of a digest, as it stands in a name
INDEX = pa.schema(
    [("commit", pa.int32()), ("place", pa.int32()), *((n, pa.string()) for n in SAID), *CHANGES]
)  # place: of the row among the changes of its commit; time_utc: when the change was made
ORDER = [(n, "ascending") for n in ("site", "table", "key", "commit", "place")]
_NAME = re.compile(r"(\d{8})-(\d{8})-([0-9a-f]{16})-([0-9a-f]{16})-(\d{8})-([0-9a-f]{32})\.parquet")


@dataclass(frozen=True, slots=True)
class IndexFile:
    """One file of the index, as its name tells it."""

    name: str
    first: int
    last: int
    follows: str  # beginning of the digest of the commit before the first
    ends: str  # beginning of the digest of the last commit
    rewritten: int  # the last commit within that took changes of earlier ones away (a redaction); 0 = none
    proof: str  # of its own bytes

    @property
    def path(self) -> str:
        """Where it lies."""
        return f"{FOLDER}/{self.name}"


def part_named(name: str) -> IndexFile | None:
    """Return the part that a file's name tells of; None where it is no such name."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    first, last, follows, ends, rewritten, proof = found.groups()
    return IndexFile(name, int(first), int(last), follows, ends, int(rewritten), proof)


class HistoryIndex:
    """The history of one register, from its index as far as that is sound, else from the changes."""

    def __init__(self, log: Log) -> None:
        self.log = log
        self._kept: dict[str, bytes] = {}  # what was read and found sound

    def rows(self, newest: int, kind: Kind | None, key: Any, site: str | None) -> pa.Table:
        """Return the changes up to a commit that concern a table, a record and a site, in the order they were made.

        Parameters
        ----------
        kind, key, site : as for `history.find`; None = all

        Returns
        -------
        table in the columns of INDEX
        """
        wanted = history.wanted_key(kind, key)
        found: list[pa.Table] = []
        covered: set[int] = set()
        for part in self.parts():
            covered.update(range(part.first, part.last + 1))
            asked = {"site": wanted.get("site", site), "table": kind.name if kind else None}
            found.append(history.concerning(self._rows(part, asked), kind, wanted, site))
        rest = (n for n in range(1, newest + 1) if n not in covered)
        found += [_with_commit(c, rows) for c, rows in history.find(self.log, rest, kind, key, site)]
        rows = pa.concat_tables([INDEX.empty_table(), *found])
        rows = rows.filter(pc.less_equal(rows["commit"], newest))
        return rows.sort_by([("commit", "ascending"), ("place", "ascending")])

    def parts(self) -> list[IndexFile]:
        """Return the parts that fit this register and are sound, oldest first; none that holds what was taken out."""
        chain = self._chain()
        tail = range(chain[-1].last + 1 if chain else 1, self.log.newest() + 1)
        rewritten = max([p.rewritten for p in chain] + [n for n in tail if _rewrites(self.log.commit(n))], default=0)
        return [p for p in chain if p.last >= rewritten]

    def _chain(self) -> list[IndexFile]:
        """Return the longest chain of sound parts, each following from the one before, to one of our commits."""
        named = [p for p in map(part_named, self.log.blobs.list(FOLDER)) if p and p.last <= self.log.newest()]
        named.sort(key=lambda p: -p.last)  # of those that begin alike, the longest sound one
        chain: list[IndexFile] = []
        done, ends = 0, digest(self.log.head_bytes())[:BEGINNING]
        while True:
            own = (p for p in named if p.first == done + 1 and p.follows == ends and p.last > done)
            found = next((p for p in own if self._sound(p)), None)
            if found is None:
                break
            chain.append(found)
            done, ends = found.last, found.ends
        while chain and chain[-1].ends != digest(self.log.raw(chain[-1].last))[:BEGINNING]:
            chain.pop()
        return chain

    def _sound(self, part: IndexFile) -> bool:
        """Tell whether a part's bytes are what its name says, and keep them."""
        if part.name not in self._kept:
            try:
                data = self.log.blobs.read(part.path)
            except (Missing, FibrebookError):
                return False
            try:
                if _proof(data) != part.proof:
                    return False
            except InputError:  # the key file cannot be read: nobody can tell whether it is ours
                return False
            self._kept[part.name] = data
        return True

    def _rows(self, part: IndexFile, asked: Mapping[str, str | None] | None = None) -> pa.Table:
        """Return the rows of a sound part, as far as its row groups may hold certain texts by column."""
        groups = None if asked is None else functools.partial(_groups_with, asked=asked)
        return _as_index(self._kept[part.name], part.path, groups)

    def carry_on(self, least: int = TAIL) -> bool:
        """Put the commits that stand outside into the index, where there are more than `least`; return whether it did.

        A new part takes in those before it that are not much larger, so there are few. Where the place cannot be
        written to, or the changes cannot all be read, nothing is done.
        """
        newest, parts = self.log.newest(), self.parts()
        if parts and parts[0].first > 1:
            parts = []
        start = parts[-1].last + 1 if parts else 1
        if newest - start + 1 <= least:
            return False
        joined = []
        while parts and parts[-1].last - parts[-1].first < 2 * (newest - parts[-1].last):
            joined.append(self._rows(parts.pop()))
        first = parts[-1].last + 1 if parts else 1
        try:
            joined += list(self._from_changes(start, newest))
            self._write(first, newest, pa.concat_tables([INDEX.empty_table(), *joined]).sort_by(ORDER))
        except (FibrebookError, OSError):
            return False
        self.clear({p.name for p in self.parts()})
        return True

    def _from_changes(self, first: int, last: int) -> Iterator[pa.Table]:
        for number in range(first, last + 1):
            content = self.log.commit(number)
            if content["changes"]["rows"]:
                yield _with_commit(content, history.read_changes(self.log, content))

    def _write(self, first: int, last: int, rows: pa.Table) -> None:
        data = to_parquet(rows, row_group_size=GROUP_ROWS)
        rewritten = max((n for n in range(first, last + 1) if _rewrites(self.log.commit(n))), default=0)
        around = (self.log.previous_digest(first), digest(self.log.raw(last)))
        follows, ends = (d[:BEGINNING] for d in around)
        name = f"{first:08d}-{last:08d}-{follows}-{ends}-{rewritten:08d}-{_proof(data)}.parquet"
        with contextlib.suppress(AlreadyThere):
            self.log.blobs.create(f"{FOLDER}/{name}", data)

    def clear(self, keep: Collection[str] = ()) -> None:
        """Remove the parts whose names are not among some."""
        for name in self.log.blobs.list(FOLDER):
            if name not in keep:
                self._kept.pop(name, None)
                self.log.blobs.delete(f"{FOLDER}/{name}")

    def looked_through(self) -> Iterator[tuple[str, IndexFile | None, str]]:
        """Give each file of the index, the part that it is by its name, and why that does not fit this register.

        Raises
        ------
        DamagedError : a commit cannot be read
        """
        names = self.log.blobs.list(FOLDER)
        newest = self.log.newest() if names else 0
        rewritten = max((n for n in range(1, newest + 1) if _rewrites(self.log.commit(n))), default=0)
        for name in names:
            part = part_named(name)
            yield name, part, self._misfit(part, rewritten) if part else ""

    def _misfit(self, part: IndexFile, rewritten: int) -> str:
        if part.last > self.log.newest() or part.first > part.last or part.first < 1:
            return "is of another history"
        around = (self.log.previous_digest(part.first), digest(self.log.raw(part.last)))
        if (part.follows, part.ends) != tuple(d[:BEGINNING] for d in around):
            return "is of another history"
        return "holds what was taken out since" if part.last < rewritten else ""

    def rows_of(self, part: IndexFile) -> pa.Table:
        """Return the rows of a part, whatever its name says of its bytes.

        Raises
        ------
        DamagedError : it cannot be read
        """
        try:
            return _as_index(self.log.blobs.read(part.path), part.path)
        except Missing:
            raise DamagedError(f"{part.path} is missing") from None


def _rewrites(content: Json) -> bool:
    """Tell whether a commit took changes of earlier commits away, or put others in their place."""
    return any(file.startswith("changes/") for file in content.get("replaced") or ())


def _proof(data: bytes) -> str:
    """Return what the name of a part says of its bytes: with a key in use nobody without it can tell it."""
    keys = keys_in_use()
    if not keys:
        return digest(data)[:32]
    return hmac.new(keys[-1].secret, b"fibrebook index " + data, hashlib.sha256).hexdigest()[:32]


def said_of(content: Json) -> dict[str, str]:
    """Return what a commit says beside its changes: when they were made, by whom and what for."""
    return {"time_utc": content.get("made_utc", content["time_utc"]), "by": content["by"], "why": content["why"]}


def _with_commit(content: Json, rows: pa.Table) -> pa.Table:
    """Return changes with what their commit says beside them."""
    said = said_of(content)
    columns = {
        "commit": pa.array(np.full(len(rows), content["commit"], np.int32)),
        "place": pa.array(np.arange(len(rows), dtype=np.int32)),
        **{n: pa.repeat(pa.scalar(v, pa.string()), len(rows)) for n, v in said.items()},
        **{n: rows[n] for n in CHANGES.names},
    }
    return pa.table(columns, schema=INDEX)


def _as_index(data: bytes, path: str, groups: Groups | None = None) -> pa.Table:
    rows = read_parquet(data, path, groups, MOST_CHANGES)
    with damage_told(path):
        return in_full(rows).cast(INDEX)


def _groups_with(file: pq.ParquetFile, asked: Mapping[str, str | None]) -> list[int]:
    """Return the row groups that may hold what is asked for, by the least and greatest text of a column in each."""
    places = [(file.schema_arrow.get_field_index(n), text) for n, text in asked.items() if text is not None]
    about = file.metadata
    return [
        g for g in range(about.num_row_groups)
        if all(may_hold(about.row_group(g).column(at).statistics, text) for at, text in places)
    ]  # fmt: skip
