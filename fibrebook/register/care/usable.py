"""Whether what stands in a register can be used: what reading and saving would do with it, tried and not done.

Digests tell what was changed by accident. Somebody with bad intent makes them fit; then a file is what was written and
still no table. So the newest state is read table by table and taken as a save takes it, the changes of every commit are
read as the history reads them, and what only earlier states need is measured.
"""

from __future__ import annotations

import contextlib
from collections.abc import Collection, Iterator

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import FibrebookError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.proof.damage import Damage
from fibrebook.register.row_files.bounded_parquet import measured_rows
from fibrebook.register.row_files.read import Reader
from fibrebook.register.row_files.site_rows import sites_in
from fibrebook.register.row_files.undeclared import kinds_of, undeclared
from fibrebook.register.row_files.written import SegmentPlaces
from fibrebook.register.store.commit_files import HEAD
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import FIRM_SEGMENT, Json, State, commit_path
from fibrebook.words.matching import shared_ids


class Usable:
    """Looks at the files of a register while `verify` reads them, then at its newest state.

    Parameters
    ----------
    log : of the register, quiet
    """

    def __init__(self, log: Log) -> None:
        self.log = log
        self._current: Collection[str] = ()  # files of the newest state, which are read as tables later on
        with contextlib.suppress(FibrebookError):
            self._current = log.state(log.newest()).files()

    def segment(self, table: str, segment: str, ref: Json, data: bytes) -> Damage | None:
        """Measure a segment of an earlier state."""
        if ref["file"] in self._current:
            return None
        try:
            rows = measured_rows(data, ref["file"])
        except FibrebookError as error:
            return Damage(error.message, ref["file"], table, segment)
        return _other_count(rows, ref, table, segment)

    def changes(self, ref: Json, rows: pa.Table | FibrebookError) -> Damage | None:
        """Look at the changes of a commit."""
        if isinstance(rows, FibrebookError):
            return Damage(rows.message, ref["file"])
        return _other_count(len(rows), ref, "", "")

    def newest_state(self, known: Collection[str]) -> list[Damage]:
        """Return what of the newest state cannot be read or saved although its digest is right.

        Parameters
        ----------
        known : files that are known to be damaged; nothing more is said of them
        """
        try:
            self.log.head()
            state = self.log.state(self.log.newest())
        except FibrebookError as error:
            return [] if known else [Damage(error.message, HEAD)]
        return list(_present(Reader(self.log.blobs, self.log), state, known))


def _other_count(rows: int, ref: Json, table: str, segment: str) -> Damage | None:
    told = f"has {rows} rows instead of {ref['rows']}"
    return None if rows == ref["rows"] else Damage(told, ref["file"], table, segment)


def _present(reader: Reader, state: State, known: Collection[str]) -> Iterator[Damage]:
    """Read every table of a state, and place its sites, as a save does."""
    homes: dict[str, set[str]] = {}
    for site, segment in state.sites.items():
        homes.setdefault(segment, set()).add(site)
    kinds = {n: KINDS[n] for n in state.segments if n in KINDS}
    for table in undeclared(state):
        files = state.segments[table]
        if files and not any(r.file in known for r in files.values()):
            try:
                kinds |= kinds_of(reader.log, State(state.commit, {table: files}, state.sites, state.format))
            except FibrebookError as error:
                yield Damage(error.message, next(iter(files.values())).file, table)
    for table, kind in kinds.items():
        for segment, ref in state.segments[table].items():
            if ref.file not in known:
                told = _segment(reader, state, kind, segment, homes.get(segment, set()))
                if told:
                    yield Damage(told, ref.file, table, segment, ", ".join(sorted(homes.get(segment, ()))))
    try:
        SegmentPlaces(state)
    except (ValueError, KeyError) as error:
        yield Damage(f"nothing can be saved: {error}", commit_path(state.commit))


def _segment(reader: Reader, state: State, kind: Kind, segment: str, sites: set[str]) -> str:
    """Return why a segment cannot be used; "" where it can."""
    if (segment == FIRM_SEGMENT) != (kind.scope == "firm"):
        return "stands in a segment that tables of its sort have not, so its rows are never read"
    try:
        rows = reader.segment(state, kind, segment)
    except FibrebookError as error:
        return error.message
    strange = set(sites_in(rows)) - sites if kind.scope == "site" else set()
    if strange:
        return f"holds rows of a site that is kept elsewhere or nowhere: {min(strange)[:40]!r}"
    if _repeated(rows, kind):
        return "holds two rows of one key"
    return ""


def _repeated(rows: pa.Table, kind: Kind) -> bool:
    if not rows.num_rows:
        return False
    (ids,) = shared_ids([[rows[k] for k in kind.key]])
    found: bool = int(pc.count_distinct(pa.array(ids)).as_py()) < rows.num_rows
    return found
