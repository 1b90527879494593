"""An older register in today's format: one commit that writes every table anew, before the first change to it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.parquet as pq

from fibrebook.records.kinds import KINDS
from fibrebook.register.formats import upgraded
from fibrebook.register.history import CHANGES
from fibrebook.register.proposal import Store
from fibrebook.register.segments import plain, write_segment
from fibrebook.register.state import FORMAT, FileRef, Json
from fibrebook.register.undeclared import kinds_of
from fibrebook.register.writing import content, take_number, written


@dataclass(frozen=True)
class _Upgrade:
    by: str
    why: str
    based_on: int
    what: str = "upgrade"
    more: Json = field(default_factory=dict)
    token: str = field(default_factory=lambda: uuid.uuid4().hex)


def upgrade(store: Store, by: str) -> int | None:
    """Commit the newest state in today's format; None where somebody else was quicker (look again)."""
    newest = store.log.newest()
    state = store.log.state(newest)
    about = _Upgrade(by, f"format {state.format} to {FORMAT}", newest)

    def write() -> bytes:
        segments: dict[str, Json] = {}
        others = kinds_of(store.log, state)
        for table, files in state.segments.items():
            if not files:
                continue
            kind = others[table] if table in others else KINDS[table]
            if table in others and not any(_changes(store, table, ref, state.format) for ref in files.values()):
                continue  # what nobody here declares stays as it is, to the last bit
            for segment in files:
                ref = write_segment(store.blobs, kind, segment, plain(store.reader.segment(state, kind, segment), kind))
                segments.setdefault(table, {})[segment] = ref.as_json() if ref else None
        return content(store, about, state, newest + 1, CHANGES.empty_table(), dict(segments), {})

    done = take_number(store, newest + 1, written(write), about.token)
    return newest + 1 if done else None


def _changes(store: Store, table: str, ref: FileRef, form: int) -> bool:
    """Tell whether a file of an earlier format reads otherwise today."""
    rows = pq.read_table(pa.BufferReader(store.log.fetch(ref.file, ref.sha256)))
    return not upgraded(table, rows, form).equals(rows)
