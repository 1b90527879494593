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

from fibrebook.errors import FibrebookError, InputError, NotFoundError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.register.care import redact_photos
from fibrebook.register.care.file_replacement import Replaced, replace_files, standing, sweep
from fibrebook.register.care.redact_photos import Photos, photos_of
from fibrebook.register.commits import history, pending
from fibrebook.register.commits.edit import required_text
from fibrebook.register.commits.history_index import HistoryIndex
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.asked import OutcomeUnknown
from fibrebook.register.proof.planned import forget_replaced
from fibrebook.register.row_files.bounded_parquet import damage_told, in_full, read_parquet
from fibrebook.register.row_files.columns_stored import undeclared_columns
from fibrebook.register.row_files.undeclared import lacking_column, refuse
from fibrebook.register.row_files.written import put_once, to_parquet
from fibrebook.register.store.state import FileRef, digest, with_digest

Columns = Mapping[str, Collection[str]]  # table -> columns
Found = dict[str, FileRef | None]  # file -> the one without the values


@dataclass(frozen=True)
class Redaction:
    """What a redaction did: its commit (None: there was nothing to take out), the sites, old file -> new file.

    photos : photo's file -> what stands for it; left : photos whose details could not be told from the picture
    """

    commit: int | None
    sites: tuple[str, ...]
    replaced: dict[str, str] = field(default_factory=dict)
    removed: tuple[str, ...] = ()
    photos: dict[str, str] = field(default_factory=dict)
    left: tuple[str, ...] = ()

    def __str__(self) -> str:
        left = (
            f". NOT taken out, for these photos are damaged: {', '.join(self.left)}; take them out whole (photos: all)"
            if self.left
            else ""
        )
        if self.commit is None and not self.removed:
            return f"nothing to take out for {', '.join(self.sites)}{left}"
        pictures = f"; {redact_photos.told(self.photos)}" if self.photos else ""
        return (
            f"commit {self.commit}: {len(self.replaced)} file(s) of {', '.join(self.sites)} written anew without the "
            f"values, {len(self.removed)} removed{pictures}. Backups, copies and workbooks taken earlier still hold "
            f"them{left}"
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
            _refuse_columns(store, about["tables"], told)
    for name in pending.names(store.blobs):
        tables = pending.load(store.blobs, name)["tables"]
        refuse((t for t, rows in tables.items() if any(r.get("site") in sites for r in rows["put"])), told)


def _refuse_columns(store: Store, tables: Collection[str], told: str) -> None:
    columns = store.log.state(store.log.newest()).columns
    for name in undeclared_columns({t: c for t, c in columns.items() if t in tables}):
        raise lacking_column(name, told)


def _json(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)


def redact(
    store: Store, by: str, why: str, sites: Collection[str], columns: Columns, photos: str = redact_photos.NONE
) -> Redaction:
    """Blank the columns for the sites in every state and in the history; remove the files that held the values.

    photos : what becomes of the sites' photos, see `redact_photos.photos_of`
    """
    by, why = (
        required_text(by, "by", "your initials"),
        required_text(why, "why", "a few words on what for, without the data itself"),
    )

    pictures = Photos()

    def wanted(newest: int) -> tuple[Replaced, pa.Table | None]:
        nonlocal pictures
        pictures = photos_of(store, sites, photos)
        tables = {*columns, *(("photos",) if pictures.names else ())}
        found: Found = {**pictures.files}
        for number in range(1, newest + 1):
            content = store.log.commit(number)
            for table in tables:
                refs = [r for r in content["segments"].get(table, {}).values() if r]
                for ref in refs:
                    _segment(store, ref["file"], table, sites, columns.get(table, ()), found, pictures)
            about = content["changes"]
            if set(about["tables"]) & tables and (set(about["sites"]) & set(sites) or pictures.everywhere):
                _changes(store, about["file"], number, sites, columns, found, pictures)
        return found, _redaction_rows(sites, columns)

    names = [f"{t}.{c}" for t in columns for c in columns[t]]
    note = {"redacted": {"sites": sorted(sites), "columns": names, "photos": photos}}
    index = HistoryIndex(store.log)
    try:
        index.clear()
        removed = sweep(store)  # of a redaction that was broken off
        commit, replaced = replace_files(store, by, why, "redact", wanted, note)
        _pending(store, sites, columns, pictures)
        removed += sweep(store)
        index.clear()  # what somebody who asked for the history meanwhile may have made
        forget_replaced(store.blobs)  # damaged files that a mend put away may hold the values too
    except (OSError, OutcomeUnknown) as error:
        raise FibrebookError(
            f"the redaction did not come to its end: {error}. Do it again; what is done already stays done"
        ) from error
    store.reader.forget()
    pairs = {old: new.file for old, new in replaced.items() if new}
    return Redaction(
        commit, tuple(sorted(sites)), pairs, tuple(removed), pictures.names if commit else {}, tuple(pictures.left)
    )


def _segment(
    store: Store,
    named: str,
    table: str,
    sites: Collection[str],
    columns: Collection[str],
    found: Found,
    pictures: Photos,
) -> None:
    file = standing(store, named)
    if file is None or file in found:
        return
    rows = in_full(read_parquet(store.blobs.read(file), file))
    with damage_told(file):
        mine = pc.is_in(rows["site"], pa.array(sorted(sites), pa.string()))
        clean = _blanked(rows, mine, columns)
        clean = pictures.rows(clean, mine) if table == "photos" else clean
    if clean.equals(rows):
        return
    data = to_parquet(clean)
    whole = digest(data)
    segment = file.rpartition("/")[2].rpartition("-")[0]
    path = f"tables/{table}/{segment}-{whole[:32]}.parquet"
    put_once(store.blobs, path, data)
    found[file] = FileRef(path, whole, clean.num_rows, len(data))


def _blanked(rows: pa.Table, mine: pa.ChunkedArray, columns: Collection[str]) -> pa.Table:
    for column in columns:
        if column in rows.column_names:
            at = rows.schema.get_field_index(column)
            field_ = rows.schema.field(column)
            rows = rows.set_column(at, field_, pc.if_else(mine, pa.scalar(None, field_.type), rows[column]))
    return rows


def _changes(
    store: Store,
    named: str,
    number: int,
    sites: Collection[str],
    columns: Columns,
    found: Found,
    pictures: Photos,
) -> None:
    file = standing(store, named)
    if file is None or file in found:
        return
    long = history.as_changes(store.blobs.read(file), file)
    hit = pa.array([False] * long.num_rows, pa.bool_())
    for table, names in columns.items():
        own = pc.and_(pc.equal(long["table"], table), pc.is_in(long["column"], pa.array(list(names), pa.string())))
        hit = pc.or_(hit, own.combine_chunks())
    mine = pc.is_in(long["site"], pa.array(sorted(sites), pa.string())).combine_chunks()
    hit = pc.and_(hit, mine)
    clean = pictures.changes(long, mine)
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


def _redaction_rows(sites: Collection[str], columns: Columns) -> pa.Table:
    """Return the rows by which the history says that values were taken out."""
    rows = [
        {"table": t, "site": s, "key": f"[{_json(s)}]", "column": c, "op": "redacted", "before": None, "after": None}
        for s in sorted(sites)
        for t in columns
        for c in columns[t]
        if t == "sites"
    ]
    return pa.Table.from_pylist(rows, schema=history.CHANGES)


def _pending(store: Store, sites: Collection[str], columns: Columns, pictures: Photos) -> None:
    """Take the values out of kept edits."""
    for name in pending.names(store.blobs):
        content = pending.load(store.blobs, name)
        touched = redact_photos.in_kept_edits(content["tables"].get("photos", {}).get("put", []), sites, pictures)
        for table, names in columns.items():
            for row in content["tables"].get(table, {}).get("put", []):
                if row.get("site") in sites:
                    for column in names:
                        touched = row.pop(column, None) is not None or touched
        if touched:
            content["reasons"] = ["taken out by a redaction" for _ in content["reasons"]]
            store.blobs.replace(f"pending/{name}.json", with_digest(content))
