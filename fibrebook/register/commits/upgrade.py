"""An older register in today's format: one commit before the first change to it, with every table that differs anew."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field

from fibrebook.register.commits.history import CHANGES
from fibrebook.register.commits.proposal import Store
from fibrebook.register.commits.writing import content, take_number, written
from fibrebook.register.row_files.bounded_parquet import read_parquet
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.undeclared import kinds_of
from fibrebook.register.row_files.written import write_segment
from fibrebook.register.store.formats import changes_rows, upgraded
from fibrebook.register.store.state import FORMAT, FileRef, Json


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
        others, known = kinds_of(store.log, state), stored_kinds(state.columns)
        for table, files in state.segments.items():
            if not files or not changes_rows(state.format):
                continue
            kind = others[table] if table in others else known[table]
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
    rows = read_parquet(store.log.fetch(ref.file, ref.sha256), ref.file)
    return not upgraded(table, rows, form).equals(rows)
