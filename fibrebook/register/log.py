"""The numbered log: reads commit files, follows their chain, and takes the next number.

Every file bears its own digest and names the digest of the one before; both are checked each time one is read.
"""

from __future__ import annotations

import datetime as dt
import json
import threading
import warnings
from collections.abc import Iterator

from fibrebook.errors import DamagedError, FormatError, InputError, NotFoundError
from fibrebook.register.files import AlreadyThere, Blobs, Missing
from fibrebook.register.shape import commit_faults
from fibrebook.register.state import (
    CHECKPOINT_EVERY,
    FORMAT,
    FileRef,
    Json,
    State,
    commit_path,
    digest,
    file_ref,
    unsigned,
    utc_text,
)

HEAD = "register.json"
RESTORE = "or restore it from a copy of the register"
SYNCHRONISING = "if the folder lies on a synchronising drive, wait until it has finished; else"


class RegisterWarning(UserWarning):
    """Something about the register wants attention, though it can be read."""


class Log:
    """Reads the commit files of one register; what was read once is kept, for they never change."""

    def __init__(self, blobs: Blobs, quiet: bool = False) -> None:
        self.blobs = blobs
        self._quiet = quiet  # says nothing of files that do not belong there
        self._bytes: dict[int, bytes] = {}
        self._commits: dict[int, Json] = {}
        self._states: dict[int, State] = {}
        self._newest: int | None = None
        self._head: bytes | None = None
        self._lock = threading.RLock()

    def head(self) -> Json:
        """Return the content of register.json."""
        where = self.blobs.where
        try:
            self._head = self.blobs.read(HEAD)
            content = json.loads(self._head)
            form = content.get("format")
            if not isinstance(form, int) or not isinstance(content.get("id"), str):
                raise ValueError("it lacks its format or id")
        except Missing:
            raise NotFoundError(
                f"there is no register at {where}; make one with fibrebook.create(...), or mend the place"
            ) from None
        except (ValueError, AttributeError, RecursionError) as error:
            raise DamagedError(f"{HEAD} at {where} is damaged ({error}): run mend, or restore it") from error
        if form > FORMAT:
            raise FormatError(
                f"the register at {where} has format {form}, this fibrebook reads up to {FORMAT}: "
                "install the newer fibrebook"
            )
        if unsigned(self._head) is None:
            raise DamagedError(f"{HEAD} at {where} is not what was written: run mend, or restore it")
        return content

    def head_bytes(self) -> bytes:
        """Return the bytes of register.json."""
        if self._head is None:
            self.head()
        assert self._head is not None
        return self._head

    def take_head(self, data: bytes) -> None:
        """Take the bytes that register.json is going to have, for a register that is being made."""
        self._head = data

    def newest(self) -> int:
        """Return the number of the newest commit (0 = none yet): one listing at first, then one look ahead a call."""
        with self._lock:
            if self._newest is None:
                numbers, strange = commit_names(self.blobs)
                self._newest = max(numbers, default=0)
                if strange and not self._quiet:
                    warnings.warn(
                        f"{strange[0]!r} in the register's commits belongs there under another name: a synchronising "
                        "drive has kept two people's saves side by side. Run mend to bring them together",
                        RegisterWarning,
                        stacklevel=2,
                    )
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
                    f"commit {number} is missing from {self.blobs.where}, although later ones are there; "
                    f"{SYNCHRONISING} restore {commit_path(number)} from a copy"
                ) from None
        return self._bytes[number]

    def commit(self, number: int) -> Json:
        """Return the content of a commit file, checked against its own digest."""
        if number not in self._commits:
            self._commits[number] = checked(self.raw(number), number)
        return self._commits[number]

    def _follows(self, number: int) -> Json:
        """Return a commit after checking that it follows from the one before."""
        content = self.commit(number)
        if content["previous_digest"] != self.previous_digest(number):
            raise DamagedError(
                f"commit {number} does not follow from commit {number - 1} as it is here: two people have saved into "
                "separate copies of one folder, or a file was exchanged; run verify, then mend"
            )
        return content

    def state(self, number: int) -> State:
        """Return the state of the register at a commit."""
        with self._lock:
            if number == 0:
                return State(format=int(json.loads(self.head_bytes())["format"]))
            if number not in self._states:
                start = number - number % CHECKPOINT_EVERY
                start = max((n for n in self._states if start <= n < number), default=start)
                state = self._states.get(start) or (State().after(self.commit(start)) if start else self.state(0))
                for n in range(start + 1, number + 1):
                    state = state.after(self._follows(n))
                self._keep(state)
            return self._states[number]

    def _keep(self, state: State) -> None:
        self._states[state.commit] = state
        if len(self._states) > 64:  # long sessions: the early ones can be worked out again
            for old in sorted(self._states)[1:32]:
                del self._states[old]

    def previous_digest(self, number: int) -> str:
        """Return the digest that commit `number` must bear of what came before it."""
        return digest(self.raw(number - 1) if number > 1 else self.head_bytes())

    def append(self, number: int, content: bytes) -> None:
        """Create the commit file; raise AlreadyThere where another writer took the number."""
        if self.blobs.local_path("commits") is not None:
            later = [n for n in commit_names(self.blobs)[0] if n > number]
            if later and not self.blobs.exists(commit_path(number)):
                raise DamagedError(
                    f"commit {number} is missing, although commit {min(later)} is there; {SYNCHRONISING} run verify. "
                    "Nothing was committed"
                )
        try:
            self.blobs.create(commit_path(number), content)
        except AlreadyThere:
            if self.blobs.read(commit_path(number)) != content:  # else an earlier try of ours landed
                raise
        with self._lock:
            self._bytes[number] = content

    def fetch(self, file: str, sha256: str) -> bytes:
        """Return the bytes of a file that a commit names, checked against its digest; follows what took its place.

        Raises
        ------
        DamagedError : it is missing, or not what was written
        NotFoundError : it was tidied away
        """
        try:
            data = self.blobs.read(file)
        except Missing:
            found = self.replaced(file)
            if found is None:
                raise DamagedError(f"{file} is missing; {SYNCHRONISING} run mend, {RESTORE}") from None
            by, new = found
            if new is None:
                raise NotFoundError(
                    f"{file} was tidied away by {by['by']} in commit {by['commit']} ({by['time_utc'][:10]}): the "
                    "register as it stood then cannot be opened any more; the history still tells what was changed"
                ) from None
            return self.fetch(new.file, new.sha256)
        if digest(data) != sha256:
            raise DamagedError(f"{file} is not what was written (digest differs); run mend, {RESTORE}")
        return data

    def replaced(self, file: str) -> tuple[Json, FileRef | None] | None:
        """Return the commit that took a file away and what stands in its place (None: nothing), if there is one."""
        found = None
        for content in self.replacing():
            if file in content["replaced"]:
                new = content["replaced"][file]
                found = content, (file_ref(new) if new else None)
        return found

    def replacing(self) -> Iterator[Json]:
        """Give every commit that took files away, oldest first."""
        for number in range(1, self.newest() + 1):
            content = self.commit(number)
            if content.get("replaced"):
                yield content

    def number_at(self, at: int | dt.datetime | dt.date | str) -> int:
        """Return the commit meant by a number, a time (UTC where no zone is given) or a day (its end)."""
        newest = self.newest()
        if isinstance(at, str) and at.strip().isdecimal():
            at = int(at)
        if isinstance(at, int):
            if not 0 <= at <= newest:
                raise NotFoundError(f"there is no commit {at}; the register has 0 (empty) to {newest}")
            return at
        limit = utc_text(as_time(at))
        for number in range(newest, 0, -1):
            if self.commit(number)["time_utc"] <= limit:
                return number
        return 0


