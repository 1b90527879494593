"""What is asked of the place where a register's files live, and what it may answer.

One promise carries the whole store: `create` makes a file under its name only if no file has that name,
whole or not at all, and safely on the disk (or acknowledged by the bucket) when it returns.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Protocol

from fibrebook.errors import DamagedError, FibrebookError

MOST_BYTES = 250_000_000  # of one file; a year's history of a large firm has a hundredth of it in its largest
_PROPER = re.compile(r"(?!\.{1,2}(?:/|\Z))[^/\\:\0]+(?:/(?!\.{1,2}(?:/|\Z))[^/\\:\0]+)*")
TEMPORARY = ".tmp"  # names that end so are unfinished writes of a writer that was killed


class AlreadyThere(Exception):  # noqa: N818  an answer rather than an error
    """Another file has that name already."""


class Missing(Exception):  # noqa: N818
    """There is no file of that name."""


class OutcomeUnknown(FibrebookError):  # noqa: N818
    """The place gave no clear answer; the request may or may not have landed."""


class NotConfirmed(OutcomeUnknown):
    """The disk did not confirm what was written; a later flush that succeeds proves nothing, for it may be gone."""


class Blobs(Protocol):
    """A flat set of immutable files by path, the parts of a path joined by "/"."""

    where: str

    def read(self, path: str) -> bytes:
        """Return a file's bytes; raise Missing where there is none."""

    def create(self, path: str, data: bytes) -> None:
        """Make the file only if absent; raise AlreadyThere where other bytes stand under that name."""

    def replace(self, path: str, data: bytes) -> None:
        """Put a file in the place of another, or of none, in one step; safely there when it returns."""

    def confirm(self, path: str) -> None:
        """Make a file safely there that somebody else made; whom the disk may have told otherwise."""

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""

    def is_link(self, path: str) -> bool:
        """Tell whether what has that name is a link to something else."""

    def everything(self) -> list[str]:
        """Return the paths of all files, unfinished ones too, sorted."""

    def changed_at(self, path: str) -> float:
        """Return when a file was written, in seconds since 1970; raise Missing where there is none."""

    def refresh(self, path: str) -> None:
        """Write the same bytes once more: the file counts as new for tidying, and is safely there when it returns."""

    def delete(self, path: str) -> None:
        """Remove a file; none of that name is no error."""

    def delete_all(self, paths: Iterable[str]) -> None:
        """Remove files, taking each path only when its turn comes; none of a name is no error."""

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies on this machine, or None for a bucket."""

    def list(self, prefix: str) -> list[str]:
        """Return the names (without the prefix) of the files in one folder, sorted."""


def proper(path: str) -> str:
    """Return a path that stays inside the register; whatever would lead out of it is refused."""
    if _PROPER.fullmatch(path) is None:
        raise DamagedError(f"{path[:80]!r} is no path inside a register; somebody tampered with it: run verify")
    return path


def all_proper(paths: Collection[str]) -> bool:
    """Tell whether each of some paths stays inside the register; many thousands are looked at in one go."""
    joined = "\0".join(["", *paths, ""])
    parts = joined.replace("/", "\0")  # each between two zeros; none is empty, and one that begins with a dot is seldom
    odd = any(sign in joined for sign in "\\:") or any(signs in parts for signs in ("\0\0", "\0."))
    if not odd and joined.count("\0") == len(paths) + 1:
        return True
    return all(map(_PROPER.fullmatch, paths))
