"""A register's files in a folder of this machine or of a share."""

from __future__ import annotations

import contextlib
import errno
import os
import uuid
from pathlib import Path

from fibrebook.errors import DamagedError, NotCommittedError
from fibrebook.register.files import TEMPORARY, AlreadyThere, Missing, OutcomeUnknown, proper

# What a share or disk answers that cannot flush a folder at all; any other answer is a failing disk.
CANNOT_FLUSH = {errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EBADF}


class Disk:
    """The few things asked of the operating system when a file is made, each of them one step."""

    def write(self, path: Path, data: bytes) -> None:
        """Make a new file and flush its content to the disk."""
        with path.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    def link(self, path: Path, name: Path) -> None:
        """Give a file its name; FileExistsError where the name is taken."""
        if os.name == "nt":
            path.rename(name)  # refuses an existing name there
        else:
            name.hardlink_to(path)

    def unlink(self, path: Path) -> None:
        """Take a name away."""
        path.unlink(missing_ok=True)

    def make_folder(self, folder: Path) -> None:
        """Make a folder."""
        folder.mkdir(exist_ok=True)

    def flush_folder(self, folder: Path) -> None:
        """Make the names in a folder safe against a power cut, where the system can do it."""
        if os.name == "nt":
            return
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        except OSError as error:
            if error.errno not in CANNOT_FLUSH:
                raise
        finally:
            os.close(handle)


class LocalFolder:
    """Files in a folder."""

    def __init__(self, root: Path | str, disk: Disk | None = None) -> None:
        self.root = Path(root)
        self.where = str(self.root)
        self.disk = disk or Disk()
        self._safe: set[Path] = set()  # folders whose own name this process has flushed

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies."""
        return self._at(path)

    def _at(self, path: str) -> Path:
        return self.root / proper(path)

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        try:
            return self._at(path).read_bytes()
        except (FileNotFoundError, NotADirectoryError) as error:
            raise Missing(path) from error
        except OSError as error:
            raise DamagedError(f"{path} at {self.where} cannot be read: {error.strerror or error}") from error

    def exists(self, path: str) -> bool:
        """Tell whether there is such a file."""
        return self._at(path).exists()

    def everything(self) -> list[str]:
        """Return the paths of all files, unfinished ones too."""
        found = []
        for folder, _, names in os.walk(self.root):
            found += [(Path(folder) / n).relative_to(self.root).as_posix() for n in names]
        return sorted(found)

    def changed_at(self, path: str) -> float:
        """Return when a file was written."""
        try:
            return (self.root / path).stat().st_mtime
        except FileNotFoundError as error:
            raise Missing(path) from error

    def refresh(self, path: str) -> None:
        """Set a file's time to now."""
        with contextlib.suppress(OSError):  # another's file on a share: its time stays
            os.utime(self._at(path))

    def delete(self, path: str) -> None:
        """Remove a file, for good even if the power fails."""
        if ".." in path.split("/"):
            proper(path)
        target = self.root / path
        self.disk.unlink(target)
        if target.parent.is_dir():
            self._flush(target.parent)

    def create(self, path: str, data: bytes) -> None:
        """Write beside, flush to the disk, link to the name only if absent, flush the folder."""
        target = self._at(path)
        self._make_folder(target.parent)
        if target.exists():
            self._flush(target.parent)  # whoever made it may not have come to that
            raise AlreadyThere(path)
        temporary = target.parent / f".{uuid.uuid4().hex}{TEMPORARY}"
        try:
            self.disk.write(temporary, data)
            self._link(temporary, target)
        except FileExistsError as error:
            self._flush(target.parent)
            raise AlreadyThere(path) from error
        finally:
            with contextlib.suppress(OSError):
                self.disk.unlink(temporary)
        self._flush(target.parent)

    def _link(self, temporary: Path, target: Path) -> None:
        try:
            self.disk.link(temporary, target)
        except FileExistsError:
            raise
        except OSError as error:
            if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS, errno.EACCES):
                raise
            raise NotCommittedError(
                f"{target.parent} is on a file system that has no hard links ({error.strerror}), which saving "
                f"safely needs; keep the register on an ordinary disk of this machine"
            ) from error

    def _flush(self, folder: Path) -> None:
        try:
            self.disk.flush_folder(folder)
        except OSError as error:
            raise OutcomeUnknown(
                f"the disk under {folder} does not confirm what was written: {error.strerror or error}"
            ) from error

    def _make_folder(self, folder: Path) -> None:
        """Make a folder and flush its name, once a process: another may have made it and not flushed it yet."""
        if folder in self._safe and folder.is_dir():
            return
        if not folder.is_dir():
            if folder.parent != folder:
                self._make_folder(folder.parent)
            self.disk.make_folder(folder)
            self._flush(folder.parent)
        elif self.root in folder.parents or folder == self.root:
            with contextlib.suppress(PermissionError):  # the register may stand in a folder that is not ours
                self._flush(folder.parent)
        self._safe.add(folder)

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        try:
            names = os.listdir(self._at(prefix))  # noqa: PTH208  names alone, no stat of each
        except (FileNotFoundError, NotADirectoryError):
            return []
        except OSError as error:
            raise DamagedError(f"{prefix} at {self.where} cannot be read: {error.strerror or error}") from error
        return sorted(n for n in names if not n.endswith(TEMPORARY))
