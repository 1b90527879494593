"""A register's files in an object store (S3, Azure, GCS).

Credentials come from the environment (or what the provider's own tools put there) and are never written down.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fibrebook.errors import FibrebookError, InputError, NotCommittedError
from fibrebook.register.files import AlreadyThere, Missing, OutcomeUnknown, proper


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

        with _told(path):
            return bytes(obstore.get(self.store, proper(path)).bytes())

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        try:
            self._head(path)
        except Missing:
            return False
        return True

    def _head(self, path: str) -> Any:
        import obstore

        with _told(path):
            return obstore.head(self.store, path)

    def everything(self) -> list[str]:
        """Return the paths of all files."""
        return sorted(self._paths(None))

    def _paths(self, prefix: str | None) -> list[str]:
        import obstore

        with _told(prefix or "the register"):
            return [m["path"] for batch in obstore.list(self.store, prefix=prefix) for m in batch]

    def changed_at(self, path: str) -> float:
        """Return when a file was written."""
        return float(self._head(path)["last_modified"].timestamp())

    def refresh(self, path: str) -> None:
        """Write the same bytes once more."""
        import obstore

        data = self.read(path)
        with contextlib.suppress(FibrebookError), _told(path):  # a bucket may let us create and not write over
            obstore.put(self.store, proper(path), data, mode="overwrite")

    def delete(self, path: str) -> None:
        """Remove a file."""
        import obstore

        with contextlib.suppress(Missing), _told(path):
            obstore.delete(self.store, path)

    def create(self, path: str, data: bytes) -> None:
        """Put only if absent; where the name is taken by these very bytes, an earlier try of ours landed."""
        import obstore

        try:
            with _told(path):
                obstore.put(self.store, proper(path), data, mode="create")
        except AlreadyThere:
            if self.read(path) != data:
                raise

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        start = prefix.rstrip("/") + "/"
        return sorted(p[len(start) :] for p in self._paths(prefix) if p.startswith(start))


@contextlib.contextmanager
def _told(path: str) -> Iterator[None]:
    """Put the bucket library's errors as ours."""
    from obstore import exceptions as ex

    try:
        yield
    except (ex.NotFoundError, FileNotFoundError) as error:
        raise Missing(path) from error
    except ex.AlreadyExistsError as error:
        raise AlreadyThere(path) from error
    except (ex.PermissionDeniedError, ex.UnauthenticatedError, ex.NotSupportedError) as error:
        raise NotCommittedError(f"the bucket refused {path}: {error}") from error
    except ex.BaseError as error:
        raise OutcomeUnknown(f"the bucket gave no clear answer about {path}: {error}") from error
