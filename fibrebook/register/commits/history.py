"""What people read about the past: each cell's value before and after, commit by commit."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.values.to_columns import checked_table
from fibrebook.register.row_files.bounded_parquet import MOST_CHANGES, damage_told, read_in_full
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.merge import Rows
from fibrebook.register.row_files.read import Reader
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.undeclared import kinds_of
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import Json, State

if TYPE_CHECKING:
    import pandas as pd

CHANGES = pa.schema(
    [(n, pa.string()) for n in ("table", "site", "key", "column", "before", "after", "op")]
)  # key, before and after are JSON text; column is null for a row that holds nothing but its key
COLUMNS = ("commit", "time_utc", "by", "why", "table", "key", "column", "before", "after", "op")
OLD, NEW = 0, 1


def changes(kind: Kind, before: pa.Table, after: pa.Table) -> pa.Table:
    """Return every cell that differs between two states of one table, in long form (CHANGES).

    A row that was added has one entry for each value it holds, a removed one for each value it held.
    """
    rows = Rows(kind, before, after)
    had, has = rows.has
    told = np.zeros(rows.count, bool)
    parts: list[tuple[np.ndarray[Any, Any], str | None]] = []
    for column in kind.values:
        old, new = rows.codes(column.name)
        differs = np.flatnonzero(old != new)
        told[differs] = True
        if len(differs):
            parts.append((differs, column.name))
    bare = np.flatnonzero((had != has) & ~told)
    if len(bare):
        parts.append((bare, None))
    if not parts:
        return CHANGES.empty_table()
    ids = np.concatenate([i for i, _ in parts])
    name = np.repeat(np.arange(len(parts)), [len(i) for i, _ in parts])
    row = np.where(had, rows.at(OLD), rows.at(NEW))[ids]
    op = np.where(had[ids] & has[ids], 1, np.where(has[ids], 0, 2))
    columns = {
        "table": pa.array([kind.name]).take(pa.array(np.zeros(len(ids), np.int64))),
        "site": _site_text(rows.joined, row),
        "key": _key_text(kind, rows.joined, row),
        "column": pa.array([n for _, n in parts], pa.string()).take(pa.array(name)),
        "before": _values(rows, OLD, parts),
        "after": _values(rows, NEW, parts),
        "op": pa.array(["added", "changed", "removed"]).take(pa.array(op)),
    }
    return pa.table(columns, schema=CHANGES)


def _site_text(joined: pa.Table, row: np.ndarray[Any, Any]) -> pa.Array:
    if "site" not in joined.column_names:
        return pa.array([""]).take(pa.array(np.zeros(len(row), np.int64)))
    return joined["site"].take(pa.array(row)).combine_chunks()


def _key_text(kind: Kind, joined: pa.Table, row: np.ndarray[Any, Any]) -> pa.Array:
    """Keys as JSON lists, put together column by column."""
    used, back = np.unique(row, return_inverse=True)
    texts = [_json_text(joined[k].take(pa.array(used))) for k in kind.key]
    inner = pc.binary_join_element_wise(*texts, ", ") if len(texts) > 1 else texts[0]
    return pc.binary_join_element_wise("[", inner, "]", "").take(pa.array(back))


def _json_text(column: pa.ChunkedArray) -> pa.Array:
    """Each value as JSON text; a null stays null."""
    coded = column.combine_chunks().dictionary_encode()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.combine_chunks()
    words = [json.dumps(_plain(v), ensure_ascii=False) for v in coded.dictionary.to_pylist()]
    return pa.array(words, pa.string()).take(coded.indices)


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _values(rows: Rows, which: int, parts: Sequence[tuple[np.ndarray[Any, Any], str | None]]) -> pa.Array:
    found = []
    place = rows.place[which]
    for ids, name in parts:
        at = place[ids]
        if name is None:
            found.append(pa.nulls(len(ids), pa.string()))
        else:
            found.append(_json_text(rows.tables[which][name].take(pa.array(at, mask=at < 0))))
    return pa.concat_arrays(found)


def read_changes(log: Log, commit: Json) -> pa.Table:
    """Return the changes of one commit."""
    about = commit["changes"]
    return as_changes(log.fetch(about["file"], about["sha256"]), about["file"])


def as_changes(data: bytes, path: str) -> pa.Table:
    """Return the rows of a file of changes."""
    rows = read_in_full(data, path, MOST_CHANGES)
    if rows.schema.equals(CHANGES):
        return rows
    with damage_told(path):
        return rows.cast(CHANGES)


def find(
    log: Log, numbers: Iterable[int], kind: Kind | None, key: Any, site: str | None
) -> Iterator[tuple[Json, pa.Table]]:
    """Give the changes of some commits that concern a table, a record, a site; commits that do not are not read."""
    wanted = wanted_key(kind, key)
    sites = {s for s in (site, wanted.get("site")) if s is not None}
    for number in numbers:
        commit = log.commit(number)
        about = commit["changes"]
        if (kind and kind.name not in about["tables"]) or not sites <= set(about["sites"]):
            continue
        found = concerning(read_changes(log, commit), kind, wanted, site)
        if found.num_rows:
            yield commit, found


def concerning(rows: pa.Table, kind: Kind | None, wanted: Mapping[str, Any], site: str | None) -> pa.Table:
    """Return those changes that concern a table, a record (as `wanted_key` tells it) and a site; None = any."""
    if kind:
        rows = rows.filter(pc.equal(rows["table"], kind.name))
    if site is not None:
        rows = rows.filter(pc.equal(rows["site"], site))
    for value in wanted.values():  # quickly first: a key is a JSON list, which holds the value as JSON
        rows = rows.filter(pc.match_substring(rows["key"], json.dumps(_plain(value), ensure_ascii=False)))
    if wanted and rows.num_rows:
        good = [k for k in rows["key"].unique().to_pylist() if _matches(kind, json.loads(k), wanted)]
        rows = rows.filter(pc.is_in(rows["key"], pa.array(good, pa.string())))
    return rows


def wanted_key(kind: Kind | None, key: Any) -> dict[str, Any]:
    """Return the key columns asked for, each as the label it is stored as."""
    if key is None:
        return {}
    if kind is None:
        raise InputError("say of which table the key is: history(kind, key)")
    if isinstance(key, Mapping):
        given = dict(key)
    else:
        values = list(key) if isinstance(key, tuple | list) else [key]
        names = kind.key if len(values) != len(kind.own_key) or len(kind.own_key) == len(kind.key) else kind.own_key
        if len(values) > len(names):
            raise InputError(
                f"a key of {kind.name} has {len(kind.key)} parts ({', '.join(kind.key)}), not {len(values)}"
            )
        given = dict(zip(names, values, strict=False))
    strange = [n for n in given if n not in kind.key]
    if strange:
        raise InputError(f"{strange[0]!r} is no key column of {kind.name}; those are: {', '.join(kind.key)}")
    filler = {k: given.get(k, 1 if kind.by_name[k].type == "integer" else "-") for k in kind.key}
    row = checked_table(kind, [filler]).to_pylist()[0]
    return {n: row[n] for n in given}


def _matches(kind: Kind | None, key: list[Any], wanted: Mapping[str, Any]) -> bool:
    assert kind is not None
    return all(key[kind.key.index(n)] == v for n, v in wanted.items())


def to_history_frame(found: Iterable[tuple[Json, pa.Table]]) -> pd.DataFrame:
    """Return changes as people read them: keys as tuples, values as Python values, newest last.

    found : what a commit says (or nothing), and its changes
    """
    parts = []
    for commit, table in found:
        said = {**commit, "time_utc": commit.get("made_utc", commit.get("time_utc"))}
        for name, sort in (("commit", pa.int32()), *((n, pa.string()) for n in ("time_utc", "by", "why"))):
            table = table.append_column(name, pa.repeat(pa.scalar(said.get(name), sort), len(table)))
        parts.append(table)
    return rows_frame(pa.concat_tables(parts) if parts else None)


def rows_frame(rows: pa.Table | None) -> pd.DataFrame:
    """Return rows that bear commit, time_utc, by and why beside the columns of CHANGES as people read them."""
    import pandas as pd

    columns: dict[str, list[Any]] = {n: rows[n].to_pylist() if rows is not None else [] for n in COLUMNS}
    for name in ("key", "before", "after"):
        read: dict[str | None, Any] = {t: None if t is None else json.loads(t) for t in set(columns[name])}
        columns[name] = [tuple(read[t]) if name == "key" else read[t] for t in columns[name]]
    frame = pd.DataFrame({n: pd.Series(v, dtype=object) for n, v in columns.items()})
    frame["time_utc"] = _moments(frame["time_utc"])
    if frame["commit"].notna().all():
        frame["commit"] = frame["commit"].astype("int64")
    for name in ("by", "why", "table", "column", "op"):
        frame[name] = frame[name].astype("str").where(frame[name].notna(), None) if len(frame) else frame[name]
    return frame


def differences(reader: Reader, earlier: State, later: State, sites: Sequence[str] | None) -> pa.Table:
    """Return every cell that differs between two states, in long form; segments that both share are not read."""
    parts = [CHANGES.empty_table()]
    known = stored_kinds(earlier.columns, later.columns)
    for kind in [*known.values(), *kinds_of(reader.log, earlier, later).values()]:
        old, new = earlier.segments.get(kind.name, {}), later.segments.get(kind.name, {})
        for segment in sorted({*old, *new}):
            if old.get(segment) == new.get(segment):
                continue
            was, now = (plain(reader.segment(s, kind, segment), kind) for s in (earlier, later))
            found = changes(kind, was, now)
            if sites is not None and kind.scope == "site":
                found = found.filter(pc.is_in(found["site"], pa.array(sites, pa.string())))
            parts.append(found)
    return pa.concat_tables(parts)


def records_in(long: pa.Table) -> set[tuple[str, tuple[Any, ...]]]:
    """Return the records that some changes are about, as (table, key)."""
    pairs = zip(long["table"].to_pylist(), long["key"].to_pylist(), strict=True)
    return {(t, tuple(json.loads(k))) for t, k in set(pairs)}


def log_frame(log: Log, newest: int, first: int = 1) -> pd.DataFrame:
    """Return one row a commit: commit, time_utc, by, why, what, based_on, tables, sites, changes (how many).

    time_utc is when the change was made; for one made in a copy, arrived_utc (else blank) is when it was brought back.
    """
    import pandas as pd

    columns = ["commit", "time_utc", "by", "why", "what", "based_on", "tables", "sites", "changes", "arrived_utc"]
    rows = []
    for number in range(max(first, 1), newest + 1):
        c = log.commit(number)
        about = c["changes"]
        made = c.get("made_utc")
        rows.append(
            [
                *(number, made or c["time_utc"], c["by"], c["why"], c["what"], c["based_on"]),
                *(", ".join(about["tables"]), ", ".join(about["sites"]), about["rows"]),
                c["time_utc"] if made else None,
            ]
        )
    frame = pd.DataFrame(rows, columns=columns)
    for name in ("time_utc", "arrived_utc"):
        frame[name] = _moments(frame[name])
    return frame


def _moments(texts: Iterable[Any]) -> pd.Series[Any]:
    """Return times that commits say, each in any of the ways that ISO 8601 writes one and a commit may."""
    import pandas as pd

    read = [dt.datetime.fromisoformat(text) if isinstance(text, str) else None for text in texts]
    return pd.to_datetime(pd.Series(read, dtype=object), utc=True)
