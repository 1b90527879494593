"""A sheet with all that is seen on it, and a book of them with where they came from."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from fibrebook.readers.files.limits import Position
from fibrebook.readers.files.sheets import Sheet, is_blank, shown

ZEROS = re.compile(r"0{2,20}")  # a number format that pads with zeros: 007


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks: fill and type as "#rrggbb" ("" = none), bold, struck out, the number format as written."""

    fill: str = ""
    bold: bool = False
    struck: bool = False
    number_format: str = ""


PLAIN = Look()


@dataclass
class FoundSheet(Sheet):
    """A sheet as it was found.

    Attributes
    ----------
    looks : cell (row, column from 1) -> how it looks, only where that is not plain
    notes : cell -> the comment on it
    hidden_rows, hidden_columns : numbers from 1
    """

    looks: dict[Position, Look] = field(default_factory=dict)
    notes: dict[Position, str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)

    def look(self, row: int, column: int) -> Look:
        """Return how a cell looks."""
        return self.looks.get((row, column), PLAIN)

    def text(self, row: int, column: int) -> str:
        """Return what a cell shows, as one text; "" where blank. Line breaks inside the cell are kept."""
        return text_shown(self.cell(row, column), self.look(row, column).number_format)

    def cells(self) -> Iterator[tuple[int, int, Any]]:
        """Give row, column and value of every cell that is not blank."""
        for r, row in enumerate(self.rows, 1):
            for c, value in enumerate(row, 1):
                if not is_blank(value):
                    yield r, c, value


@dataclass
class FoundBook:
    """A file's sheets, the digest by which it is known again, what was noticed in opening it, the folder it lies in."""

    name: str
    digest: str
    sheets: list[FoundSheet]
    says: list[str] = field(default_factory=list)
    folder: str = ""


def text_shown(value: Any, number_format: str = "") -> str:
    """Return a value as the sheet shows it: 7 under the format 000 as 007, a day without a time as a day."""
    if isinstance(value, str):
        return "\n".join(" ".join(line.split()) for line in value.strip().splitlines() if line.strip())
    if value is None:
        return ""
    if isinstance(value, dt.datetime) and not (value.hour or value.minute or value.second):
        return value.date().isoformat()
    text = shown(value)
    if ZEROS.fullmatch(number_format) and text.isdecimal():
        return text.zfill(len(number_format))
    if number_format.endswith("%") and isinstance(value, int | float):
        return f"{value * 100:g}%"
    return text
