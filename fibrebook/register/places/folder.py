"""A register's files in a folder of this machine or of a share."""

from __future__ import annotations

import contextlib
import errno
import os
import uuid
from collections.abc import Iterable, Iterator
from pathlib import Path

from fibrebook.errors import DamagedError, FibrebookError, InputError, NotCommittedError
from fibrebook.register.places.asked import MOST_BYTES, TEMPORARY, AlreadyThere, Missing, NotConfirmed, proper
from fibrebook.register.places.disk import CANNOT_FLUSH, Disk
from fibrebook.regular_files import read_regular

# What a file system without hard links answers, by link(2) of POSIX; others answer so too, so it is tried.
MAYBE_NO_LINKS = {errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL, errno.EMLINK}
INTERRUPTED_TRIES = 20


class LocalFolder:
    """Files in a folder. No link inside it is followed, to read or to write: somebody else may have laid it there."""

    def __init__(self, root: Path | str, disk: Disk | None = None) -> None:
        if "\0" in os.fspath(root):
            raise InputError(f"{os.fspath(root)!r} is no folder: its name holds a character that no file name may have")
        self.root = Path(root)
        self.where = str(self.root)
        self.disk = disk or Disk()
        self._safe: set[Path] = set()  # folders whose own name this process has flushed
        self._unsure: dict[Path, set[str]] = {}  # names that the disk did not confirm, by folder
        self._made = ""  # the last file that the disk confirmed to this process
        self._lost: set[Path] = set()  # folders whose own name it did not confirm, and that are in use

    def local_path(self, path: str) -> Path | None:
        """Return where the file lies."""
        return self._at(path)

    def _at(self, path: str) -> Path:
        return self.root / proper(path)

    def _own(self, path: str) -> Path:
        """Return where a file lies; DamagedError where a folder on the way to it is a link."""
        folder = self.where
        for part in path.split("/")[:-1]:
            folder = f"{folder}{os.sep}{part}"
            self._refuse_link(folder)
        return self.root / path

    def _refuse_link(self, folder: Path | str) -> None:
        if os.path.islink(folder):  # noqa: PTH114  a path made of each folder costs more than the question
            raise DamagedError(
                f"{folder} is a link, and a register holds none; put the folder itself there if it is yours"
            )

    @contextlib.contextmanager
    def _told(self, path: str) -> Iterator[None]:
        """Tell in words what keeps a file from being read."""
        try:
            yield
        except (FileNotFoundError, NotADirectoryError) as error:
            raise Missing(path) from error
        except OSError as error:
            raise DamagedError(f"{path} at {self.where} cannot be read: {error.strerror or error}") from error

    def read(self, path: str) -> bytes:
        """Return a file's bytes."""
        with self._told(path):
            return read_regular(self._own(proper(path)), MOST_BYTES, follow=False)

    def exists(self, path: str) -> bool:
        """Tell whether there is anything of that name."""
        try:
            with self._told(path):
                self._own(proper(path)).lstat()
        except Missing:
            return False
        return True

    def is_link(self, path: str) -> bool:
        """Tell whether it is a link."""
        return (self.root / path).is_symlink()

    def everything(self) -> list[str]:
        """Return the paths of all files, unfinished ones too, and of links to folders, which are not followed."""
        found = []
        for folder, folders, names in os.walk(self.root):
            linked = [n for n in folders if (Path(folder) / n).is_symlink()]
            found += [(Path(folder) / n).relative_to(self.root).as_posix() for n in [*names, *linked]]
        return sorted(found)

    def changed_at(self, path: str) -> float:
        """Return when a file was written."""
        with self._told(path):
            return self._own(path).lstat().st_mtime

    def refresh(self, path: str) -> None:
        """Write the same bytes once more: what lies there may be of a writer whom the disk did not confirm it."""
        self.replace(path, self.read(path))

    def replace(self, path: str, data: bytes) -> None:
        """Write beside, flush to the disk, take the name over, flush the folder."""
        target = self._own(proper(path))
        self._ready(target.parent)
        self._over(target, data)
        self._flush(target.parent, target.name)
        self._made = path

    def confirm(self, path: str) -> None:
        """Write a file anew that this process did not make: whoever made it may have been told that it is not safe."""
        if path == self._made:
            return
        with contextlib.suppress(PermissionError, Missing):  # each may replace only his own; a copy's head goes last
            self.refresh(path)

    def delete(self, path: str) -> None:
        """Remove a file, for good even if the power fails."""
        self.delete_all([path])

    def delete_all(self, paths: Iterable[str]) -> None:
        """Remove files, for good once it returns; each folder is flushed once."""
        folders = set()
        for path in paths:
            if ".." in path.split("/"):
                proper(path)
            target = self._own(path)
            folders.add(target.parent)
            try:
                self.disk.unlink(target)
            except OSError as error:
                raise FibrebookError(
                    f"{path} at {self.where} could not be removed: {error.strerror or error}"
                ) from error
        for folder in sorted(f for f in folders if f.is_dir()):
            self._flush(folder)

    def create(self, path: str, data: bytes) -> None:
        """Write beside, flush to the disk, link to the name only if absent, flush the folder."""
        target = self._own(proper(path))
        self._ready(target.parent)
        if os.path.lexists(target):
            self._flush(target.parent)  # whoever made it may not have come to that
            raise AlreadyThere(path)
        with self._written(target.parent, data) as temporary:
            try:
                self._link(temporary, target)
            except FileExistsError as error:
                self._flush(target.parent)
                raise AlreadyThere(path) from error
        self._flush(target.parent, target.name)
        self._made = path

    @contextlib.contextmanager
    def _written(self, folder: Path, data: bytes) -> Iterator[Path]:
        """Give a file of these bytes, flushed, under a name of its own that goes away afterwards."""
        temporary = folder / f".{uuid.uuid4().hex}{TEMPORARY}"
        try:
            self.disk.write(temporary, data)
            yield temporary
        finally:
            with contextlib.suppress(OSError):
                self.disk.unlink(temporary)

    def _over(self, target: Path, data: bytes) -> None:
        with self._written(target.parent, data) as temporary:
            self.disk.rename_over(temporary, target)

    def _link(self, temporary: Path, target: Path) -> None:
        for again in range(INTERRUPTED_TRIES):
            try:
                self.disk.link(temporary, target)
                return
            except FileExistsError:
                if again and target.samefile(temporary):
                    return  # the call that was interrupted had done it
                raise
            except InterruptedError:
                if again == INTERRUPTED_TRIES - 1:
                    raise
            except OSError as error:
                if error.errno in MAYBE_NO_LINKS and not self._links_at_all(temporary):
                    raise NotCommittedError(
                        f"{target.parent} is on a file system that has no hard links ({error.strerror}), which saving "
                        f"safely needs; keep the register on an ordinary disk of this machine"
                    ) from error
                raise

    def _links_at_all(self, temporary: Path) -> bool:
        """Tell whether a file here can have a second name, whatever was said of the one that was wanted."""
        second = temporary.with_name(f".{uuid.uuid4().hex}{TEMPORARY}")
        try:
            self.disk.link(temporary, second)
        except OSError:
            return False
        with contextlib.suppress(OSError):
            self.disk.unlink(second)
        return True

    def _flush(self, folder: Path, *names: str) -> None:
        """Flush a folder; where that fails its newest names are remembered, for a flush later on proves nothing."""
        try:
            self.disk.flush_folder(folder)
        except OSError as error:
            self._unsure.setdefault(folder, set()).update(names)
            raise NotConfirmed(
                f"the disk under {folder} does not confirm what was written: {error.strerror or error}"
            ) from error

    def _ready(self, folder: Path) -> None:
        """Make sure of a folder, and of the names in it that the disk did not confirm: those are written again."""
        self._make_folder(folder)
        for name in sorted(self._unsure.get(folder, ())):
            with contextlib.suppress(FileNotFoundError):  # taken away since then
                self._over(folder / name, (folder / name).read_bytes())
        if folder in self._unsure:
            self._flush(folder)
            del self._unsure[folder]

    def _make_folder(self, folder: Path) -> None:
        """Make a folder and flush its name, once a process: another may have made it and not flushed it yet."""
        if folder in self._lost:
            raise NotConfirmed(f"the disk did not confirm the folder {folder} itself: keep the register elsewhere")
        if folder in self._safe and folder.is_dir():
            return
        if not folder.is_dir():
            if folder.parent != folder:
                self._make_folder(folder.parent)
            self.disk.make_folder(folder)
            self._flush_name_of(folder)
        elif self.root in folder.parents or (folder == self.root and os.access(folder.parent, os.R_OK)):
            self._flush(folder.parent)  # else the register stands in a folder that is not ours
        self._safe.add(folder)

    def _flush_name_of(self, folder: Path) -> None:
        """Flush the name of a folder just made; one that the disk does not confirm is taken away, to be made anew."""
        try:
            self._flush(folder.parent)
        except NotConfirmed:
            try:
                self.disk.remove_folder(folder)
            except OSError:
                self._lost.add(folder)  # somebody has put a file there meanwhile
            raise

    def list(self, prefix: str) -> list[str]:
        """Return the names of the files in one folder, sorted."""
        folder = self._at(prefix)
        self._refuse_link(folder)
        try:
            with self._told(prefix):
                names = os.listdir(folder)  # noqa: PTH208  names alone, no stat of each
        except Missing:
            return []
        return sorted(n for n in names if not n.endswith(TEMPORARY))


__all__ = ["CANNOT_FLUSH", "Disk", "LocalFolder"]
