"""Reading everything again: is each file there, is it what was written, and does it belong here?"""

from __future__ import annotations

import contextlib
import functools
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import pyarrow as pa

from fibrebook.errors import FibrebookError
from fibrebook.register.care.index_held import IndexHeld
from fibrebook.register.commits.history import as_changes
from fibrebook.register.places.asked import TEMPORARY, Missing
from fibrebook.register.places.pack_file import PackDamaged
from fibrebook.register.places.pack_list import BELONGS_NOT
from fibrebook.register.places.packs import Packed
from fibrebook.register.proof.damage import (
    DIFFERS,
    FOLLOWS_NOT,
    LINK,
    MISSING,
    STILL_THERE,
    STRANGE,
    UNREADABLE,
    Damage,
    to_frame,
)
from fibrebook.register.proof.signatures import SignatureCheck
from fibrebook.register.store.commit_files import HEAD, commit_names
from fibrebook.register.store.commit_times import FIRST, MILLISECOND, own_time, told_time
from fibrebook.register.store.log import Log
from fibrebook.register.store.shape import commit_faults, pending_faults
from fibrebook.register.store.state import Json, State, commit_path, digest, digest_checked

CUT_OFF = "is of commit {0}, but the newest here is {1}: newest commits were cut off, or copied before they were there"
MOST_LACKING = 10_000  # commits that are named one by one where they are missing
_DIGEST_NAME = re.compile(r"(?:.*-)?([0-9a-f]{32,64})\.\w+")
_KNOWN = ("tables", "changes", "photos", "commits", "pending", "aside")


class Onlooker(Protocol):
    """Somebody who looks at each sound file while it is in hand, so that none is read a second time."""

    def segment(self, table: str, segment: str, ref: Json, data: bytes) -> Damage | None: ...  # noqa: D102
    def changes(self, ref: Json, rows: pa.Table | FibrebookError) -> Damage | None: ...  # noqa: D102


@dataclass
class Check:
    """A walk through the whole register."""

    blobs: Packed
    commits: dict[int, Json]
    raw: dict[int, bytes]
    replaced: dict[str, tuple[int, Json | None]]  # file -> the commit that took it away, what stands in its place
    named: dict[str, int]  # file -> the last commit that names it
    checked: set[str]
    found: list[Damage]
    log: Log
    look: Onlooker | None
    index: IndexHeld | None = None
    unchecked: int = 0  # commits whose signature nobody could check: no key file is named


def verify(blobs: Packed, look: Onlooker | None = None, log: Log | None = None) -> list[Damage]:
    """Check the chain of commits and the digest of every file that any commit names; nothing found = sound.

    Parameters
    ----------
    look : is shown each sound file once, in the order of the commits that name them
    log : takes in the commits that are found sound
    """
    return walked(blobs, look, log).found


def walked(blobs: Packed, look: Onlooker | None = None, log: Log | None = None) -> Check:
    """Do what `verify` does; return the whole walk, its `found` and how many signatures went `unchecked`."""
    check = Check(blobs, {}, {}, {}, {}, set(), [], log or Log(blobs, quiet=True), look)
    head = _read(check, HEAD)
    if head is not None and digest_checked(head) is None:
        check.found.append(Damage(UNREADABLE, HEAD))
    check.found += [Damage(w, p) for p, w in check.blobs.list_of_packs.faults()]
    check.checked.update(d.file for d in check.found)
    for number in _numbers(check):
        _load(check, number)
    with contextlib.suppress(FibrebookError):  # commits that cannot be read are told already
        check.index = IndexHeld(check.log)
    _walk(check, head)
    _leftovers(check)
    check.found += [Damage(w, p) for p, w in check.blobs.list_of_packs.strangers(check.checked)]
    with contextlib.suppress(FibrebookError):  # changes that cannot be read are told already
        check.found += [Damage(what, path) for path, what in (check.index.faults() if check.index else ())]
    return check


