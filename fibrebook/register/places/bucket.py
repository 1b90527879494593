"""A register's files in an object store (S3, Azure, GCS).

Credentials come from the environment (or what the provider's own tools put there) and are never written down.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from fibrebook.errors import DamagedError, FibrebookError, InputError, NotCommittedError, NotFoundError
from fibrebook.register.places.asked import MOST_BYTES, AlreadyThere, Missing, OutcomeUnknown, proper

NOT_FOUND = "404 Not Found"  # HTTP, RFC 9110
MOST_WORDS = 300


class Bucket:
    """Files in an object store."""

    def __init__(self, url: str) -> None:
        try:
            from obstore.exceptions import BaseError
            from obstore.store import from_url
        except ImportError as error:
            raise FibrebookError(
                f"{url} is a bucket; reading one needs the package obstore: pip install 'fibrebook[bucket]'"
            ) from error
        if "@" in url or "?" in url:
            raise InputError("the address of a bucket holds no credentials; give them in the environment")
        self.where = url.rstrip("/")
        try:
            self.store: Any = from_url(self.where)
        except (BaseError, ValueError) as error:
            raise InputError(f"{url!r} is no address of a bucket; write it like s3://bucket/folder") from error

    def local_path(self, path: str) -> Path | None:
        """Return None: a bucket has no place on this machine."""
        return None

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        import obstore

        with _errors_as_ours(path):
            found = obstore.get(self.store, proper(path))
            if found.meta["size"] > MOST_BYTES:
                raise DamagedError(f"{path} at {self.where} cannot be read: it is larger than {MOST_BYTES:,} bytes")
            return bytes(found.bytes())

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        try:
            self._head(path)
        except Missing:
            return False
        return True

    def is_link(self, path: str) -> bool:
        """Return False: a bucket has none."""
        return False

    def _head(self, path: str) -> Any:
        import obstore

        with _errors_as_ours(path):
            return obstore.head(self.store, path)

    def everything(self) -> list[str]:
        """Return the paths of all files."""
        return sorted(self._paths(None))

    def _paths(self, prefix: str | None) -> list[str]:
        import obstore

        with self._there(), _errors_as_ours(prefix or "the register"):
            return [m["path"] for batch in obstore.list(self.store, prefix=prefix) for m in batch]

    def changed_at(self, path: str) -> float:
        """Return when a file was written."""
        return float(self._head(path)["last_modified"].timestamp())

    def refresh(self, path: str) -> None:
        """Write the same bytes once more."""
        with contextlib.suppress(FibrebookError):  # a bucket may let us create and not write over
            self.replace(path, self.read(path))

    def replace(self, path: str, data: bytes) -> None:
        """Put a file in the place of another, or of none."""
        import obstore

        with self._there(), _errors_as_ours(path):
            obstore.put(self.store, proper(path), data, mode="overwrite")

    def confirm(self, path: str) -> None:
        """Do nothing: what a bucket shows, it has acknowledged."""

    def delete(self, path: str) -> None:
        """Remove a file."""
        import obstore

        with contextlib.suppress(Missing), _errors_as_ours(path):
            obstore.delete(self.store, path)

    def delete_all(self, paths: Iterable[str]) -> None:
        """Remove files."""
        for path in paths:
            self.delete(path)

    def create(self, path: str, data: bytes) -> None:
        """Put only if absent; where the name is taken by these very bytes, an earlier try of ours landed."""
        import obstore

        try:
            with self._there(), _errors_as_ours(path):
                obstore.put(self.store, proper(path), data, mode="create")
        except AlreadyThere:
            if self.read(path) != data:
                raise

    @contextlib.contextmanager
    def _there(self) -> Iterator[None]:
        """Say that there is no such bucket where it answers so to what needs no file."""
        try:
            yield
        except Missing as error:
            raise NotFoundError(f"there is no bucket at {self.where}, or it is not yours to see") from error

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        start = prefix.rstrip("/") + "/"
        return sorted(p[len(start) :] for p in self._paths(prefix) if p.startswith(start))


@contextlib.contextmanager
def _errors_as_ours(path: str) -> Iterator[None]:
    """Put the bucket library's errors as ours."""
    from obstore import exceptions as ex

    try:
        yield
    except (ex.NotFoundError, FileNotFoundError) as error:
        raise Missing(path) from error
    except ex.AlreadyExistsError as error:
        raise AlreadyThere(path) from error
    except (ex.PermissionDeniedError, ex.UnauthenticatedError, ex.NotSupportedError) as error:
        raise NotCommittedError(f"the bucket refused {path}: {_first_line(error)}") from error
    except ex.BaseError as error:
        if NOT_FOUND in str(error):  # so a listing tells of a bucket that is not there
            raise Missing(path) from error
        raise OutcomeUnknown(f"the bucket gave no clear answer about {path}: {_first_line(error)}") from error


def _first_line(error: Exception) -> str:
    """Return what an error says without the library's own notes about its insides."""
    return str(error).partition("\n")[0][:MOST_WORDS]
