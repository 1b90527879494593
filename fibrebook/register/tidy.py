"""Tidying: giving back the room of states that nobody will open again, and of what killed writers left."""

from __future__ import annotations

import re
import time
from dataclasses import dataclass, field

import pyarrow as pa

from fibrebook.errors import FibrebookError, InputError
from fibrebook.register import pending
from fibrebook.register.edit import said
from fibrebook.register.files import TEMPORARY, Missing
from fibrebook.register.log import as_time, commit_names
from fibrebook.register.proposal import Store
from fibrebook.register.shape import commit_faults
from fibrebook.register.special import Replaced, last_named, replace_files
from fibrebook.register.state import Json, unsigned

DAY = 86_400.0
_OURS = re.compile(r"(tables|changes)/.+\.parquet")


@dataclass(frozen=True)
class Tidied:
    """What a tidying did.

    Attributes
    ----------
    commit : its own commit, None where no state was given up
    first_whole : the earliest commit from which on every state can still be opened
    given_up : commits whose state, or the one before it, can no longer be opened; their changes stay in the history
    files, bytes : how many files went, and their size
    """

    commit: int | None
    first_whole: int
    given_up: list[int] = field(default_factory=list)
    files: int = 0
    bytes: int = 0

    def __str__(self) -> str:
        room = f"{self.files} file(s) removed, {self.bytes:,} bytes"
        if not self.given_up:
            return f"{room}; every commit can still be opened"
        return (
            f"{room}; commits {self.given_up[0]} to {self.given_up[-1]} can no longer be opened as they were, nor "
            f"undone; who changed what in them stays in the history. From commit {self.first_whole} on all is whole"
        )


def tidy(store: Store, keep_days: float, by: str, why: str, grace_s: float = DAY) -> Tidied:
    """Remove segment files that only states older than `keep_days` need, and leftovers older than a day.

    Parameters
    ----------
    keep_days : counted back from the newest commit, so that a wrong clock of this machine costs nothing
    grace_s : least age of a file that no commit names; a save under way may be about to name it

    Notes
    -----
    What the newest state, any commit within the days, the state before the first of them (to undo it), a kept edit or a
    commit that a mend has set aside needs is never touched. Changes, the history that people read, are never removed.
    """
    by, why = said(by, "by", "your initials"), said(why, "why", "a few words on what for")
    if not keep_days >= 0:
        raise InputError("keep_days is 0 or more")
    started = time.time()
    first, given_up, sizes = 0, [], {}

    def wanted(newest: int) -> tuple[Replaced, pa.Table | None]:
        nonlocal first, given_up
        first = _first_kept(store, newest, keep_days)
        kept = _kept_bases(store, newest) | set(range(max(first - 1, 0), newest + 1))
        needed = {f for n in kept for f in store.log.state(n).files()}
        given: Replaced = {}
        before = set(range(1, first)) - kept
        given_up = sorted(n for n in before if not store.log.state(n).files().keys() <= needed)
        for n in before:
            for file, ref in store.log.state(n).files().items():
                if file not in needed and store.blobs.exists(file):
                    sizes[file] = ref.bytes
                    given = {**given, file: None}
        return given, None

    note = {"tidied": {"keep_days": keep_days}}
    commit, replaced = replace_files(store, by, why, "tidy", wanted, note)
    files, size = 0, 0
    for file in replaced:
        if _age(store, file) > time.time() - started:  # else a save under way has just taken it up again
            store.blobs.delete(file)
            files, size = files + 1, size + sizes[file]
    leftovers = _leftovers(store, grace_s)
    for file in leftovers:
        store.blobs.delete(file)
    return Tidied(commit, first if given_up else 1, given_up, files + len(leftovers), size)


def _first_kept(store: Store, newest: int, keep_days: float) -> int:
    """Return the first commit to keep: times are taken as they rise, so a clock put back makes nothing look old."""
    rising, latest, worked = [], "", ""
    for number in range(1, newest + 1):
        content = store.log.commit(number)
        latest = max(latest, content["time_utc"])
        worked = latest if content["changes"]["tables"] else worked  # a tidying is no work that days count from
        rising.append(as_time(latest).timestamp())
    if not worked:
        return 1
    limit = min(time.time(), as_time(worked).timestamp()) - keep_days * DAY
    return next((n for n, when in enumerate(rising, 1) if when >= limit), newest)


def _beside(store: Store) -> list[Json]:
    """Return the commits that stand beside the chain: set aside by a mend, or laid there by a synchronising drive."""
    paths = [f"aside/{n}" for n in store.blobs.list("aside")]
    paths += [f"commits/{n}" for n in commit_names(store.blobs)[1]]
    found = [unsigned(store.blobs.read(p)) for p in paths]
    return [said for said in found if said is not None and not commit_faults(said, said.get("commit", 0))]


def _files(said: Json) -> list[str]:
    return [said["changes"]["file"], *(r["file"] for files in said["segments"].values() for r in files.values() if r)]


def _kept_bases(store: Store, newest: int) -> set[int]:
    if _beside(store):
        return set(range(newest + 1))  # a mend that is still to come may need any state
    found = set()
    for name in pending.names(store.blobs):
        try:
            found.add(int(pending.load(store.blobs, name)["base"]))
        except FibrebookError:
            return set(range(newest + 1))  # a kept edit that cannot be read may need anything
    return {n for n in found if 0 <= n <= newest}


def _age(store: Store, file: str) -> float:
    try:
        return time.time() - store.blobs.changed_at(file)
    except Missing:
        return -1.0


def _leftovers(store: Store, grace_s: float) -> list[str]:
    named = last_named(store).keys() | {f for said in _beside(store) for f in _files(said)}
    found = []
    for path in store.blobs.everything():
        unfinished = path.endswith(TEMPORARY) and path.rpartition("/")[2].startswith(".")
        if (unfinished or (_OURS.fullmatch(path) and path not in named)) and _age(store, path) > grace_s:
            found.append(path)
    return found
