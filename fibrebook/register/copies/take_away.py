"""A copy of the register, whole or of some sites, for a place without signal."""

from __future__ import annotations

import warnings
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa

from fibrebook.errors import DamagedError, InputError, UnknownOutcomeError
from fibrebook.records.kinds.declared import Kind
from fibrebook.register.commits.commit import commit
from fibrebook.register.commits.proposal import Proposal, Store
from fibrebook.register.places.asked import AlreadyThere, Blobs, Missing, OutcomeUnknown
from fibrebook.register.places.packs import Packed
from fibrebook.register.row_files.columns_stored import stored_kinds, undeclared_columns
from fibrebook.register.row_files.read import Reader
from fibrebook.register.row_files.site_rows import FIRM, plain
from fibrebook.register.row_files.undeclared import kinds_of, left_out_whole, reading
from fibrebook.register.row_files.written import put_once
from fibrebook.register.store.commit_files import HEAD
from fibrebook.register.store.log import Log, RegisterWarning
from fibrebook.register.store.state import FORMAT, Json, commit_path, digest, utc_text, with_digest


def take_away(store: Store, target: Blobs, sites: Sequence[str] | None = None, personal: bool = True) -> None:
    """Copy the register to an empty place.

    Parameters
    ----------
    sites : only these; None = all
    personal : with the columns that hold personal data or access secrets

    Notes
    -----
    A whole copy with personal data holds the whole past. Any other holds the sites as they stand now, in one first
    commit, so that nothing that was left out can be found in its past. register.json goes over last: a copy that broke
    off is no register.
    """
    target = target if isinstance(target, Packed) else Packed(target)
    try:
        if target.exists(HEAD) or target.list("commits"):
            raise InputError(f"there is a register at {target.where} already; take the copy to an empty place")
        if _inside(target, store.blobs):
            raise InputError(f"{target.where} lies inside the register itself; take the copy to a place outside it")
        if sites is None and personal:
            _whole(store, target)
        else:
            _part(store, target, sites, personal)
    except OSError as error:  # a full stick, a folder that is not ours, a name that no file may have
        why = error.strerror or error
        raise InputError(f"the copy cannot be written to {target.where}: {why}; choose another place") from error
    except OutcomeUnknown as error:
        raise UnknownOutcomeError(
            f"it is not known whether the copy at {target.where} is whole: {error}. Take another one, to another place"
        ) from error


def same_place(one: Blobs, other: Blobs) -> bool:
    """Tell whether two registers are one and the same."""
    here, there = one.local_path(HEAD), other.local_path(HEAD)
    if here is None or there is None:
        return one.where.rstrip("/") == other.where.rstrip("/")
    return here.exists() and there.exists() and here.samefile(there)


def _inside(target: Blobs, place: Blobs) -> bool:
    inner, outer = target.local_path(HEAD), place.local_path(HEAD)
    return inner is not None and outer is not None and outer.resolve().parent in inner.resolve().parents


def _whole(store: Store, target: Blobs) -> None:
    copied: set[str] = set()
    packed = _packs(store, target)
    for number in range(1, store.log.newest() + 1):
        content = store.log.commit(number)
        refs = [r for files in content["segments"].values() for r in files.values() if r]
        refs += [r for r in (content.get("replaced") or {}).values() if r]
        for ref in [*refs, content["changes"]]:
            if ref["file"] not in copied:
                _copy(store, target, ref, ref["file"] in packed)
            copied.add(ref["file"])
        if commit_path(number) not in packed:
            target.create(commit_path(number), store.log.raw(number))
    copy_photos(store.blobs, target)
    target.create(HEAD, store.log.head_bytes())


def _packs(store: Store, target: Blobs) -> set[str]:
    """Copy the packs as they are; return the files in them."""
    held: set[str] = set()
    for pack in store.blobs.packs():
        held.update(store.blobs.opened(pack).members)  # so it is what its name says
        put_once(target, pack.path, store.blobs.read(pack.path))
    return held


def copy_photos(
    source: Blobs, target: Blobs, wanted: Collection[str] | None = None, certain: Collection[str] = ()
) -> None:
    """Copy photos, each checked against the digest in its name.

    wanted : values among which a photo's name (with or without its ending) must be; None = all
    certain : names of photos that commits of the target rely on, so that they are safe there; any other is written
        again, for the disk may not have confirmed it
    """
    known = set(target.list("photos")) & set(certain)
    for name in source.list("photos"):
        stem = name.partition(".")[0]
        if name in known or (wanted is not None and stem not in wanted and name not in wanted):
            continue
        data = source.read(f"photos/{name}")
        if digest(data).startswith(stem):
            put_once(target, f"photos/{name}", data)


