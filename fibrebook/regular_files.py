"""Reading files that others may have prepared: only what is a file, and never more of it than can be borne.

A name in a folder that came from elsewhere may be a pipe that never answers, a device that never ends, or a link that
leads away. Such names are told before a byte is read.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

_QUICK = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)  # a pipe never waits
PIECE = 1 << 20
_OWN = getattr(os, "O_NOFOLLOW", 0)


def open_regular(path: Path, follow: bool = True) -> BinaryIO:
    """Open a file for reading.

    Parameters
    ----------
    follow : whether the name itself may be a link to a file

    Raises
    ------
    OSError : there is none, or it is no file but a folder, pipe, device or (unless `follow`) a link
    """
    if not follow and not _OWN:
        _refuse_link(path)
    try:
        handle = os.open(path, os.O_RDONLY | _QUICK | (0 if follow else _OWN))
    except OSError:
        if not follow:
            _refuse_link(path)
        raise
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "it is no file but a folder, pipe or device", str(path))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _refuse_link(path: Path) -> None:
    if path.is_symlink():
        raise OSError(errno.ELOOP, "it is a link, not a file", str(path))


def read_regular(path: Path, most: int, follow: bool = True) -> bytes:
    """Return a file's bytes.

    Parameters
    ----------
    most : bytes that it may have

    Raises
    ------
    OSError : as `open_regular`, or it is larger; nothing of a file that says so is read
    """
    with open_regular(path, follow) as file:
        size = os.fstat(file.fileno()).st_size
        data = file.read(size + 1) if size <= most else b""
        while size <= most and len(data) > size:  # it grows, or says nothing of its size
            size = len(data)
            data += file.read(PIECE)
    if size > most:
        raise OSError(errno.EFBIG, f"it is too large: more than {most:,} bytes", str(path))
    return data
