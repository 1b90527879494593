"""The words of a sheet: in English, or beside another language by a plain table of texts.

`texts.csv` beside this module lists every fixed text that paper may bear. A firm fills the second column in and gives
the file: where it has a text, both stand, parted by a slash; where it has none, English alone.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from string import Formatter
from typing import Any

from fibrebook.errors import InputError
from fibrebook.readers.files.text_table import read_text_table
from fibrebook.words.nearest import did_you_mean

TEXTS = Path(__file__).parent / "texts.csv"
HEADS = ["english", "other"]


@lru_cache(maxsize=1)
def known_texts() -> frozenset[str]:
    """Return every fixed text that paper may bear, in English."""
    with TEXTS.open(encoding="utf-8", newline="") as file:
        return frozenset(row["english"] for row in csv.DictReader(file))


@dataclass(frozen=True)
class Wording:
    """Fixed texts, in English and perhaps in another language: English -> other."""

    other: Mapping[str, str] = field(default_factory=dict)

    def say(self, text: str, **values: Any) -> str:
        """Return a fixed text with its values put in, in both languages where the other has it."""
        if text not in known_texts():
            raise KeyError(f"{text!r} is not in {TEXTS.name}")
        said = text.format(**values)
        other = self.other.get(text, "").format(**values)
        return f"{said} / {other}" if other and other != said else said


def read_wording(path: Path | str) -> Wording:
    """Read a table of texts: CSV in UTF-8 with the columns english and other.

    Raises
    ------
    InputError : it cannot be read, has other columns, a text that paper does not bear, or other places for values
    """
    heading, *rows = read_text_table(Path(path))
    names = [name.strip().casefold() for name in heading]
    if not set(HEADS) <= set(names):
        raise InputError(f"the table of texts {path} must have the columns {' and '.join(HEADS)}")
    first, second = (names.index(name) for name in HEADS)
    other = {}
    for number, row in enumerate(rows, 2):
        cells = [cell.strip() for cell in (*row, *[""] * (len(names) - len(row)))]
        english, said = cells[first], cells[second]
        if not english and not said:
            continue
        if english not in known_texts():
            near = did_you_mean(english, sorted(known_texts()), 1, "'sheet --blank-words FILE' writes all of them")
            raise InputError(f"{path}, row {number}: no sheet says {english[:60]!r}; {near}")
        if said and _places(said) != _places(english):
            raise InputError(f"{path}, row {number}: {said[:60]!r} must hold {_places(english)} as the English does")
        other[english] = said
    return Wording(other)


def _places(text: str) -> list[str]:
    try:
        return sorted(
            {f"{name}{spec}{turn or ''}" for _, name, spec, turn in Formatter().parse(text) if name is not None}
        )
    except ValueError:
        return ["?"]
