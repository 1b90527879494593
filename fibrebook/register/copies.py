"""A copy of the register for a site without signal, and bringing back what was changed in it."""

from __future__ import annotations

from fibrebook.errors import ConflictError, InputError
from fibrebook.records.kinds import KINDS
from fibrebook.register import pending
from fibrebook.register.blobs import AlreadyThere, Blobs
from fibrebook.register.commit import Proposal, Store, commit
from fibrebook.register.edit import said
from fibrebook.register.segments import plain
from fibrebook.register.state import commit_path


def take_away(store: Store, target: Blobs) -> None:
    """Copy the whole register, its past included; the commits go over last and in order, so a broken copy is whole."""
    newest = store.log.newest()
    try:
        target.create("register.json", store.blobs.read("register.json"))
    except AlreadyThere:
        raise InputError(
            f"there is a register at {target.where} already; take the copy to an empty place"
        ) from None
    for number in range(1, newest + 1):
        content = store.log.commit(number)
        refs = [r for files in content["segments"].values() for r in files.values() if r]
        for ref in [*refs, content["changes"]]:
            if not target.exists(ref["file"]):
                target.create(ref["file"], store.blobs.read(ref["file"]))
        target.create(commit_path(number), store.log.raw(number))


def bring_back(store: Store, copy: Store, by: str, why: str) -> int | None:
    """Merge what was changed in a copy since it was taken; return the commit (None: nothing was changed).

    Raises
    ------
    InputError : it is a copy of another register
    ConflictError : both changed the same; the copy's changes are kept as a pending edit
    """
    by, why = said(by, "by", "your initials"), said(why, "why", "a few words on what for")
    if store.log.head()["id"] != copy.log.head()["id"]:
        raise InputError(
            f"{copy.blobs.where} is no copy of {store.blobs.where}: it was made as a register of its own"
        )
    common = _last_common(store, copy)
    newest = copy.log.newest()
    abouts = [copy.log.commit(n)["changes"] for n in range(common + 1, newest + 1)]
    kinds = [KINDS[n] for n in sorted({t for a in abouts for t in a["tables"]})]
    sites = sorted({s for a in abouts for s in a["sites"]})
    if not kinds:
        return None
    was, now = copy.log.state(common), copy.log.state(newest)
    proposal = Proposal(
        common, tuple(sites),
        {k.name: plain(copy.reader.rows(was, k, sites), k) for k in kinds},
        {k.name: plain(copy.reader.rows(now, k, sites), k) for k in kinds},
        by, why, "bring back",
    )  # fmt: skip
    try:
        return commit(store, proposal)
    except ConflictError as error:
        raise pending.kept(store.blobs, proposal, error) from error


def _last_common(store: Store, copy: Store) -> int:
    """Return the last commit that both have alike (each names the digest of the one before, so all before are too)."""
    number = min(store.log.newest(), copy.log.newest())
    while number and store.log.raw(number) != copy.log.raw(number):
        number -= 1
    return number
