"""Where a register's files live: a folder or a bucket, behind one small interface.

One promise carries the whole store: `create` makes a file under its name only if no file has that name,
whole or not at all, and safely on the disk (or acknowledged by the bucket) when it returns.
"""

from __future__ import annotations

import contextlib
import os
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

from fibrebook.errors import FibrebookError, NotCommittedError

BUCKET_SCHEMES = ("s3://", "gs://", "az://", "abfss://")
TEMPORARY = ".tmp"  # names that end so are unfinished writes of a writer that was killed


class AlreadyThere(Exception):  # noqa: N818  an answer rather than an error
    """Another file has that name already."""


class Missing(Exception):  # noqa: N818
    """There is no file of that name."""


class OutcomeUnknown(FibrebookError):  # noqa: N818
    """The bucket gave no clear answer; the request may or may not have landed."""


class Blobs(Protocol):
    """A flat set of immutable files by path, the parts of a path joined by "/"."""

    where: str

    def read(self, path: str) -> bytes:
        """Return a file's bytes; raise Missing where there is none."""

    def create(self, path: str, data: bytes) -> None:
        """Make the file only if absent; raise AlreadyThere where other bytes stand under that name."""

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""

    def list(self, prefix: str) -> list[str]:
        """Return the names (without the prefix) of the files in one folder, sorted."""

    def delete(self, path: str) -> None:
        """Remove a file; none of that name is no error."""

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies on this machine, or None for a bucket."""


class LocalFolder:
    """Files in a folder of this machine or of a share."""

    def __init__(self, root: Path | str) -> None:
        self.root = Path(root)
        self.where = str(self.root)

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies."""
        return self.root / path

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        try:
            return (self.root / path).read_bytes()
        except (FileNotFoundError, NotADirectoryError) as error:
            raise Missing(path) from error

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        return (self.root / path).exists()

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        try:
            names = os.listdir(self.root / prefix)  # noqa: PTH208  names alone, no stat of each
        except (FileNotFoundError, NotADirectoryError):
            return []
        return sorted(n for n in names if not n.endswith(TEMPORARY))

    def delete(self, path: str) -> None:
        """Remove a file."""
        (self.root / path).unlink(missing_ok=True)

    def create(self, path: str, data: bytes) -> None:
        """Write beside, flush to the disk, link to the name only if absent, flush the folder."""
        target = self.root / path
        if target.exists():
            raise AlreadyThere(path)
        _make_folder(target.parent)
        temporary = target.parent / f".{uuid.uuid4().hex}{TEMPORARY}"
        try:
            with temporary.open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            _name_if_absent(temporary, target)
        except FileExistsError as error:
            raise AlreadyThere(path) from error
        finally:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
        _flush_folder(target.parent)


def _name_if_absent(temporary: Path, target: Path) -> None:
    if os.name == "nt":
        temporary.rename(target)  # refuses an existing name there
        return
    try:
        target.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError as error:
        raise NotCommittedError(
            f"{target.parent} is on a file system that has no hard links ({error.strerror}), which saving "
            f"safely needs; keep the register on an ordinary disk of this machine"
        ) from error


def _make_folder(folder: Path) -> None:
    if folder.is_dir():
        return
    _make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    _flush_folder(folder.parent)


def _flush_folder(folder: Path) -> None:
    """Make the names in a folder safe against a power cut, where the system can do it."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some shares refuse to flush a folder
            os.fsync(handle)
    finally:
        os.close(handle)


class Bucket:
    """Files in an object store (S3, Azure, GCS); credentials come from the environment."""

    def __init__(self, url: str) -> None:
        try:
            from obstore.store import from_url
        except ImportError as error:
            raise FibrebookError(
                f"{url} is a bucket; reading one needs the package obstore: pip install 'fibrebook[bucket]'"
            ) from error
        self.where = url.rstrip("/")
        self.store: Any = from_url(self.where)

    def local_path(self, path: str) -> Path | None:
        """Return None: a bucket has no place on this machine."""
        return None

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        import obstore

        with _told(path):
            return bytes(obstore.get(self.store, path).bytes())

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        import obstore

        try:
            with _told(path):
                obstore.head(self.store, path)
        except Missing:
            return False
        return True

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        import obstore

        with _told(prefix):
            batches = list(obstore.list(self.store, prefix=prefix))
        start = prefix.rstrip("/") + "/"
        return sorted(m["path"].split(start, 1)[-1] for batch in batches for m in batch)

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
                obstore.put(self.store, path, data, mode="create")
        except AlreadyThere:
            if self.read(path) != data:
                raise


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


def blobs_for(where: str | os.PathLike[str]) -> Blobs:
    """Return the files at a folder path or a bucket address (s3://bucket/prefix)."""
    text = os.fspath(where)
    return Bucket(text) if text.startswith(BUCKET_SCHEMES) else LocalFolder(Path(text).expanduser())