def _unreadable(check: Check, path: str, error: Exception, table: str = "", segment: str = "", sites: str = "") -> None:
    """Tell that a file cannot be read; of those in a damaged pack only that the pack is damaged."""
    if not isinstance(error, PackDamaged):
        what = MISSING if isinstance(error, Missing) else f"cannot be read: {error}"
        check.found.append(Damage(what, path, table, segment, sites))
    elif error.path not in check.checked:
        check.checked.add(error.path)
        check.found.append(Damage(error.why, error.path))


def _numbers(check: Check) -> Iterable[int]:
    """Return the numbers of the commits that are or ought to be there; one far beyond the others makes no list."""
    try:
        numbers, strange = commit_names(check.blobs)
    except FibrebookError as error:
        check.found.append(Damage(f"cannot be read: {error.message}", "commits"))
        return []
    check.found += [Damage(STRANGE, f"commits/{n}") for n in strange]
    newest = max(numbers, default=0)
    lacking = newest - len(numbers)
    if lacking <= MOST_LACKING:
        return range(1, newest + 1)
    check.found.append(Damage(f"{lacking:,} commits before commit {newest} are missing", "commits"))
    return numbers


def _read(check: Check, path: str) -> bytes | None:
    try:
        return check.blobs.read(path)
    except (Missing, OSError, FibrebookError) as error:
        _unreadable(check, path, error)
        return None


def _load(check: Check, number: int) -> None:
    data = _read(check, commit_path(number))
    if data is None:
        return
    check.raw[number] = data
    content = digest_checked(data)
    if content is None:
        check.found.append(Damage(UNREADABLE, commit_path(number)))
        return
    wrong = commit_faults(content, number)
    if wrong:
        check.found.append(Damage(f"lacks parts that a commit must have: {', '.join(wrong)}", commit_path(number)))
        return
    check.commits[number] = content
    check.log.take(number, data, content)
    for file, new in (content.get("replaced") or {}).items():
        check.replaced[file] = (number, new)
    for ref in _refs(content):
        check.named[ref["file"]] = number


def _refs(content: Json) -> Iterator[Json]:
    for files in [*(content.get("segments") or {}).values()]:
        yield from (r for r in files.values() if r)
    yield from (r for r in (content.get("replaced") or {}).values() if r)
    if (content.get("changes") or {}).get("file"):
        yield content["changes"]


def _walk(check: Check, head: bytes | None) -> None:
    state: State | None = State()
    previous, latest = head, FIRST
    signatures = SignatureCheck(head)
    before = 0
    for number in sorted(check.raw):
        path = commit_path(number)
        content = check.commits.get(number)
        if number != before + 1:
            state, previous = None, None
        before = number
        if content is None:
            state, previous = None, check.raw.get(number)
            continue
        if previous is not None and content.get("previous_digest") != digest(previous):
            check.found.append(Damage(FOLLOWS_NOT, path))
        check.found += [Damage(fault, path) for fault in signatures.faults(content)]
        latest = max(latest, own_time(content))
        if abs(told_time(content, latest) - latest) >= MILLISECOND:
            check.found.append(Damage("bears a time that is not that of the commits before it", path))
        _files(check, content, state)
        state = _next_state(check, content, state, path)
        previous = check.raw[number]
    check.found += [Damage(what, "commits") for what in signatures.of_all()]
    check.unchecked = signatures.unchecked


def _files(check: Check, commit: Json, state: State | None) -> None:
    """Check the files that a commit names, each once."""
    before = state.sites if state else {}

    def at(segment: str) -> str:
        homes = {**before, **(commit.get("sites") or {})}
        return ", ".join(sorted(site for site, home in homes.items() if home == segment))

    for table, files in (commit.get("segments") or {}).items():
        for segment, ref in files.items():
            if ref is not None:
                _one(check, commit, ref, table, segment, functools.partial(at, segment))
    about: Any = commit.get("changes") or {}
    if about.get("file"):
        _one(check, commit, about, ", ".join(about.get("tables", [])), "", lambda: ", ".join(about.get("sites", [])))


