"""The numbered log: reads commit files, follows their chain, and takes the next number.

Every file bears its own digest and names the digest of the one before; both are checked each time one is read.
"""

from __future__ import annotations

import json
import threading
import warnings
from collections import OrderedDict
from collections.abc import Iterator

from fibrebook.errors import DamagedError, InputError, NotFoundError
from fibrebook.register.places.asked import AlreadyThere, Blobs, Missing
from fibrebook.register.places.packs import as_they_lie, last_packed
from fibrebook.register.store import signature
from fibrebook.register.store.commit_files import HEAD, checked, commit_names, read_head
from fibrebook.register.store.keys import keys_in_use
from fibrebook.register.store.state import (
    CHECKPOINT_EVERY,
    FileRef,
    Json,
    State,
    commit_path,
    digest,
    digest_checked,
    file_ref,
)

STATES_KEPT = 64
BYTES_KEPT = 64 * 1024 * 1024  # of commit files
RESTORE = "or restore it from a copy of the register"
SYNCHRONISING = "if the folder lies on a synchronising drive, wait until it has finished; else"


class RegisterWarning(UserWarning):
    """Something about the register wants attention, though it can be read."""


class Log:
    """Reads the commit files of one register; what was read once is kept, for they never change.

    Attributes
    ----------
    quiet : whether it says nothing of what it doubts
    signed_from : number of the first commit that is known to be signed; None = none is known
    doubt : what is wrong with the signature of a commit that was read, in words; "" = nothing
    """

    def __init__(self, blobs: Blobs, quiet: bool = False) -> None:
        self.blobs = blobs
        self.quiet = quiet  # says nothing of files that do not belong there
        self._bytes: OrderedDict[int, bytes] = OrderedDict()  # commit files, the last read last
        self._size = 0
        self._commits: dict[int, Json] = {}
        self._replacing: list[Json] = []  # commits that took files away, as far as they were looked for
        self._replacing_to = 0
        self._states: OrderedDict[int, State] = OrderedDict()  # the last used stand last
        self._newest: int | None = None
        self._head: bytes | None = None
        self._anew: bool | None = None  # whether its commits are numbered anew: a copy of some sites
        self.signed_from: int | None = None
        self.doubt = ""
        self._lock = threading.RLock()

    def head(self) -> Json:
        """Return the content of register.json."""
        content, self._head = read_head(self.blobs)
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
                numbers, strange = commit_names(as_they_lie(self.blobs))
                self._newest = max([*numbers[-1:], last_packed(self.blobs)])
                if strange and not self.quiet:
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
        """Return the bytes of a commit file; kept once they were found to be a commit, never before."""
        data = self._bytes.get(number)
        if data is not None:
            return data
        try:
            return self.blobs.read(commit_path(number))
        except Missing:
            self.forget()  # the newest may be another by now
            raise DamagedError(
                f"commit {number} is missing from {self.blobs.where}, although later ones are there; "
                f"{SYNCHRONISING} restore {commit_path(number)} from a copy"
            ) from None

    def forget(self) -> None:
        """Drop all that was read, so that a handle that met damage reads anew what was mended since."""
        with self._lock:
            self._bytes.clear()
            self._commits.clear()
            self._states.clear()
            self._replacing.clear()
            self._size = self._replacing_to = 0
            self._newest = None

    def commit(self, number: int) -> Json:
        """Return the content of a commit file, checked against its own digest."""
        content = self._commits.get(number)
        if content is None:
            data = self.raw(number)
            content = checked(data, number)
            self._judge(number, content)
            self._keep_commit(number, data, content)
        return content

    def numbered_anew(self) -> bool:
        """Tell whether it is a copy of some sites, which numbers its commits for itself."""
        if self._anew is None:
            self._anew = "copy" in (digest_checked(self.head_bytes()) or {})
        return self._anew

    def _judge(self, number: int, content: Json) -> None:
        """Look at the signature of a commit that is read for the first time; a bad one is told, and read all the same.

        Only whoever has the key can tell, and a register whose key was lost must still be read.
        """
        if "signature" in content:
            self.signed_from = min(number, self.signed_from or number)
        if self.quiet or self.doubt:
            return
        try:
            keys = keys_in_use()
        except InputError as error:
            self._tell_doubt(f"signatures are not checked: {error.message}")
            return
        if not keys and self.signed_from is None:
            return
        expected = self.signed_from is not None and number > self.signed_from
        if wrong := signature.fault(content, keys, expected, self.numbered_anew()):
            self._tell_doubt(f"commit {number} {wrong}: run verify, and ask who made it")

    def _tell_doubt(self, words: str) -> None:
        self.doubt = words
        warnings.warn(words, RegisterWarning, stacklevel=2)

    def take(self, number: int, data: bytes, content: Json) -> None:
        """Take in a commit that somebody has read and found sound."""
        self._keep_commit(number, data, content)

    def _keep_commit(self, number: int, data: bytes, content: Json) -> None:
        """Keep a commit file and what it says, while there is room for its bytes."""
        with self._lock:
            self._size += len(data) - len(self._bytes.pop(number, b""))
            self._bytes[number], self._commits[number] = data, content
            while self._size > BYTES_KEPT and len(self._bytes) > 1:
                old, gone = self._bytes.popitem(last=False)
                self._size -= len(gone)
                del self._commits[old]

    def _follows(self, number: int) -> Json:
        """Return a commit after checking that it follows from the one before."""
        for _ in range(2):
            content = self.commit(number)
            if content["previous_digest"] == self.previous_digest(number):
                return content
            self.forget()  # what was read before may have been mended since
        raise DamagedError(
            f"commit {number} does not follow from commit {number - 1} as it is here: two people have saved into "
            "separate copies of one folder, or a file was exchanged; run verify, then mend"
        )

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
            self._states.move_to_end(number)
            return self._states[number]

    def _keep(self, state: State) -> None:
        self._states[state.commit] = state
        while len(self._states) > STATES_KEPT:  # long sessions: what was not used for long can be worked out again
            self._states.popitem(last=False)

    def walk(self, newest: int) -> Iterator[tuple[Json, State]]:
        """Give every commit up to one, oldest first, and the state after it; each is read once."""
        state = self.state(0)
        for number in range(1, newest + 1):
            content = self._follows(number)
            state = state.after(content)
            yield content, state

    def previous_digest(self, number: int) -> str:
        """Return the digest that commit `number` must bear of what came before it."""
        if number == 1:
            return digest(self.head_bytes())
        self.commit(number - 1)  # what cannot be read itself is told first
        return digest(self.raw(number - 1))

    def append(self, number: int, content: bytes) -> None:
        """Create the commit file; raise AlreadyThere where another writer took the number."""
        if self.blobs.local_path("commits") is not None:
            later = [n for n in commit_names(as_they_lie(self.blobs))[0] if n > number]
            if later and not self.blobs.exists(commit_path(number)):
                raise DamagedError(
                    f"commit {number} is missing, although commit {min(later)} is there; {SYNCHRONISING} run verify. "
                    "Nothing was committed"
                )
        if not self.blobs.exists(commit_path(number)):  # else another was quicker, and this one is not to follow
            self.blobs.confirm(commit_path(number - 1) if number > 1 else HEAD)
        try:
            self.blobs.create(commit_path(number), content)
        except AlreadyThere:
            if self.blobs.read(commit_path(number)) != content:  # else an earlier try of ours landed
                raise

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
        with self._lock:
            for number in range(self._replacing_to + 1, self.newest() + 1):
                content = self.commit(number)
                if content.get("replaced"):
                    self._replacing.append(content)
                self._replacing_to = number
            yield from list(self._replacing)
