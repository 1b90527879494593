"""Packing: old commit files and files of changes put together, so that a register of many years has few files.

The bytes of each are kept exactly, so digests and the chain hold as before. A pack is made, read back and compared;
only then do the files go that it holds. Killed at any moment, a file lies by itself, in a pack, or in both and alike.
Packed are whole blocks of commits that are older than a day and than the newest few, so no save under way can want the
number of one of them.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

from fibrebook.errors import DamagedError, FibrebookError
from fibrebook.register.care.file_replacement import last_named
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.asked import Missing
from fibrebook.register.places.pack_file import Opened, made, place_of
from fibrebook.register.store.commit_files import commit_names
from fibrebook.register.store.state import FORMAT, Json, commit_path, digest

EACH = 512  # commits of a block
LOOSE = 64  # newest commits that lie by themselves: more than from one whole state to the next
LARGEST = 128 * 1024  # bytes of a file of changes that is packed; there are few larger ones


@dataclass(frozen=True)
class PackingStart:
    """What there is before the first block is packed, found out once for all of them.

    Attributes
    ----------
    newest : number of the newest commit
    loose : by number, the files of commits and changes that lie by themselves
    gone : files that were taken away
    instead : what stands in the place of others, as the commits name it, by path
    """

    newest: int
    loose: Mapping[int, Sequence[str]]
    gone: Set[str]
    instead: Json


def pack_old(store: Store, grace_s: float) -> int:
    """Put old files together; return how many that lay by themselves are in packs now.

    Parameters
    ----------
    grace_s : least age of the newest commit of a block

    Notes
    -----
    Nothing is packed while commits lie beside the chain, which only a mend can bring together, nor from the first
    commit on that does not follow from the one before.
    """
    log, files = store.log, store.blobs.files
    newest = log.newest()
    if not newest or log.state(newest).format < FORMAT or files.list("aside") or commit_names(files)[1]:
        return 0
    loose: dict[int, list[str]] = {}
    for path in (f"{folder}/{n}" for folder in ("commits", "changes") for n in files.list(folder)):
        if (place := place_of(path)) is not None:
            loose.setdefault(place[1], []).append(path)
    instead = {r["file"]: r for c in log.replacing() for r in c["replaced"].values() if r}
    start = PackingStart(newest, loose, _taken_away(store), instead)
    store.blobs.packs()
    done = 0
    try:
        for first in range(1, newest - LOOSE - EACH + 2, EACH):
            done += _block(store, first, first + EACH - 1, start, grace_s)
    except DamagedError:
        pass  # verify tells of it; what is packed stays packed
    return done


def _taken_away(store: Store, since: int = 0) -> set[str]:
    """Return the files that commits later than one say were taken away: none of them goes into a pack."""
    taking = [c for c in store.log.replacing() if c["commit"] > since]
    named = last_named(store) if taking else {}
    return {f for c in taking for f in c["replaced"] if named.get(f, 0) < c["commit"]}


def _block(store: Store, first: int, last: int, start: PackingStart, grace_s: float) -> int:
    """Pack the files of some commits that lie by themselves, together with those that are in packs already."""
    blobs, files = store.blobs, store.blobs.files
    own = {path for number in range(first, last + 1) for path in start.loose.get(number, ())}
    old = [p for p in blobs.list_of_packs.all() if first <= p.first and p.last <= last]
    in_packs = [path for pack in old for path in blobs.opened(pack).members]
    if not own and len(set(in_packs)) == len(in_packs):
        return 0
    if commit_path(last) in own and time.time() - files.changed_at(commit_path(last)) < grace_s:
        return 0
    members = _members(store, first, last, {*own, *in_packs} - start.gone, start.instead)
    if not own & members.keys() and len(set(in_packs)) == len(in_packs):
        return 0
    new = list(made(members))
    for pack, data in new:
        blobs.add(pack, data)
        back = Opened(pack, files.read(pack.path))
        if any(back.read(p) != members[p] for p in back.members):
            raise FibrebookError(f"{pack.path} was not written as it should be; nothing was removed")
    files.delete_all(p for p in sorted(own) if p in members)
    kept = {pack.name for pack, _ in new}
    for pack in old:
        if pack.name not in kept:
            files.delete(pack.path)
    if old:
        blobs.packs()
    meanwhile = _taken_away(store, start.newest) & members.keys()
    if meanwhile:  # somebody has redacted just now
        blobs.delete_all(sorted(meanwhile))
    return len(own & members.keys())


def _members(store: Store, first: int, last: int, there: set[str], instead: Json) -> dict[str, bytes]:
    """Return the commits of a block, each after a look at the one before, and what of their changes may be packed.

    Raises
    ------
    DamagedError : a commit cannot be read, or does not follow
    """
    log = store.log
    found: dict[str, bytes] = {}
    for number in range(first, last + 2):  # the one after the last proves the last
        if log.commit(number)["previous_digest"] != log.previous_digest(number):
            raise DamagedError(f"commit {number} does not follow from the one before it: run verify")
        if number <= last:
            found[commit_path(number)] = log.raw(number)
    named = {c["changes"]["file"]: c["changes"] for n in range(first, last + 1) for c in [log.commit(n)]}
    for path in sorted(there):
        ref = instead.get(path) or named.get(path)
        if path.startswith("changes/") and ref is not None:
            data = _read(store, path)
            if data is not None and len(data) <= LARGEST and digest(data) == ref["sha256"]:
                found[path] = data
    return found


def _read(store: Store, path: str) -> bytes | None:
    try:
        return store.blobs.read(path)
    except (Missing, DamagedError):
        return None
