"""What a register and another copy of it bear witness to: whole commits by their digests, bytes under wrong names.

Every question is answered by digest. A file's name, its age and its neighbours prove nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from fibrebook.errors import FibrebookError, FormatError
from fibrebook.register.places.asked import Blobs, Missing
from fibrebook.register.places.packs import Packed
from fibrebook.register.proof.planned import REPLACED
from fibrebook.register.proof.turned_bit import turned_back
from fibrebook.register.store.commit_files import HEAD
from fibrebook.register.store.shape import commit_faults
from fibrebook.register.store.state import FORMAT, Json, commit_path, digest, digest_checked

ASIDE = "aside"


@dataclass(eq=False)
class Commit:
    """One whole commit file, wherever it lies."""

    digest: str
    number: int
    previous: str
    by: str
    time: str
    changes: str  # path of its history file
    names: list[str] = field(default_factory=list)  # where it lies, in commits/, aside/ or under a name not its own

    @property
    def path(self) -> str:
        """The name that is its own."""
        return commit_path(self.number)

    @property
    def proper(self) -> bool:
        """Whether it lies under its own name."""
        return self.path in self.names


def number_of(data: bytes) -> int:
    """Return the number that a commit file says it has, 0 where it says none."""
    try:
        return int(json.loads(data)["commit"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return 0


def whole_commit(data: bytes) -> Json | None:
    """Return the content of a whole commit file, None where it is none.

    Raises
    ------
    FormatError : a newer fibrebook wrote it, so nothing here can be judged
    """
    content = digest_checked(data)
    if content is None or "commit" not in content:
        return None
    if isinstance(content.get("format"), int) and content["format"] > FORMAT:
        raise FormatError(
            f"commit {content['commit']} was written by a newer fibrebook (format {content['format']}): install it"
        )
    return None if commit_faults(content, number_of(data)) else content


def read_or_none(blobs: Blobs | None, path: str) -> bytes | None:
    """Return a file's bytes; None where there is no such file or it cannot be read."""
    try:
        return None if blobs is None else blobs.read(path)
    except (Missing, OSError, FibrebookError):
        return None


class Evidence:
    """Everything that can be told by digest.

    Parameters
    ----------
    suspects : files that are not what their names say; whatever they are, they may be of use elsewhere
    source : another copy of the register
    more : what lay in other places and is not among the files any more, by path
    """

    def __init__(
        self, blobs: Packed, suspects: list[str], source: Blobs | None, more: Mapping[str, bytes] | None = None
    ) -> None:
        self.blobs = blobs
        self.source = source
        self.commits: dict[str, Commit] = {}  # by digest: those that stand somewhere in the register
        self.no_commit: list[str] = []  # files among the commits that are no whole commit
        self._elsewhere: dict[str, str] = {}  # digest -> path of bytes that stand under a name not theirs
        self._kept: dict[str, str] = {}  # the same of what an earlier mend replaced
        self._known: dict[str, bytes] = {}  # bytes that cannot be asked for by a path, by digest
        for path in self._log_files():
            data = read_or_none(blobs, path)
            several = blobs.versions(path) if data is None else {}
            for place, version in several.items():
                self._take(place, version)
                self._known[digest(version)] = version
            if not several:
                self._take(path, data)
        for path, data in (more or {}).items():
            self._known[digest(data)] = data
            if whole_commit(data) is not None:
                self._take(path, data)
        for path in [*suspects, HEAD]:
            data = read_or_none(blobs, path)
            if data is not None and not path.startswith(("commits/", f"{ASIDE}/")):
                self._elsewhere.setdefault(digest(data), path)
                if whole_commit(data) is not None:
                    self._take(path, data)
        for name in blobs.list(REPLACED):
            data = read_or_none(blobs, f"{REPLACED}/{name}")
            if data is not None:
                self._kept.setdefault(digest(data), f"{REPLACED}/{name}")

    def _log_files(self) -> Iterator[str]:
        for folder in ("commits", ASIDE):
            yield from (f"{folder}/{name}" for name in self.blobs.list(folder))

    def _take(self, path: str, data: bytes | None) -> None:
        content = None if data is None else whole_commit(data)
        if data is None or content is None:
            self.no_commit.append(path)
            if data is not None:
                self._elsewhere.setdefault(digest(data), path)
            return
        found = Commit(
            digest(data), content["commit"], content["previous_digest"], content["by"], content["time_utc"],
            content["changes"]["file"],
        )  # fmt: skip
        self.commits.setdefault(found.digest, found).names.append(path)

    def bytes_of(self, commit: Commit) -> bytes:
        """Return the bytes of a commit."""
        return self._known[commit.digest] if commit.digest in self._known else self.blobs.read(commit.names[0])

    def find(self, sha256: str, path: str) -> tuple[bytes, str] | None:
        """Return bytes by their digest and where they were found: here under any name, at the source, by one bit.

        Parameters
        ----------
        path : where they belong
        """
        if sha256 in self.commits:
            return self.bytes_of(self.commits[sha256]), "found under another name"
        if sha256 in self._known:
            return self._known[sha256], "found under another name"
        for known in (self._elsewhere, self._kept):
            if sha256 in known:
                data = read_or_none(self.blobs, known[sha256])
                if data is not None and digest(data) == sha256:
                    return data, "found under another name"
        data = read_or_none(self.source, path)
        if data is not None and digest(data) == sha256:
            return data, "taken from the other copy"
        there = read_or_none(self.blobs, path)
        back = None if there is None else turned_back(there, sha256)
        return None if back is None else (back, "one bit had turned and was turned back")

    def saved_here(self, number: int) -> list[str]:
        """Return the history files of a number that lie here: whoever made that commit here wrote one before it."""
        return [f"changes/{n}" for n in self.blobs.list("changes") if n.startswith(f"{number:08d}-")]
