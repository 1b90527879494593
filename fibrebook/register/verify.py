"""Reading everything again: is each file there, and is it what was written?"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fibrebook.register.blobs import Blobs, Missing
from fibrebook.register.state import Json, State, commit_path, digest, signed

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is not as it was written."""

    what: str
    file: str
    table: str = ""
    segment: str = ""
    sites: str = ""


def verify(blobs: Blobs) -> list[Damage]:
    """Check the chain of commits and the digest of every file that any commit names; nothing found = sound."""
    found: list[Damage] = []
    previous = _read(blobs, "register.json", found)
    if previous is not None and not _parsed(previous):
        found.append(Damage("cannot be understood", "register.json"))
    numbers = [int(n[:8]) for n in blobs.list("commits") if n.endswith(".json") and n[:8].isdecimal()]
    state: State | None = State()
    checked: set[str] = set()
    for number in range(1, max(numbers, default=0) + 1):
        path = commit_path(number)
        data = _read(blobs, path, found)
        commit = _parsed(data) if data is not None else None
        if data is not None and commit is None:
            found.append(Damage("cannot be understood", path))
        if commit is None:
            state, previous = None, data
            continue
        found += _chain(commit, number, data or b"", previous, path)
        found += _files(blobs, commit, state, checked)
        state = _next_state(commit, state, path, found)
        previous = data
    return found


def _read(blobs: Blobs, path: str, found: list[Damage]) -> bytes | None:
    try:
        return blobs.read(path)
    except (Missing, OSError):
        found.append(Damage("is missing", path))
        return None


def _parsed(data: bytes) -> Json | None:
    try:
        content = json.loads(data)
    except ValueError:
        return None
    return content if isinstance(content, dict) else None


def _chain(commit: Json, number: int, data: bytes, previous: bytes | None, path: str) -> Iterator[Damage]:
    if commit.get("commit") != number:
        yield Damage(f"says that it is commit {commit.get('commit')}", path)
    if signed(commit) != data:
        yield Damage("is not what was written (its own digest differs)", path)
    if previous is not None and commit.get("previous_digest") != digest(previous):
        yield Damage("does not follow from the one before it (digest differs)", path)


def _files(blobs: Blobs, commit: Json, state: State | None, checked: set[str]) -> Iterator[Damage]:
    """Check the files that a commit names, each once."""
    homes: dict[str, list[str]] = {}
    for site, segment in {**(state.sites if state else {}), **(commit.get("sites") or {})}.items():
        homes.setdefault(str(segment), []).append(site)
    for table, files in (commit.get("segments") or {}).items():
        for segment, ref in files.items():
            if ref is not None:
                yield from _one(
                    blobs, ref, checked, table, segment, ", ".join(sorted(homes.get(segment, [])))
                )
    about: Any = commit.get("changes") or {}
    if about.get("file"):
        yield from _one(blobs, about, checked, "", "", ", ".join(about.get("sites", [])))


def _one(
    blobs: Blobs, ref: Json, checked: set[str], table: str, segment: str, sites: str
) -> Iterator[Damage]:
    if ref["file"] in checked:
        return
    checked.add(ref["file"])
    try:
        data = blobs.read(ref["file"])
    except (Missing, OSError):
        yield Damage("is missing", ref["file"], table, segment, sites)
        return
    if digest(data) != ref["sha256"]:
        yield Damage("is not what was written (digest differs)", ref["file"], table, segment, sites)


def _next_state(commit: Json, state: State | None, path: str, found: list[Damage]) -> State | None:
    try:
        after = state.after({k: v for k, v in commit.items() if k != "checkpoint"}) if state else None
        if "checkpoint" in commit:
            whole = State().after(commit)
            if after is not None and whole.as_checkpoint() != after.as_checkpoint():
                found.append(Damage("its checkpoint is not what the commits before it add up to", path))
            return whole
        return after
    except (KeyError, TypeError, AttributeError):
        found.append(Damage("lacks parts that a commit must have", path))
        return None


def to_frame(found: list[Damage]) -> pd.DataFrame:
    """Return damages as a DataFrame: what, file, table, segment, sites."""
    import pandas as pd

    columns = ["what", "file", "table", "segment", "sites"]
    return pd.DataFrame([[getattr(d, c) for c in columns] for d in found], columns=columns, dtype="str")
