"""What is asked of the place where a register's files live, and what it may answer.

One promise carries the whole store: `create` makes a file under its name only if no file has that name,
whole or not at all, and safely on the disk (or acknowledged by the bucket) when it returns.
"""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from fibrebook.errors import DamagedError, FibrebookError

TEMPORARY = ".tmp"  # names that end so are unfinished writes of a writer that was killed


class AlreadyThere(Exception):  # noqa: N818  an answer rather than an error
    """Another file has that name already."""


class Missing(Exception):  # noqa: N818
    """There is no file of that name."""


class OutcomeUnknown(FibrebookError):  # noqa: N818
    """The place gave no clear answer; the request may or may not have landed."""


class Blobs(Protocol):
    """A flat set of immutable files by path, the parts of a path joined by "/"."""

    where: str

    def read(self, path: str) -> bytes:
        """Return a file's bytes; raise Missing where there is none."""

    def create(self, path: str, data: bytes) -> None:
        """Make the file only if absent; raise AlreadyThere where other bytes stand under that name."""

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""

    def everything(self) -> list[str]:
        """Return the paths of all files, unfinished ones too, sorted."""

    def changed_at(self, path: str) -> float:
        """Return when a file was written, in seconds since 1970; raise Missing where there is none."""

    def refresh(self, path: str) -> None:
        """Let a file count as written just now, so that no tidying takes it for left over."""

    def delete(self, path: str) -> None:
        """Remove a file; none of that name is no error."""

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies on this machine, or None for a bucket."""

    def list(self, prefix: str) -> list[str]:
        """Return the names (without the prefix) of the files in one folder, sorted."""


def proper(path: str) -> str:
    """Return a path that stays inside the register; whatever would lead out of it is refused."""
    parts = path.split("/")
    if any(p in ("", ".", "..") or "\\" in p or ":" in p or "\0" in p for p in parts):
        raise DamagedError(f"{path[:80]!r} is no path inside a register; somebody tampered with it: run verify")
    return path
