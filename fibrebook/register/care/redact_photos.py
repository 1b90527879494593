"""Redaction of photos: which files a site's rows ever named, and what stands in the place of each."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError
from fibrebook.register.care.file_replacement import standing
from fibrebook.register.commits import pending
from fibrebook.register.commits.proposal import Store
from fibrebook.register.photo_details import TAKEN_OUT, sort_of, without_details
from fibrebook.register.places.asked import Missing
from fibrebook.register.row_files.bounded_parquet import damage_told, read_parquet
from fibrebook.register.row_files.written import put_once
from fibrebook.register.store.state import FileRef, digest

DETAILS, ALL, NONE = "details", "all", "none"
WAYS = (DETAILS, ALL, NONE)


@dataclass
class Photos:
    """What becomes of a site's photos.

    Attributes
    ----------
    names : file as rows name it -> as they are to name it
    everywhere : those of `names` that hold for every site's rows, not only for the sites redacted
    files : path -> the file that stands for it, or None
    left : files whose details cannot be told from the picture; they stay as they are
    """

    names: dict[str, str] = field(default_factory=dict)
    everywhere: set[str] = field(default_factory=set)
    files: dict[str, FileRef | None] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)

    def rows(self, rows: pa.Table, mine: pa.Array) -> pa.Table:
        """Return rows of the table `photos` that name what stands there now; `mine` marks those of the sites."""
        if not self.names or "file" not in rows.column_names:
            return rows
        return _swapped(rows, "file", self._named(rows["file"].to_pylist(), mine.to_pylist()))

    def changes(self, long: pa.Table, mine: pa.Array) -> pa.Table:
        """Return rows of history, whose values are JSON, likewise."""
        if not self.names:
            return long
        own = pc.and_(pc.equal(long["table"], "photos"), pc.equal(long["column"], "file")).to_pylist()
        for side in ("before", "after"):
            texts = [json.loads(v) if o and v else None for o, v in zip(own, long[side].to_pylist(), strict=True)]
            named = self._named(texts, mine.to_pylist())
            values = [
                json.dumps(n) if o and v else v for o, n, v in zip(own, named, long[side].to_pylist(), strict=True)
            ]
            long = _swapped(long, side, values)
        return long

    def named(self, file: object, mine: bool) -> object:
        """Return what a row that names a file is to name instead."""
        if isinstance(file, str) and (mine or file in self.everywhere):
            return self.names.get(file, file)
        return file

    def _named(self, files: list[object], mine: list[bool]) -> list[object]:
        return [self.named(f, m) for f, m in zip(files, mine, strict=True)]


def _swapped(table: pa.Table, column: str, values: list[object]) -> pa.Table:
    at = table.schema.get_field_index(column)
    return table.set_column(at, table.schema.field(at), pa.array(values, pa.string()).cast(table.schema.field(at).type))


def photos_of(store: Store, sites: Collection[str], way: str) -> Photos:
    """Return what becomes of the photos that the sites' rows name, or ever named; new files are written.

    Parameters
    ----------
    way : DETAILS: what the camera wrote into them goes; ALL: they go whole, but for those that another site shows too,
        which lose their details; NONE: they stay
    """
    found = Photos()
    if way not in WAYS:
        raise InputError(f"photos is {way!r}; it may be {', '.join(WAYS)}")
    if way == NONE:
        return found
    mine: set[str] = set()
    others: set[str] = set()
    for site, file in _named_files(store):
        (mine if site in sites else others).add(file)
    for file in sorted(mine - {TAKEN_OUT}):
        path = f"photos/{file}"
        if way == ALL:
            found.names[file] = TAKEN_OUT
            if file not in others:
                found.files[path] = None
        elif (made := _cleaned(store, file, found)) is not None:
            found.files[path] = made
            found.names[file] = made.file.removeprefix("photos/")
            found.everywhere.add(file)
    return found


def _named_files(store: Store) -> Iterator[tuple[str, str]]:
    """Give each site and file of every state and every kept edit."""
    seen: set[str] = set()
    for number in range(1, store.log.newest() + 1):
        for ref in store.log.commit(number)["segments"].get("photos", {}).values():
            file = standing(store, ref["file"]) if ref else None
            if file is None or file in seen:
                continue
            seen.add(file)
            rows = read_parquet(store.blobs.read(file), file)
            with damage_told(file):
                yield from zip(rows["site"].to_pylist(), rows["file"].to_pylist(), strict=True)
    for name in pending.names(store.blobs):
        rows_put = pending.load(store.blobs, name)["tables"].get("photos", {}).get("put", [])
        yield from ((r["site"], r["file"]) for r in rows_put if isinstance(r.get("file"), str))


def _cleaned(store: Store, file: str, found: Photos) -> FileRef | None:
    """Write a photo anew without its details; None where it bears none, is not there, or cannot be told apart."""
    try:
        data = store.blobs.read(f"photos/{file}")
    except Missing:
        return None
    sort = sort_of(data)
    try:
        clean = without_details(data, sort or "")
    except InputError:
        found.left.append(file)
        return None
    if clean == data:
        return None
    whole = digest(clean)
    path = f"photos/{whole}.{sort}"
    put_once(store.blobs, path, clean)
    return FileRef(path, whole, 0, len(clean))


def in_kept_edits(rows: list[dict[str, object]], sites: Collection[str], found: Photos) -> bool:
    """Let the rows of a kept edit name what stands there now; tell whether any did not."""
    touched = False
    for row in rows:
        now = found.named(row.get("file"), row.get("site") in sites)
        touched = touched or now != row.get("file")
        if now != row.get("file"):
            row["file"] = now
    return touched


def told(found: Mapping[str, str]) -> str:
    """Say how many photos were changed, and how many taken out."""
    gone = sum(v == TAKEN_OUT for v in found.values())
    parts = [f"{len(found) - gone} photo(s) without what the camera wrote" if len(found) > gone else ""]
    parts += [f"{gone} photo(s) taken out" if gone else ""]
    return ", ".join(p for p in parts if p)