def _one(check: Check, commit: Json, ref: Json, table: str, segment: str, sites: Callable[[], str]) -> None:
    """Check one file that a commit names; `segment` is blank for its changes."""
    file = ref["file"]
    if file in check.checked:
        return
    check.checked.add(file)
    by, new = check.replaced.get(file, (0, None))
    if check.named.get(file, 0) > by:
        by, new = 0, None  # a later commit brought the same bytes back
    try:
        data = check.blobs.read(file)
    except (Missing, OSError, FibrebookError) as error:
        if by and isinstance(error, Missing):
            if new is not None:
                _one(check, commit, new, table, segment, sites)
            return
        _unreadable(check, file, error, table, segment, sites())
        return
    if digest(data) != ref["sha256"]:
        check.found.append(Damage(DIFFERS, file, table, segment, sites()))
    elif new is not None:
        check.found.append(Damage(STILL_THERE, file, table, segment, sites()))
    else:
        _shown(check, commit, ref, table, segment, data)


def _shown(check: Check, commit: Json, ref: Json, table: str, segment: str, data: bytes) -> None:
    """Let those look at a sound file who want to."""
    damage = None
    if segment:
        damage = check.look.segment(table, segment, ref, data) if check.look else None
    elif check.look or (check.index and check.index.wanted):
        try:
            rows: pa.Table | FibrebookError = as_changes(data, ref["file"])
        except FibrebookError as error:
            rows = error
        damage = check.look.changes(ref, rows) if check.look else None
        if check.index and isinstance(rows, pa.Table):
            check.index.changes(commit, rows)
    if damage is not None:
        check.found.append(damage)


def _next_state(check: Check, commit: Json, state: State | None, path: str) -> State | None:
    try:
        after = state.after({k: v for k, v in commit.items() if k != "checkpoint"}) if state else None
        if "checkpoint" in commit:
            whole = State().after(commit)
            if after is not None and whole.as_checkpoint() != after.as_checkpoint():
                check.found.append(Damage("its checkpoint is not what the commits before it add up to", path))
            return whole
        return after
    except FibrebookError:
        check.found.append(Damage("lacks parts that a commit must have", path))
        return None


def _leftovers(check: Check) -> None:
    """Look at the files that no commit names: kept edits, photos, what lost tries left, what does not belong here.

    A file of a lost try is no damage, but one that is not what its name says would stand in the way of a later save.
    """
    newest = max(check.raw, default=0)
    for path in check.blobs.everything():
        folder, _, name = path.partition("/")
        if check.blobs.is_link(path):
            check.found.append(Damage(LINK, path))
            continue
        if path in check.checked or name.endswith(TEMPORARY) or folder not in _KNOWN or folder == "commits":
            continue
        if folder == "aside":
            check.found.append(Damage("was set aside by a mend that did not come to its end: run mend again", path))
            continue
        if folder == "pending":
            data = _read(check, path)
            kept = None if data is None else digest_checked(data)
            if data is not None and (kept is None or pending_faults(kept)):
                check.found.append(Damage(UNREADABLE, path))
            continue
        match = _DIGEST_NAME.fullmatch(name.rpartition("/")[2])
        if match is None:
            if folder != "photos":
                check.found.append(Damage(BELONGS_NOT, path))
            continue
        data = _read(check, path)
        if data is not None and not digest(data).startswith(match[1]):
            check.found.append(Damage("is not what its name says (no commit names it)", path))
        ahead = int(name[:8]) if folder == "changes" and name[:8].isdigit() else 0
        if ahead > newest + 1:  # a lost try is one ahead at most
            check.found.append(Damage(CUT_OFF.format(ahead, newest), path))


__all__ = ["Damage", "Onlooker", "to_frame", "verify"]
