"""Redaction: taking personal data out of the whole past, with a record of what was done.

Every segment and every history file that holds the values is written anew without them, one commit says which file
stands for which, and the old files are removed. Commit files are not touched (they hold no values), so the chain of
digests holds as before; the redaction is a link of it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from fibrebook.errors import InputError, NotFoundError
from fibrebook.records.kinds import KINDS
from fibrebook.register import history, pending
from fibrebook.register.edit import said
from fibrebook.register.proposal import Store
from fibrebook.register.segments import put_once, to_parquet
from fibrebook.register.special import Replaced, replace_files, standing, sweep
from fibrebook.register.state import FileRef, digest, signed
from fibrebook.register.undeclared import refuse

Columns = Mapping[str, Collection[str]]  # table -> columns
Found = dict[str, FileRef | None]  # file -> the one without the values


@dataclass(frozen=True)
class Redaction:
    """What a redaction did: its commit (None: there was nothing to take out), the sites, old file -> new file."""

    commit: int | None
    sites: tuple[str, ...]
    replaced: dict[str, str] = field(default_factory=dict)
    removed: tuple[str, ...] = ()

    def __str__(self) -> str:
        if self.commit is None and not self.removed:
            return f"nothing to take out for {', '.join(self.sites)}"
        return (
            f"commit {self.commit}: {len(self.replaced)} file(s) of {', '.join(self.sites)} written anew without the "
            f"values, {len(self.removed)} removed. Backups, copies and workbooks taken earlier still hold them"
        )


def personal_columns(names: Collection[str] | None = None) -> dict[str, list[str]]:
    """Return the columns to blank, by table: those marked personal, or those named as table.column."""
    if names is None:
        found = {k.name: [c.name for c in k.values if c.personal] for k in KINDS.values()}
        return {t: c for t, c in found.items() if c}
    out: dict[str, list[str]] = {}
    for name in names:
        table, _, column = name.partition(".")
        if table not in KINDS or column not in {c.name for c in KINDS[table].values}:
            raise InputError(f"{name!r} is no column that can be blanked; write it as sites.contact")
        if KINDS[table].by_name[column].required or KINDS[table].scope == "firm":
            raise InputError(f"{name!r} cannot be blank")
        out.setdefault(table, []).append(column)
    return out


def sites_of(store: Store, site: str | None, customer: str | None) -> list[str]:
    """Return the sites meant: one by its label, or all that ever bore a customer's name."""
    if (site is None) == (customer is None):
        raise InputError("say which: a site, or a customer")
    if site is not None:
        return [site]
    found = set()
    for _, long in history.find(store.log, range(1, store.log.newest() + 1), KINDS["sites"], None, None):
        own = long.filter(pc.equal(long["column"], "customer"))
        wanted = pa.array([_json(customer or "")])
        hit = pc.or_(pc.is_in(own["before"], wanted), pc.is_in(own["after"], wanted))
        found |= set(own.filter(hit)["site"].to_pylist())
    if not found:
        raise NotFoundError(f"no site ever had the customer {customer!r}")
    return sorted(found)


def refuse_untold(store: Store, sites: Collection[str]) -> None:
    """Refuse to redact all personal data of sites of which a table speaks, or spoke, whose plugin is not here.

    Raises
    ------
    PluginError : it names the table
    """
    told = "personal data cannot all be taken out"
    for number in range(1, store.log.newest() + 1):
        about = store.log.commit(number)["changes"]
        if set(about["sites"]) & set(sites):
            refuse(about["tables"], told)
    for name in pending.names(store.blobs):
        tables = pending.load(store.blobs, name)["tables"]
        refuse((t for t, rows in tables.items() if any(r.get("site") in sites for r in rows["put"])), told)


def _json(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)


