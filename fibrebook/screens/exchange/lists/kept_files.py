"""What was said of lists, kept as files for the next list of the same shape."""

from __future__ import annotations

from pathlib import Path

from fibrebook.errors import InputError, place_in_words
from fibrebook.readers.guess.kept_layouts import file_name, kept_layouts
from fibrebook.readers.lists.reading import Reading

FOLDER = "lists"  # below the firm's own layouts, for these are read by another reader


def kept_for_lists(folder: Path) -> list[Path]:
    """Return the files of what was said of lists, by name; `folder` holds the firm's own layouts."""
    return kept_layouts(folder / FOLDER)


def keep_said(reading: Reading, folder: Path, name: str) -> Path:
    """Write what was said of a list for the next of its shape; a file that is there is never written over.

    Raises
    ------
    InputError : the name cannot be or is taken, or nothing can be written there
    """
    target = folder / FOLDER / file_name(name)
    with place_in_words(f"the layout {target.name} cannot be written to {target.parent}"):
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with target.open("x", encoding="utf-8") as file:
                file.write(reading.layout())
        except FileExistsError as error:
            raise InputError(f"there is a layout {target.name} already: give it another name") from error
    return target
