"""Writing: rows of some sites as one immutable Parquet file, and which segment a site goes to."""

from __future__ import annotations

from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from fibrebook.errors import DamagedError
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.places.asked import AlreadyThere, Blobs
from fibrebook.register.store.state import FileRef, State, digest
from fibrebook.words.matching import natural_order

ROW_GROUP = 20_000  # mostly one: fewer pieces read quicker, for all sites and for one, than many small ones
SITES_EACH = 64
ROWS_EACH = 20_000


def to_parquet(table: pa.Table, **more: Any) -> bytes:
    """Return a table as Parquet: zstd, page checksums, nothing in it that only Arrow reads."""
    sink = pa.BufferOutputStream()
    pq.write_table(
        table, sink, compression="zstd", store_schema=False, write_page_checksum=True,
        row_group_size=more.pop("row_group_size", ROW_GROUP), **more,
    )  # fmt: skip
    return bytes(sink.getvalue().to_pybytes())


def put_once(blobs: Blobs, path: str, data: bytes) -> None:
    """Create a file whose name holds its digest; the same bytes under that name are as good."""
    try:
        blobs.create(path, data)
    except AlreadyThere:
        if blobs.read(path) != data:
            raise DamagedError(f"{path} is damaged: it is not what its name says; run verify") from None
        blobs.refresh(path)  # else a tidying under way might take it for long left over


def write_segment(blobs: Blobs, kind: Kind, segment: str, rows: pa.Table) -> FileRef | None:
    """Write a segment's rows, sorted by key as people sort labels; None where there are no rows."""
    if not rows.num_rows:
        return None
    rows = rows.take(pa.array(natural_order([rows[k] for k in kind.key])))
    data = to_parquet(rows.cast(kind.schema))
    whole = digest(data)
    path = f"tables/{kind.name}/{segment}-{whole[:32]}.parquet"
    put_once(blobs, path, data)
    return FileRef(path, whole, rows.num_rows, len(data))


class SegmentPlaces:
    """Says which segment a site goes to: the one it is in, else the newest one with room, else a new one."""

    def __init__(self, state: State) -> None:
        self.sites = dict(state.sites)
        self._numbers = sorted({int(s) for s in state.sites.values()}) or [0]
        last = self.name(self._numbers[-1])
        self._in_last = sum(1 for s in state.sites.values() if s == last)
        self._rows = sum(files[last].rows for files in state.segments.values() if last in files)

    @staticmethod
    def name(number: int) -> str:
        """Name of a numbered segment."""
        return f"{number:04d}"

    def place(self, site: str, rows: int) -> str:
        """Return a site's segment, giving it one if it is new."""
        if site not in self.sites:
            newest = self._numbers[-1]
            if newest == 0 or self._in_last >= SITES_EACH or (self._in_last and self._rows + rows > ROWS_EACH):
                newest += 1
                self._numbers.append(newest)
                self._in_last = self._rows = 0
            self._in_last += 1
            self._rows += rows
            self.sites[site] = self.name(newest)
        return self.sites[site]
