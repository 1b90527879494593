"""Commits that change no record: files were put in the place of others (mend, redact) or taken away (tidy).

Such a commit bears `replaced`: each file that went, and the file that stands for it, or null. The commits before it
stay as they are, so the chain of digests holds, and whoever follows it finds here why an earlier file is gone.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Mapping

import pyarrow as pa

from fibrebook.errors import FibrebookError, NotCommittedError
from fibrebook.register.commits.commit import TRIES
from fibrebook.register.commits.history import CHANGES
from fibrebook.register.commits.proposal import Proposal, Store
from fibrebook.register.commits.upgrade import upgrade
from fibrebook.register.commits.writing import content, take_number, written
from fibrebook.register.store.state import FORMAT, FileRef, Json

Replaced = Mapping[str, FileRef | None]


def replace_files(
    store: Store, by: str, why: str, what: str, wanted: Callable[[int], tuple[Replaced, pa.Table | None]], note: Json
) -> tuple[int | None, Replaced]:
    """Commit what is to stand for which file; return the commit's number (None: nothing to replace) and the map.

    Parameters
    ----------
    wanted : takes the newest commit's number and returns the map, and rows of history to go with it; asked again
        where somebody else committed meanwhile
    note : what else the commit file is to say
    """
    proposal = Proposal(store.log.newest(), (), {}, {}, by, why, what)
    for _ in range(TRIES):
        newest = store.log.newest()
        if store.log.state(newest).format < FORMAT:
            upgrade(store, by)
            continue
        replaced, long = wanted(newest)
        if not replaced:
            return None, {}
        more: Json = {**note, "replaced": {old: new.as_json() if new else None for old, new in replaced.items()}}
        rows = long if long is not None else CHANGES.empty_table()
        state = store.log.state(newest)
        data = written(lambda n=newest, r=rows, s=state, m=more: content(store, proposal, s, n + 1, r, {}, {}, m))  # type: ignore[misc]
        if take_number(store, newest + 1, data, proposal.token):
            store.reader.forget()
            return newest + 1, replaced
        time.sleep(random.uniform(0, 0.2))
    raise NotCommittedError("others committed first at every try; nothing was changed: try again in a while")


def last_named(store: Store) -> dict[str, int]:
    """Return every file that some commit names, and the last commit that does."""
    named: dict[str, int] = {}
    for number in range(1, store.log.newest() + 1):
        said = store.log.commit(number)
        for files in said["segments"].values():
            named.update({r["file"]: number for r in files.values() if r})
        named.update({r["file"]: number for r in (said.get("replaced") or {}).values() if r})
        named[said["changes"]["file"]] = number
    return named


def to_sweep(store: Store) -> list[str]:
    """Return the files that commits say were taken away and that still lie here; not those that a later one names."""
    named = last_named(store)
    return [
        file
        for said in store.log.replacing()
        for file in said["replaced"]
        if named.get(file, 0) < said["commit"] and store.blobs.exists(file)
    ]


def sweep(store: Store) -> list[str]:
    """Remove the files that commits say were taken away; return them."""
    gone = list(dict.fromkeys(to_sweep(store)))
    store.blobs.delete_all(gone)
    return gone


def standing(store: Store, file: str) -> str | None:
    """Return the file that stands for one today (itself, mostly); None where it was tidied away."""
    for _ in range(1000):
        if store.blobs.exists(file):
            return file
        found = store.log.replaced(file)
        if found is None:
            return file
        if found[1] is None:
            return None
        file = found[1].file
    raise FibrebookError(f"{file} stands for itself over and over: run verify")
