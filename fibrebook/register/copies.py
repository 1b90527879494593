"""A copy of the register, whole or of some sites, for a place without signal."""

from __future__ import annotations

import warnings
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa

from fibrebook.errors import DamagedError, InputError
from fibrebook.records.fields import Kind
from fibrebook.records.kinds import KINDS
from fibrebook.register.commit import commit
from fibrebook.register.files import AlreadyThere, Blobs, Missing
from fibrebook.register.log import HEAD, Log, RegisterWarning
from fibrebook.register.proposal import Proposal, Store
from fibrebook.register.segments import FIRM, Reader, plain
from fibrebook.register.state import FORMAT, Json, commit_path, digest, signed, utc_text
from fibrebook.register.undeclared import kinds_of, left_out_whole, reading


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
    for number in range(1, store.log.newest() + 1):
        content = store.log.commit(number)
        refs = [r for files in content["segments"].values() for r in files.values() if r]
        refs += [r for r in (content.get("replaced") or {}).values() if r]
        for ref in [*refs, content["changes"]]:
            _copy(store, target, ref)
        target.create(commit_path(number), store.log.raw(number))
    copy_photos(store.blobs, target)
    target.create(HEAD, store.log.head_bytes())


def copy_photos(source: Blobs, target: Blobs, wanted: Collection[str] | None = None) -> None:
    """Copy the photos that are not there yet, each checked against the digest in its name.

    wanted : values among which a photo's name (with or without its ending) must be; None = all
    """
    known = set(target.list("photos"))
    for name in source.list("photos"):
        stem = name.partition(".")[0]
        if name in known or (wanted is not None and stem not in wanted and name not in wanted):
            continue
        data = source.read(f"photos/{name}")
        if digest(data).startswith(stem):
            target.create(f"photos/{name}", data)


def _copy(store: Store, target: Blobs, ref: Json) -> None:
    if target.exists(ref["file"]):
        return
    try:
        data = store.blobs.read(ref["file"])
    except Missing:
        store.log.fetch(ref["file"], ref["sha256"]) if store.log.replaced(ref["file"]) is None else None
        return  # what took its place goes over with the commit that says so
    if digest(data) != ref["sha256"]:
        raise DamagedError(f"{ref['file']} is not what was written (digest differs); run mend before a copy is taken")
    target.create(ref["file"], data)


def _part(store: Store, target: Blobs, sites: Sequence[str] | None, personal: bool) -> None:
    newest = store.log.newest()
    state = store.log.state(newest)
    labels = sorted(state.sites if sites is None else sites)
    left_out = [] if personal else [f"{k.name}.{c.name}" for k in KINDS.values() for c in k.values if c.personal]
    if not personal:  # without their plugin nobody knows which columns of these are personal
        strange = kinds_of(store.log, state)
        left_out += [f"{k.name}.{c.name}" for k in strange.values() for c in k.values]
        if strange:
            warnings.warn(left_out_whole(strange), RegisterWarning, stacklevel=4)
    head = store.log.head()
    note = {
        "commit": newest,
        "digest": digest(store.log.raw(newest)) if newest else "",
        "sites": labels,
        "left_out": left_out,
    }
    about = {"format": FORMAT, "id": head["id"], "name": head.get("name", ""), "created_utc": utc_text()}
    data = signed({**about, "copy": note})
    log = Log(target)
    log.take_head(data)
    new = Store(target, log, Reader(target, log))
    tables = {
        k.name: without(plain(store.reader.rows(state, k, [*labels, FIRM]), k), k, left_out) for k in KINDS.values()
    }
    tables = {n: t for n, t in tables.items() if t.num_rows}
    others = reading(store.reader, state, [*labels, FIRM])
    if personal:
        tables |= {n: plain(t, k) for n, (k, t) in others.items()}
    kinds = {n: k for n, (k, _) in others.items() if n in tables}
    before = {n: (kinds[n] if n in kinds else KINDS[n]).empty() for n in tables}
    commit(
        new,
        Proposal(0, (*labels, FIRM), before, tables, "-", f"as it stood at commit {newest}", "take away", kinds=kinds),
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
