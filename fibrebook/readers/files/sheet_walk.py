"""Walking through the XML of a sheet cell by cell, as the reader of workbooks does, with nothing of it kept.

Used where a quick look does not tell enough: cells that bear no reference, formulas, errors, long texts used again and
again.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.parsers import expat

from fibrebook.readers.files.limits import MOST_CELLS, Position, column_number

_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,9})")
NEVER_WORKED_OUT = "a formula that was never worked out"
LONGEST_SHOWN = 200  # characters of an error's own text


@dataclass
class SheetUse:
    """What was met in a sheet: last row and column in use, characters of shared texts, cells that hold no value."""

    rows: int = 0
    columns: int = 0
    cells: int = 0
    text: int = 0
    faults: dict[Position, str] = field(default_factory=dict)


class _Walk:
    """Follows a sheet's elements; prefixes of names are of no account."""

    def __init__(self, shared: Sequence[int]) -> None:
        self.seen = SheetUse()
        self._shared = shared
        self._at: Position = (0, 0)
        self._sort, self._formula, self._value, self._inside = "", False, "", False

    def start(self, tag: str, said: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "c":
            self._cell(said)
        elif name == "row":
            number = said.get("r", "")
            self._at = (int(number) if number.isascii() and number.isdecimal() else self._at[0] + 1, 0)
        elif name == "f":
            self._formula = True
        elif name == "v":
            self._inside = True

    def _cell(self, said: dict[str, str]) -> None:
        found = _REFERENCE.fullmatch(said.get("r", ""))
        row, column = self._at
        self._at = (int(found[2]), column_number(found[1])) if found else (max(row, 1), column + 1)
        self._sort, self._formula, self._value = said.get("t", ""), False, ""
        seen = self.seen
        seen.rows, seen.columns = max(seen.rows, self._at[0]), max(seen.columns, self._at[1])
        seen.cells += 1

    def text(self, text: str) -> None:
        if self._inside and len(self._value) <= LONGEST_SHOWN:
            self._value += text[: LONGEST_SHOWN + 1]

    def end(self, tag: str) -> None:
        name = tag.rpartition(":")[2]
        if name == "v":
            self._inside = False
        elif name == "c":
            if self._sort == "e":
                self.seen.faults[self._at] = self._value or "an error"
            elif self._formula and not self._value and self._sort != "str":
                self.seen.faults[self._at] = NEVER_WORKED_OUT
            elif self._sort == "s" and self._value.strip().isdecimal() and self._value.isascii():
                number = int(self._value)
                self.seen.text += self._shared[number] if number < len(self._shared) else 0


def walk(data: bytes, shared: Sequence[int]) -> SheetUse:
    """Return what a sheet holds.

    Parameters
    ----------
    shared : characters of each text that cells may refer to by number
    """
    walk, parser = _Walk(shared), expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = walk.start, walk.end
    parser.CharacterDataHandler = walk.text
    for at in range(0, len(data), 1 << 20):
        parser.Parse(data[at : at + (1 << 20)], False)
        if walk.seen.cells > MOST_CELLS:
            break
    return walk.seen


def shared_lengths(data: bytes) -> Sequence[int]:
    """Return how many characters each shared text has, and more than may be where there are too many of them."""
    lengths = array("q")

    def start(tag: str, said: dict[str, str]) -> None:
        if tag.rpartition(":")[2] == "si":
            lengths.append(0)

    def text(characters: str) -> None:
        if lengths:
            lengths[-1] += len(characters)

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.CharacterDataHandler = start, text
    for at in range(0, len(data), 1 << 20):
        parser.Parse(data[at : at + (1 << 20)], False)
        if len(lengths) > MOST_CELLS:
            break
    return lengths
