"""Working a lost file out again from a neighbouring state and the changes between."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import FibrebookError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.commits import history
from fibrebook.register.commits.proposal import Store
from fibrebook.register.row_files.columns_stored import kind_as_stored
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.undeclared import kind_of_files
from fibrebook.register.row_files.written import to_parquet
from fibrebook.register.store.state import FileRef, digest
from fibrebook.words.matching import natural_order

Made = tuple[bytes, FileRef]


def rebuilt_segment(store: Store, table: str, segment: str, number: int, count: int) -> Made | None:
    """Return the segment of a table as commit `number` had it; None where the history does not hold it.

    count : how many rows it had; where what was worked out has another number of them, it is not that segment
    """
    kind = _kind(store, table, number)
    rows = _rows(store, kind, segment, number)
    if rows is None or not rows.num_rows or rows.num_rows != count:
        return None
    rows = rows.take(pa.array(natural_order([rows[k] for k in kind.key]))).cast(kind.schema)
    data = to_parquet(rows)
    whole = digest(data)
    return data, FileRef(f"tables/{table}/{segment}-{whole[:32]}.parquet", whole, rows.num_rows, len(data))


def _kind(store: Store, table: str, number: int) -> Kind:
    """Return a table's declaration as commit `number` had it; where its plugin is not here, as its sound files tell."""
    if table in KINDS:
        return kind_as_stored(table, store.log.state(number).columns)
    log = store.log
    refs = [r for n in range(1, log.newest() + 1) for r in log.state(n).segments.get(table, {}).values()]
    sound = []
    for ref in {r.file: r for r in refs}.values():
        with contextlib.suppress(FibrebookError):
            log.fetch(ref.file, ref.sha256)
            sound.append(ref)
    return kind_of_files(log, table, sound)


def _rows(store: Store, kind: Kind, segment: str, number: int) -> pa.Table | None:
    """Start from the nearest sound state before (else after) and follow the changes forward (else back)."""
    newest = store.log.newest()
    for step in (-1, 1):
        start = number + step
        while 0 <= start <= newest:
            try:
                rows = plain(store.reader.segment(store.log.state(start), kind, segment), kind)
                break
            except FibrebookError:
                start += step
        else:
            continue
        span = range(start + 1, number + 1) if step < 0 else range(start, number, -1)
        try:
            for n in span:
                rows = _applied(kind, rows, _changes_of(store, kind, segment, n), forward=step < 0)
            return rows
        except FibrebookError:
            continue
    return None


def _changes_of(store: Store, kind: Kind, segment: str, number: int) -> pa.Table:
    """Return what a commit changed in one segment of a table."""
    content = store.log.commit(number)
    if kind.name not in content["changes"]["tables"]:
        return history.CHANGES.empty_table()
    long = history.read_changes(store.log, content)
    long = long.filter(pc.equal(long["table"], kind.name))
    if kind.scope == "firm":
        return long
    homes = {**store.log.state(number - 1).sites, **store.log.state(number).sites}
    own = [s for s, home in homes.items() if home == segment]
    return long.filter(pc.is_in(long["site"], pa.array(own, pa.string())))


def _applied(kind: Kind, rows: pa.Table, long: pa.Table, forward: bool) -> pa.Table:
    """Return rows with some changes made (or taken back)."""
    if not long.num_rows:
        return rows
    value, gone = ("after", "removed") if forward else ("before", "added")
    content = {tuple(r[k] for k in kind.key): r for r in rows.to_pylist()}
    for entry in long.to_pylist():
        key = tuple(json.loads(entry["key"]))
        if entry["op"] == gone:
            content.pop(key, None)
            continue
        if entry["op"] == "redacted":
            continue
        row = content.setdefault(key, dict.fromkeys(kind.names) | dict(zip(kind.key, key, strict=True)))
        if entry["column"] is not None:
            row[entry["column"]] = _value(kind, entry["column"], entry[value])
    return pa.Table.from_pylist(list(content.values()), schema=kind.schema)


def _value(kind: Kind, column: str, text: str | None) -> Any:
    found = None if text is None else json.loads(text)
    return dt.date.fromisoformat(found) if found is not None and kind.by_name[column].type == "date" else found


def rebuilt_changes(store: Store, number: int, rows: int) -> Made | None:
    """Return the history file of a commit, from the states before and after it; None where its rows do not add up."""
    about = store.log.commit(number)["changes"]
    before, after = store.log.state(number - 1), store.log.state(number)
    parts = [
        history.changes(k, *(plain(store.reader.rows(s, k, about["sites"]), k) for s in (before, after)))
        for k in (_kind(store, t, number) for t in about["tables"])
    ]
    long = pa.concat_tables([history.CHANGES.empty_table(), *parts])
    if len(long) != rows:
        return None
    data = to_parquet(long, row_group_size=max(len(long), 1))
    whole = digest(data)
    return data, FileRef(f"changes/{number:08d}-{whole[:32]}.parquet", whole, len(long), len(data))
