"""What a commit file says, and the state of the register that commits add up to.

A commit file holds only what it changed; every 32nd also holds the whole state, so that opening reads few files.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fibrebook.bounded_json import bounded_json
from fibrebook.errors import DamagedError
from fibrebook.register.places.asked import proper

FORMAT = 2  # 2: old commits and changes may lie in packs
CHECKPOINT_EVERY = 32
FIRM_SEGMENT = "firm"  # where the kinds stand that belong to no site
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class FileRef:
    """One immutable Parquet file that holds some sites' rows of one table."""

    file: str
    sha256: str
    rows: int
    bytes: int

    def as_json(self) -> Json:
        """Return it as it stands in a commit file."""
        return {"bytes": self.bytes, "file": self.file, "rows": self.rows, "sha256": self.sha256}


def file_ref(said: Json) -> FileRef:
    """Return the file that a commit names, its path checked."""
    ref = FileRef(**{n: said[n] for n in ("file", "sha256", "rows", "bytes")})
    if not (isinstance(ref.sha256, str) and isinstance(ref.rows, int) and isinstance(ref.bytes, int)):
        raise TypeError("a file's particulars are not what they should be")
    proper(ref.file)
    return ref


@dataclass(frozen=True)
class State:
    """The whole register at one commit: which file holds which segment, and which segment holds which site."""

    commit: int = 0
    segments: Mapping[str, Mapping[str, FileRef]] = field(default_factory=dict)  # table -> segment -> file
    sites: Mapping[str, str] = field(default_factory=dict)  # site -> segment
    format: int = FORMAT
    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)  # that plugins add: table -> name -> type

    def after(self, commit: Json) -> State:
        """Return the state once a commit is applied; DamagedError where the commit lacks parts."""
        try:
            return self._after(commit)
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            raise DamagedError(
                f"commit {commit.get('commit')} lacks parts that a commit must have ({error}); "
                "restore its file from a copy of the register"
            ) from error

    def _after(self, commit: Json) -> State:
        number, form = int(commit["commit"]), int(commit["format"])
        columns = commit.get("columns", self.columns)
        if "checkpoint" in commit:
            whole = commit["checkpoint"]
            return State(number, _segments(whole["segments"]), _texts(whole["sites"]), form, columns)
        segments = dict(self.segments)
        for table, files in commit["segments"].items():
            kept = dict(segments.get(table, {}))
            for segment, ref in files.items():
                if ref is None:
                    kept.pop(segment, None)
                else:
                    kept[segment] = file_ref(ref)
            segments[table] = kept
        sites = self.sites
        if commit["sites"]:
            changed = {**self.sites, **commit["sites"]}
            sites = _texts({s: segment for s, segment in changed.items() if segment is not None})
        replaced = {old: file_ref(new) for old, new in commit.get("replaced", {}).items() if new is not None}
        if replaced:
            segments = {t: {s: replaced.get(r.file, r) for s, r in files.items()} for t, files in segments.items()}
        return State(number, segments, sites, form, columns)

    def as_checkpoint(self) -> Json:
        """Return the whole state as it stands in every 32nd commit file."""
        segments = {t: {s: r.as_json() for s, r in files.items()} for t, files in self.segments.items() if files}
        return {"segments": segments, "sites": dict(self.sites)}

    def files(self) -> dict[str, FileRef]:
        """Return every segment file that the state needs, by path."""
        return {r.file: r for files in self.segments.values() for r in files.values()}


def _segments(whole: Json) -> dict[str, dict[str, FileRef]]:
    return {table: {segment: file_ref(ref) for segment, ref in files.items()} for table, files in whole.items()}


def _texts(sites: Json) -> dict[str, str]:
    if not all(isinstance(s, str) and isinstance(segment, str) for s, segment in sites.items()):
        raise TypeError("sites and segments are text")
    return dict(sites)


def as_bytes(content: Json) -> bytes:
    """Return JSON that is the same for the same content: sorted, one newline at the end."""
    return (json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def digest(data: bytes) -> str:
    """Return the sha256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def commit_path(number: int) -> str:
    """Return the path of a commit file."""
    return f"commits/{number:08d}.json"


def with_digest(content: Json) -> bytes:
    """Return a file's bytes with its own digest in it, so that a change to the newest one shows as well."""
    plain = {k: v for k, v in content.items() if k != "digest"}
    return as_bytes({**plain, "digest": digest(as_bytes(plain))})


def digest_checked(data: bytes) -> Json | None:
    """Return the content of a file that bears its own digest; None where it is not what was written."""
    try:
        content = bounded_json(data)
        if not isinstance(content, dict) or as_bytes(content) != data:
            return None
        return content if _bears_its_digest(data, content) else None
    except (ValueError, RecursionError, MemoryError):
        return None


def _bears_its_digest(data: bytes, content: Json) -> bool:
    """Tell whether the digest in a file is that of the file without it.

    Taken out of the text, which spares writing a large one once more; where that finds another place that reads
    alike, the content is written without it.
    """
    said = content.get("digest")
    if not isinstance(said, str):
        return False
    own = b'"digest":' + json.dumps(said, ensure_ascii=False).encode() + b","
    if data.count(own) == 1 and digest(data.replace(own, b"")) == said:
        return True
    return with_digest(content) == data


def utc_text(when: dt.datetime | None = None) -> str:
    """Return a time as it stands in commit files."""
    return (when or dt.datetime.now(dt.UTC)).isoformat(timespec="milliseconds").replace("+00:00", "Z")
