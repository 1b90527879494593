"""The numbered log: what each commit says, and the state of the register that they add up to.

A commit file holds only what it changed; every 32nd also holds the whole state, so that opening reads few files.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fibrebook.errors import DamagedError, FormatError, InputError, NotFoundError
from fibrebook.register.blobs import AlreadyThere, Blobs, Missing

FORMAT = 1
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


@dataclass(frozen=True)
class State:
    """The whole register at one commit: which file holds which segment, and which segment holds which site."""

    commit: int = 0
    segments: Mapping[str, Mapping[str, FileRef]] = field(default_factory=dict)  # table -> segment -> file
    sites: Mapping[str, str] = field(default_factory=dict)  # site -> segment

    def after(self, commit: Json) -> State:
        """Return the state once a commit is applied."""
        if "checkpoint" in commit:
            whole = commit["checkpoint"]
            return State(commit["commit"], _segments(whole["segments"]), dict(whole["sites"]))
        segments = dict(self.segments)
        for table, files in commit["segments"].items():
            kept = dict(segments.get(table, {}))
            for segment, ref in files.items():
                if ref is None:
                    kept.pop(segment, None)
                else:
                    kept[segment] = FileRef(**ref)
            segments[table] = kept
        sites = dict(self.sites)
        for site, segment in commit["sites"].items():
            if segment is None:
                sites.pop(site, None)
            else:
                sites[site] = segment
        return State(commit["commit"], segments, sites)

    def as_checkpoint(self) -> Json:
        """Return the whole state as it stands in every 32nd commit file."""
        segments = {
            t: {s: r.as_json() for s, r in files.items()} for t, files in self.segments.items() if files
        }
        return {"segments": segments, "sites": dict(self.sites)}


def _segments(whole: Json) -> dict[str, dict[str, FileRef]]:
    return {
        table: {segment: FileRef(**ref) for segment, ref in files.items()} for table, files in whole.items()
    }


def as_bytes(content: Json) -> bytes:
    """Return JSON that is the same for the same content: sorted, one newline at the end."""
    return (json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def digest(data: bytes) -> str:
    """Return the sha256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def commit_path(number: int) -> str:
    """Return the path of a commit file."""
    return f"commits/{number:08d}.json"


def signed(commit: Json) -> bytes:
    """Return a commit's bytes with its own digest in it, so that a change to the newest one shows as well."""
    plain = {k: v for k, v in commit.items() if k != "digest"}
    return as_bytes({**plain, "digest": digest(as_bytes(plain))})


def utc_text(when: dt.datetime | None = None) -> str:
    """Return a time as it stands in commit files."""
    return (when or dt.datetime.now(dt.UTC)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Log:
    """Reads the commit files of one register; what was read once is kept, for they never change."""

    def __init__(self, blobs: Blobs) -> None:
        self.blobs = blobs
        self._bytes: dict[int, bytes] = {}
        self._commits: dict[int, Json] = {}
        self._states: dict[int, State] = {0: State()}
        self._newest: int | None = None
        self._lock = threading.RLock()

    def head(self) -> Json:
        """Return the content of register.json."""
        try:
            content = json.loads(self.blobs.read("register.json"))
        except Missing:
            raise NotFoundError(
                f"there is no register at {self.blobs.where}; make one with fibrebook.create(...), or mend the place"
            ) from None
        except ValueError as error:
            raise DamagedError(
                f"register.json at {self.blobs.where} is damaged; restore it from a copy"
            ) from error
        if content.get("format", 0) > FORMAT:
            raise FormatError(
                f"the register at {self.blobs.where} has format {content['format']}, this fibrebook reads up to "
                f"{FORMAT}: install the newer fibrebook"
            )
        return content

    def newest(self) -> int:
        """Return the number of the newest commit (0 = none yet): one listing at first, then one look ahead a call."""
        with self._lock:
            if self._newest is None:
                names = [n for n in self.blobs.list("commits") if n.endswith(".json") and n[:8].isdecimal()]
                self._newest = max((int(n[:8]) for n in names), default=0)
            while self.blobs.exists(commit_path(self._newest + 1)):
                self._newest += 1
            return self._newest

    def raw(self, number: int) -> bytes:
        """Return the bytes of a commit file."""
        if number not in self._bytes:
            try:
                self._bytes[number] = self.blobs.read(commit_path(number))
            except Missing:
                raise DamagedError(
                    f"commit {number} is missing from {self.blobs.where}; restore {commit_path(number)} from a copy"
                ) from None
        return self._bytes[number]

    def commit(self, number: int) -> Json:
        """Return the content of a commit file."""
        if number not in self._commits:
            data = self.raw(number)
            try:
                content = json.loads(data)
                found = content.get("format", 0)
            except (ValueError, AttributeError) as error:
                raise DamagedError(f"{commit_path(number)} is damaged; restore it from a copy") from error
            if found > FORMAT:
                raise FormatError(
                    f"commit {number} was written by a newer fibrebook (format {found}): install it"
                )
            self._commits[number] = content
        return self._commits[number]

    def state(self, number: int) -> State:
        """Return the state of the register at a commit."""
        with self._lock:
            if number not in self._states:
                start = number - number % CHECKPOINT_EVERY
                known = [n for n in self._states if start <= n < number]
                start = max(known, default=start)
                state = self._states.get(start) or State().after(self.commit(start))
                for n in range(start + 1, number + 1):
                    state = state.after(self.commit(n))
                self._keep(state)
            return self._states[number]

    def _keep(self, state: State) -> None:
        self._states[state.commit] = state
        if len(self._states) > 64:  # long sessions: the early ones can be worked out again
            for old in sorted(self._states)[1:32]:
                del self._states[old]

    def previous_digest(self, number: int) -> str:
        """Return the digest that commit `number` must bear of what came before it."""
        return digest(self.raw(number - 1) if number > 1 else self.blobs.read("register.json"))

    def append(self, number: int, content: bytes) -> None:
        """Create the commit file; raise AlreadyThere where another writer took the number."""
        try:
            self.blobs.create(commit_path(number), content)
        except AlreadyThere:
            if self.blobs.read(commit_path(number)) != content:  # else an earlier try of ours landed
                raise
        with self._lock:
            self._bytes[number] = content

    def number_at(self, at: int | dt.datetime | dt.date | str) -> int:
        """Return the commit meant by a number, a time (UTC where no zone is given) or a day (its end)."""
        newest = self.newest()
        if isinstance(at, str) and at.strip().isdecimal():
            at = int(at)
        if isinstance(at, int):
            if not 0 <= at <= newest:
                raise NotFoundError(f"there is no commit {at}; the register has 0 (empty) to {newest}")
            return at
        limit = utc_text(_as_time(at))
        for number in range(newest, 0, -1):
            if self.commit(number)["time_utc"] <= limit:
                return number
        return 0


def _as_time(at: dt.datetime | dt.date | str) -> dt.datetime:
    if isinstance(at, str):
        text = at.strip()
        try:
            at = dt.date.fromisoformat(text) if len(text) <= 10 else dt.datetime.fromisoformat(text)
        except ValueError:
            raise InputError(
                f"{text!r} is no commit and no time; write 42, 2026-03-31 or 2026-03-31T14:00"
            ) from None
    if not isinstance(at, dt.datetime):
        at = dt.datetime.combine(at, dt.time.max)
    return at.astimezone(dt.UTC) if at.tzinfo else at.replace(tzinfo=dt.UTC)
