"""Writing a sheet: whole or not at all, and never over something that is there unless that is asked for."""

from __future__ import annotations

import contextlib
import uuid
from pathlib import Path

from fibrebook.errors import InputError, place_in_words


def free_place(path: Path | str, force: bool = False) -> Path:
    """Return the path of a file that may be written; asked before a sheet that takes its time is made.

    Raises
    ------
    InputError : it is there already (unless `force`), or there is no such folder
    """
    target = Path(path)
    with place_in_words(f"no sheet can be written as {target}"):
        if target.exists() and not force:
            raise InputError(f"{target} is there already; choose another name, or say force=True to write over it")
        if not target.parent.is_dir():
            raise InputError(f"there is no folder {str(target.parent)!r}; make it first")
    return target


def write_sheet(text: str | bytes, path: Path | str, force: bool = False) -> Path:
    """Write a sheet, its text or bytes, as a file and return its path; what stood there before stays whole until then.

    Raises
    ------
    InputError : it is there already (unless `force`), there is no such folder, or the system refuses
    """
    target = free_place(path, force)
    fresh = target.with_name(f".{target.stem}-{uuid.uuid4().hex[:8]}")
    with place_in_words(f"no sheet can be written as {target}"):
        try:
            fresh.write_bytes(text.encode() if isinstance(text, str) else text)
            fresh.replace(target)
        finally:
            with contextlib.suppress(OSError, ValueError):
                fresh.unlink()
    return target
