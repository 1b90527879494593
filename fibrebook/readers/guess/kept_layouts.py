"""Layouts kept for the next list of the same shape: where they lie, how one is written from a guess."""

from __future__ import annotations

import os
import re
from pathlib import Path

from fibrebook.errors import InputError
from fibrebook.readers.files.sheets import read_sheets
from fibrebook.readers.guess.kept_content import kept_content
from fibrebook.readers.guess.what_it_holds import GuessData
from fibrebook.readers.layouts.file import layout_from, read_layout

FOLDER = "layouts"
NAMED_BY = "FIBREBOOK_LAYOUTS"  # the environment variable that names another folder
LONGEST = 80
# Signs that some file system forbids, and names that Windows keeps for devices ("Naming files", Win32 documentation).
FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')
DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def layouts_folder(register: str | os.PathLike[str]) -> Path:
    """Return the folder of a firm's own layouts.

    The one that the environment variable FIBREBOOK_LAYOUTS names, else `layouts` beside the register's folder; for a
    register in a bucket `layouts` in the folder at work. It need not be there.
    """
    named = os.environ.get(NAMED_BY)
    if named:
        return Path(named).expanduser()
    where = os.fspath(register)
    return Path(FOLDER) if "://" in where else Path(where).expanduser().absolute().parent / FOLDER


def kept_layouts(folder: Path) -> list[Path]:
    """Return the layout files in a folder by name; none where it is not there or cannot be read."""
    try:
        return sorted(p for p in folder.iterdir() if p.suffix.casefold() == ".toml" and not p.name.startswith("."))
    except OSError:
        return []


def keep_layout(guess: GuessData, folder: Path, name: str) -> Path:
    """Write the layout that a guess means into a folder, for the next time; return the file.

    Parameters
    ----------
    name : the file's name, with or without ".toml"; a file that is there already is never written over

    Raises
    ------
    InputError : the guess lacks something, the name cannot be, or is taken, or the file cannot be written
    """
    target = folder / file_name(name)
    content = kept_content(guess, read_sheets(guess.path, guess.encoding, guess.delimiter))
    layout_from(content, target.name)  # a layout that would not be read again is not kept
    text = _text(content, guess.path.name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"there is a layout {target.name} in {folder} already: choose another name") from None
    except OSError as error:
        raise InputError(f"the layout {target} cannot be written: {error.strerror or error}") from error
    read_layout(target)
    return target


def file_name(name: str) -> str:
    """Return a layout's file name as it is written everywhere; InputError where some system could not write it."""
    base = " ".join(name.split())
    base = base[:-5].rstrip() if base.casefold().endswith(".toml") else base
    if not base:
        raise InputError("the layout has no name: type one, such as the name of the firm whose list it reads")
    if FORBIDDEN.search(base) or DEVICES.fullmatch(base) or base[0] == "." or base[-1] == ".":
        raise InputError(f"{name!r} cannot be a file's name everywhere: use letters, digits, blanks, - and _")
    if len(base) > LONGEST:
        raise InputError(f"the layout's name has {len(base)} letters; use at most {LONGEST}")
    return f"{base}.toml"


def _text(content: dict[str, object], source: str) -> str:
    import tomli_w

    told = re.sub(r"[\x00-\x1f\x7f]", " ", source)
    head = f"# Kept from the screen that brings files in, after it read {told}. LAYOUTS.md tells what may be changed."
    return f"{head}\n{tomli_w.dumps(content, multiline_strings=False)}"
