"""Reading everything again: is each file there, is it what was written, and does it belong here?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fibrebook.errors import FibrebookError
from fibrebook.register import signature
from fibrebook.register.files import TEMPORARY, Blobs, Missing
from fibrebook.register.log import HEAD, commit_names
from fibrebook.register.shape import commit_faults, pending_faults
from fibrebook.register.state import Json, State, commit_path, digest, unsigned

if TYPE_CHECKING:
    import pandas as pd

STRANGE = "does not belong here: two people's saves, kept side by side by a synchronising drive? run mend"
DIFFERS = "is not what was written (digest differs)"
MISSING = "is missing"
UNREADABLE = "is not what was written (its own digest differs)"
STILL_THERE = "was to be removed and is still there: do the redaction again"
_DIGEST_NAME = re.compile(r"(?:.*-)?([0-9a-f]{32,64})\.\w+")
_KNOWN = ("tables", "changes", "photos", "commits", "pending", "aside")


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is not as it was written."""

    what: str
    file: str
    table: str = ""
    segment: str = ""
    sites: str = ""


@dataclass
class Check:
    """A walk through the whole register."""

    blobs: Blobs
    commits: dict[int, Json]
    raw: dict[int, bytes]
    replaced: dict[str, tuple[int, Json | None]]  # file -> the commit that took it away, what stands in its place
    named: dict[str, int]  # file -> the last commit that names it
    checked: set[str]
    found: list[Damage]


def verify(blobs: Blobs) -> list[Damage]:
    """Check the chain of commits and the digest of every file that any commit names; nothing found = sound."""
    check = Check(blobs, {}, {}, {}, {}, set(), [])
    head = _read(check, HEAD)
    if head is not None and unsigned(head) is None:
        check.found.append(Damage(UNREADABLE, HEAD))
    numbers, strange = commit_names(blobs)
    check.found += [Damage(STRANGE, f"commits/{n}") for n in strange]
    for number in range(1, max(numbers, default=0) + 1):
        _load(check, number)
    _walk(check, head)
    _leftovers(check)
    return check.found


def _read(check: Check, path: str) -> bytes | None:
    try:
        return check.blobs.read(path)
    except (Missing, OSError, FibrebookError) as error:
        check.found.append(Damage(MISSING if isinstance(error, Missing) else f"cannot be read: {error}", path))
        return None


def _load(check: Check, number: int) -> None:
    data = _read(check, commit_path(number))
    if data is None:
        return
    check.raw[number] = data
    content = unsigned(data)
    if content is None:
        check.found.append(Damage(UNREADABLE, commit_path(number)))
        return
    wrong = commit_faults(content, number)
    if wrong:
        check.found.append(Damage(f"lacks parts that a commit must have: {', '.join(wrong)}", commit_path(number)))
        return
    check.commits[number] = content
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
    previous = head
    key, signatures = signature.key_in_use(), False
    for number in range(1, max(check.raw, default=0) + 1):
        path = commit_path(number)
        content = check.commits.get(number)
        if content is None:
            state, previous = None, check.raw.get(number)
            continue
        if previous is not None and content.get("previous_digest") != digest(previous):
            check.found.append(Damage("does not follow from the one before it (digest differs)", path))
        fault = signature.fault(content, key, signatures)
        signatures = signatures or "signature" in content
        if fault:
            check.found.append(Damage(fault, path))
        _files(check, content, state)
        state = _next_state(check, content, state, path)
        previous = check.raw[number]


def _files(check: Check, commit: Json, state: State | None) -> None:
    """Check the files that a commit names, each once."""
    homes: dict[str, list[str]] = {}
    for site, segment in {**(state.sites if state else {}), **(commit.get("sites") or {})}.items():
        homes.setdefault(str(segment), []).append(site)
    for table, files in (commit.get("segments") or {}).items():
        for segment, ref in files.items():
            if ref is not None:
                _one(check, ref, table, segment, ", ".join(sorted(homes.get(segment, []))))
    about: Any = commit.get("changes") or {}
    if about.get("file"):
        _one(check, about, ", ".join(about.get("tables", [])), "", ", ".join(about.get("sites", [])))


def _one(check: Check, ref: Json, table: str, segment: str, sites: str) -> None:
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
                _one(check, new, table, segment, sites)
            return
        what = MISSING if isinstance(error, Missing) else f"cannot be read: {error}"
        check.found.append(Damage(what, file, table, segment, sites))
        return
    if digest(data) != ref["sha256"]:
        check.found.append(Damage(DIFFERS, file, table, segment, sites))
    elif new is not None:
        check.found.append(Damage(STILL_THERE, file, table, segment, sites))


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
    for path in check.blobs.everything():
        folder, _, name = path.partition("/")
        if path in check.checked or name.endswith(TEMPORARY) or folder not in _KNOWN or folder == "commits":
            continue
        if folder == "aside":
            check.found.append(Damage("was set aside by a mend that did not come to its end: run mend again", path))
            continue
        if folder == "pending":
            data = _read(check, path)
            kept = None if data is None else unsigned(data)
            if data is not None and (kept is None or pending_faults(kept)):
                check.found.append(Damage(UNREADABLE, path))
            continue
        match = _DIGEST_NAME.fullmatch(name.rpartition("/")[2])
        if match is None:
            if folder != "photos":
                check.found.append(Damage("does not belong here; run mend", path))
            continue
        data = _read(check, path)
        if data is not None and not digest(data).startswith(match[1]):
            check.found.append(Damage("is not what its name says (no commit names it)", path))


def to_frame(found: list[Damage]) -> pd.DataFrame:
    """Return damages as a DataFrame: what, file, table, segment, sites."""
    import pandas as pd

    columns = ["what", "file", "table", "segment", "sites"]
    return pd.DataFrame([[getattr(d, c) for c in columns] for d in found], columns=columns, dtype="str")
