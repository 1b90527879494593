"""The steps by which a file is made on a disk."""

from __future__ import annotations

import errno
import os
from pathlib import Path

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

    def rename_over(self, path: Path, name: Path) -> None:
        """Give a file its name, in the place of whatever bears it."""
        path.replace(name)

    def unlink(self, path: Path) -> None:
        """Take a name away."""
        path.unlink(missing_ok=True)

    def make_folder(self, folder: Path) -> None:
        """Make a folder."""
        folder.mkdir(exist_ok=True)

    def remove_folder(self, folder: Path) -> None:
        """Take an empty folder away."""
        folder.rmdir()

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