def commit_names(blobs: Blobs) -> tuple[list[int], list[str]]:
    """Return the numbers of the commit files, and names among them that are none."""
    numbers, strange = [], []
    for name in blobs.list("commits"):
        if len(name) == 13 and name.endswith(".json") and name[:8].isdecimal() and name.isascii():
            numbers.append(int(name[:8]))
        else:
            strange.append(name)
    return sorted(numbers), strange


def checked(data: bytes, number: int) -> Json:
    """Return the content of a commit file; DamagedError where it is not what was written."""
    path = commit_path(number)
    content = unsigned(data)
    if content is None:
        try:
            newer = int(json.loads(data)["format"]) > FORMAT
        except (ValueError, TypeError, KeyError, RecursionError):
            newer = False
        if newer:
            raise FormatError(
                f"commit {number} was written by a newer fibrebook, or is damaged: install the newer one, or run verify"
            )
        raise DamagedError(f"{path} is not what was written: run mend, or restore it from a copy of the register")
    if isinstance(content.get("format"), int) and content["format"] > FORMAT:
        raise FormatError(f"commit {number} was written by a newer fibrebook (format {content['format']}): install it")
    wrong = commit_faults(content, number)
    if wrong:
        raise DamagedError(f"{path} lacks parts that commit {number} must have ({', '.join(wrong)}): restore it")
    return content


def as_time(at: dt.datetime | dt.date | str) -> dt.datetime:
    """Return a time in UTC; a day means its end."""
    if isinstance(at, str):
        text = at.strip()
        try:
            at = dt.date.fromisoformat(text) if len(text) <= 10 else dt.datetime.fromisoformat(text)
        except ValueError:
            raise InputError(f"{text!r} is no commit and no time; write 42, 2026-03-31 or 2026-03-31T14:00") from None
    if not isinstance(at, dt.datetime):
        at = dt.datetime.combine(at, dt.time.max)
    return at.astimezone(dt.UTC) if at.tzinfo else at.replace(tzinfo=dt.UTC)
