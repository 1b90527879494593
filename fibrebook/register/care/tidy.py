"""Tidying: giving back the room of states that nobody will open again, and of what killed writers left."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate

import pyarrow as pa

from fibrebook.errors import FibrebookError, InputError
from fibrebook.register.care.file_replacement import Replaced, last_named, replace_files
from fibrebook.register.care.packing import pack_old
from fibrebook.register.commits import pending
from fibrebook.register.commits.edit import required_text
from fibrebook.register.commits.history_index import HistoryIndex
from fibrebook.register.commits.proposal import Store
from fibrebook.register.places.asked import TEMPORARY, Missing
from fibrebook.register.proof.planned import forget_replaced
from fibrebook.register.store.commit_files import commit_names
from fibrebook.register.store.commit_times import rising_times
from fibrebook.register.store.lifetimes import Span, lifetimes
from fibrebook.register.store.shape import commit_faults
from fibrebook.register.store.state import Json, digest_checked

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
    packed : how many old files were put together into packs
    """

    commit: int | None
    first_whole: int
    given_up: list[int] = field(default_factory=list)
    files: int = 0
    bytes: int = 0
    packed: int = 0

    def __str__(self) -> str:
        room = f"{self.files} file(s) removed, {self.bytes:,} bytes"
        if self.packed:
            room += f"; {self.packed} old files put together into packs"
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
    What a mend has replaced goes whatever its age. Old commits and changes are put together into packs (`packing`).
    """
    by, why = required_text(by, "by", "your initials"), required_text(why, "why", "a few words on what for")
    if not keep_days >= 0:
        raise InputError("keep_days is 0 or more")
    started = time.time()
    first = 0
    given_up: list[int] = []
    sizes: dict[str, int] = {}

    def wanted(newest: int) -> tuple[Replaced, pa.Table | None]:
        nonlocal first, given_up
        first = _first_kept(store, newest, keep_days)
        kept = sorted(_kept_bases(store, newest) | set(range(max(first - 1, 0), newest + 1)))
        spans = lifetimes(store.log, newest)
        needed = {span.ref.file for span in spans if span.meets(kept)}
        dropped = [span for span in spans if span.ref.file not in needed]
        given_up = sorted(_within(dropped, first) - set(kept))
        there = set(store.blobs.everything())
        given = {span.ref.file: span.ref.bytes for span in dropped if span.ref.file in there}
        sizes.update(given)
        return dict.fromkeys(given), None

    note = {"tidied": {"keep_days": keep_days}}
    commit, replaced = replace_files(store, by, why, "tidy", wanted, note)
    gone: list[str] = []

    def going() -> Iterator[str]:
        for file in replaced:
            if _age(store, file) > time.time() - started:  # else a save under way has just taken it up again
                gone.append(file)
                yield file

    store.blobs.delete_all(going())
    leftovers = _leftovers(store, grace_s)
    store.blobs.delete_all(leftovers)
    replaced_once = forget_replaced(store.blobs)
    index = HistoryIndex(store.log)
    index.clear()
    index.carry_on(0)
    packed = pack_old(store, grace_s)
    count, size = len(gone) + len(leftovers) + replaced_once, sum(sizes[f] for f in gone)
    return Tidied(commit, first if given_up else 1, given_up, count, size, packed)


def _within(spans: list[Span], before: int) -> set[int]:
    """Return the commits earlier than `before` whose state holds one of some files."""
    step = [0] * (before + 1)
    for span in spans:
        step[min(span.first, before)] += 1
        step[min(span.last + 1, before)] -= 1
    return {n for n, held in enumerate(accumulate(step)) if 0 < n < before and held}


def _first_kept(store: Store, newest: int, keep_days: float) -> int:
    """Return the first commit to keep: times are taken as they rise, so a clock put back makes nothing look old."""
    rising = [when.timestamp() for when in rising_times(store.log, newest)]
    worked = [n for n in range(1, newest + 1) if store.log.commit(n)["changes"]["tables"]]  # a tidying is no work
    if not worked:
        return 1
    limit = min(time.time(), rising[worked[-1] - 1]) - keep_days * DAY
    return next((n for n, when in enumerate(rising, 1) if when >= limit), newest)


def _beside(store: Store) -> list[Json]:
    """Return the commits that stand beside the chain: set aside by a mend, or laid there by a synchronising drive."""
    paths = [f"aside/{n}" for n in store.blobs.list("aside")]
    paths += [f"commits/{n}" for n in commit_names(store.blobs)[1]]
    found = [digest_checked(store.blobs.read(p)) for p in paths]
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