def _copy(store: Store, target: Blobs, ref: Json, packed: bool) -> None:
    """Copy a file that a commit names, unless it went over in a pack."""
    try:
        data = store.blobs.read(ref["file"])
    except Missing:
        store.log.fetch(ref["file"], ref["sha256"]) if store.log.replaced(ref["file"]) is None else None
        return  # what took its place goes over with the commit that says so
    if digest(data) != ref["sha256"]:
        raise DamagedError(f"{ref['file']} is not what was written (digest differs); run mend before a copy is taken")
    if not packed:
        put_once(target, ref["file"], data)  # what lies there of a copy that broke off is written again


def _part(store: Store, target: Packed, sites: Sequence[str] | None, personal: bool) -> None:
    newest = store.log.newest()
    state = store.log.state(newest)
    labels = sorted(state.sites if sites is None else sites)
    added = state.columns if personal else {}  # which of those that nobody here declares are personal is not known
    known = stored_kinds(added)
    left_out = [] if personal else [f"{k.name}.{c.name}" for k in known.values() for c in k.values if c.personal]
    if not personal:  # without their plugin nobody knows which columns of these are personal
        strange, columns = kinds_of(store.log, state), undeclared_columns(state.columns)
        left_out += [*columns, *(f"{k.name}.{c.name}" for k in strange.values() for c in k.values)]
        if strange or columns:
            warnings.warn(left_out_whole([*strange, *columns]), RegisterWarning, stacklevel=4)
    head = store.log.head()
    note = {
        "commit": newest,
        "digest": digest(store.log.raw(newest)) if newest else "",
        "sites": labels,
        "left_out": left_out,
    }
    about = {"format": FORMAT, "id": head["id"], "name": head.get("name", ""), "created_utc": utc_text()}
    data = with_digest({**about, "copy": note})
    log = Log(target)
    log.take_head(data)
    new = Store(target, log, Reader(target, log))
    tables = {
        k.name: without(plain(store.reader.rows(state, k, [*labels, FIRM]), k), k, left_out) for k in known.values()
    }
    tables = {n: t for n, t in tables.items() if t.num_rows}
    others = reading(store.reader, state, [*labels, FIRM])
    if personal:
        tables |= {n: plain(t, k) for n, (k, t) in others.items()}
    kinds = {n: k for n, (k, _) in others.items() if n in tables}
    before = {n: (kinds[n] if n in kinds else known[n]).empty() for n in tables}
    commit(
        new,
        Proposal(
            0,
            (*labels, FIRM),
            before,
            tables,
            "-",
            f"as it stood at commit {newest}",
            "take away",
            kinds=kinds,
            columns=added,
        ),
    )
    if "photos" in tables:
        texts = {str(v) for row in tables["photos"].to_pylist() for v in row.values()}
        copy_photos(store.blobs, target, texts)
    try:
        target.create(HEAD, data)
    except AlreadyThere:
        raise InputError(f"somebody else made a register at {target.where} just now; nothing was overwritten") from None


def without(table: pa.Table, kind: Kind, left_out: Sequence[str]) -> pa.Table:
    """Return a table with some columns blank ("sites.contact")."""
    for column in kind.values:
        if f"{kind.name}.{column.name}" in left_out:
            at = table.schema.get_field_index(column.name)
            field = table.schema.field(at)
            table = table.set_column(at, field, pa.nulls(table.num_rows, field.type))
    return table


def copy_note(head: Mapping[str, Any]) -> Json | None:
    """Return what a copy of some sites says of where it comes from; None for a whole register or copy."""
    note = head.get("copy")
    if note is None:
        return None
    texts = isinstance(note, dict) and all(
        isinstance(note.get(n), list) and all(isinstance(x, str) for x in note[n]) for n in ("sites", "left_out")
    )
    if not texts or not isinstance(note.get("commit"), int) or not isinstance(note.get("digest"), str):
        raise DamagedError("the copy's register.json does not say properly where it was taken from")
    return dict(note)