def redact(store: Store, by: str, why: str, sites: Collection[str], columns: Columns) -> Redaction:
    """Blank the columns for the sites in every state and in the history; remove the files that held the values."""
    by, why = said(by, "by", "your initials"), said(why, "why", "a few words on what for, without the data itself")

    def wanted(newest: int) -> tuple[Replaced, pa.Table | None]:
        found: Found = {}
        for number in range(1, newest + 1):
            content = store.log.commit(number)
            for table in columns:
                refs = [r for r in content["segments"].get(table, {}).values() if r]
                for ref in refs:
                    _segment(store, ref["file"], table, sites, columns[table], found)
            about = content["changes"]
            if set(about["tables"]) & set(columns) and set(about["sites"]) & set(sites):
                _changes(store, about["file"], number, sites, columns, found)
        return found, _told(sites, columns)

    removed = sweep(store)  # of a redaction that was broken off
    note = {"redacted": {"sites": sorted(sites), "columns": [f"{t}.{c}" for t in columns for c in columns[t]]}}
    commit, replaced = replace_files(store, by, why, "redact", wanted, note)
    _pending(store, sites, columns)
    removed += sweep(store)
    store.reader.forget()
    pairs = {old: new.file for old, new in replaced.items() if new}
    return Redaction(commit, tuple(sorted(sites)), pairs, tuple(removed))


def _segment(
    store: Store, named: str, table: str, sites: Collection[str], columns: Collection[str], found: Found
) -> None:
    file = standing(store, named)
    if file is None or file in found:
        return
    rows = pq.read_table(pa.BufferReader(store.blobs.read(file)))
    mine = pc.is_in(rows["site"], pa.array(sorted(sites), pa.string()))
    clean = rows
    for column in columns:
        if column in rows.column_names:
            at = rows.schema.get_field_index(column)
            field_ = rows.schema.field(column)
            clean = clean.set_column(at, field_, pc.if_else(mine, pa.scalar(None, field_.type), clean[column]))
    if clean.equals(rows):
        return
    data = to_parquet(clean)
    whole = digest(data)
    segment = file.rpartition("/")[2].rpartition("-")[0]
    path = f"tables/{table}/{segment}-{whole[:32]}.parquet"
    put_once(store.blobs, path, data)
    found[file] = FileRef(path, whole, clean.num_rows, len(data))


def _changes(store: Store, named: str, number: int, sites: Collection[str], columns: Columns, found: Found) -> None:
    file = standing(store, named)
    if file is None or file in found:
        return
    long = pq.read_table(pa.BufferReader(store.blobs.read(file)), schema=history.CHANGES)
    hit = pa.array([False] * long.num_rows, pa.bool_())
    for table, names in columns.items():
        own = pc.and_(pc.equal(long["table"], table), pc.is_in(long["column"], pa.array(list(names), pa.string())))
        hit = pc.or_(hit, own.combine_chunks())
    hit = pc.and_(hit, pc.is_in(long["site"], pa.array(sorted(sites), pa.string())).combine_chunks())
    clean = long
    for side in ("before", "after"):
        at = long.schema.get_field_index(side)
        blank = pc.if_else(hit, pa.scalar(None, pa.string()), clean[side])
        clean = clean.set_column(at, long.schema.field(side), blank)
    if clean.equals(long):
        return
    data = to_parquet(clean, row_group_size=max(len(clean), 1))
    whole = digest(data)
    path = f"changes/{number:08d}-{whole[:32]}.parquet"
    put_once(store.blobs, path, data)
    found[file] = FileRef(path, whole, len(clean), len(data))


def _told(sites: Collection[str], columns: Columns) -> pa.Table:
    """Return the rows by which the history says that values were taken out."""
    rows = [
        {"table": t, "site": s, "key": f"[{_json(s)}]", "column": c, "op": "redacted", "before": None, "after": None}
        for s in sorted(sites)
        for t in columns
        for c in columns[t]
        if t == "sites"
    ]
    return pa.Table.from_pylist(rows, schema=history.CHANGES)


def _pending(store: Store, sites: Collection[str], columns: Columns) -> None:
    """Take the values out of kept edits."""
    for name in pending.names(store.blobs):
        content = pending.load(store.blobs, name)
        touched = False
        for table, names in columns.items():
            for row in content["tables"].get(table, {}).get("put", []):
                if row.get("site") in sites:
                    for column in names:
                        touched = row.pop(column, None) is not None or touched
        if touched:
            content["reasons"] = ["taken out by a redaction" for _ in content["reasons"]]
            store.blobs.delete(f"pending/{name}.json")
            store.blobs.create(f"pending/{name}.json", signed(content))
