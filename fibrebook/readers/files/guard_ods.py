"""The look at an .ods workbook: encrypted, too large once its repeats are written out, cells that hold errors.

The sheets are walked through element by element and nothing of them is kept: as a tree they take ten times the memory.
"""

from __future__ import annotations

import zipfile
from xml.parsers import expat

from fibrebook.errors import InputError
from fibrebook.readers.files.limits import (
    ERRORS,
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_LEADING,
    MOST_TEXT,
    Position,
    too_large,
)
from fibrebook.readers.files.sheet_walk import LONGEST_SHOWN, NEVER_WORKED_OUT

TABLE, OFFICE, CALC = "table:", "office:", "calcext:"  # the reader goes by these prefixes as they stand
CELLS = (f"{TABLE}table-cell", f"{TABLE}covered-table-cell")
MOST_ROWS = 1_048_576  # no spreadsheet has more
MANIFEST = "META-INF/manifest.xml"


class _Walk:
    """Follows the elements of content.xml: tables, their rows, their cells, the text in these."""

    def __init__(self, name: str) -> None:
        self.faults: dict[str, dict[Position, str]] = {}
        self._name, self._area, self._all_text = name, 0, 0
        self._sheet, self._row, self._last_row, self._last_column = "", 0, 0, 0
        self._repeated, self._column, self._used, self._row_text = 1, 0, 0, 0
        self._cell: dict[str, str] | None = None
        self._wide, self._length, self._text, self._depth = 1, 0, "", 0

    def start(self, tag: str, said: dict[str, str]) -> None:
        if self._cell is not None:
            self._depth += 1
            if tag == "text:s":  # so many spaces
                self._length += _count(said.get("text:c"), MOST_TEXT)
        elif tag in CELLS:
            self._cell, self._text, self._length, self._depth = said, "", len(said.get(f"{OFFICE}string-value", "")), 0
            self._wide = _count(said.get(f"{TABLE}number-columns-repeated"), MOST_COLUMNS)
            if said.get(f"{OFFICE}value-type") or said.get(f"{CALC}value-type"):
                self._used = self._column + self._wide
        elif tag == f"{TABLE}table-row":
            self._repeated = _count(said.get(f"{TABLE}number-rows-repeated"), MOST_ROWS)
            self._column, self._used, self._row_text = 0, 0, 0
        elif tag == f"{TABLE}table":
            self._sheet, self._row, self._last_row, self._last_column = said.get(f"{TABLE}name", ""), 0, 0, 0
            self.faults.setdefault(self._sheet, {})

    def text(self, text: str) -> None:
        if self._cell is not None:
            self._length += len(text)
            if len(self._text) <= LONGEST_SHOWN:
                self._text += text[: LONGEST_SHOWN + 1]

    def end(self, tag: str) -> None:
        if self._cell is not None and not self._depth:
            self._end_of_cell(self._cell)
        elif self._cell is not None:
            self._depth -= 1
            self._used = max(self._used, self._column + self._wide)  # something stands in it
        elif tag == f"{TABLE}table-row":
            self._row += self._repeated
            self._all_text += self._row_text * self._repeated
            if self._used:
                self._last_row, self._last_column = self._row, max(self._last_column, self._used)
            self._bounded()
        elif tag == f"{TABLE}table":
            self._area += self._last_row * self._last_column
            self._last_row = self._last_column = 0
            self._bounded()

    def _end_of_cell(self, cell: dict[str, str]) -> None:
        if fault := _fault(cell, self._text.strip()):
            self.faults.setdefault(self._sheet, {})[(self._row + 1, self._column + 1)] = fault
        self._row_text += self._length * self._wide
        self._column += self._wide
        self._cell = None

    def _bounded(self) -> None:
        if self._last_row > MOST_ROWS or self._last_column > MOST_COLUMNS:
            raise ValueError("repeats reach beyond any sheet")
        if self._area + self._last_row * self._last_column > MOST_CELLS or self._all_text > MOST_TEXT:
            raise too_large(f"{self._name}, sheet {self._sheet!r}")


def look_ods(name: str, book: zipfile.ZipFile) -> dict[str, dict[Position, str]]:
    """Return, for each sheet, the cells that hold an error; InputError where encrypted or too large."""
    if MANIFEST in book.namelist():
        if book.getinfo(MANIFEST).file_size > MOST_LEADING:
            raise too_large(f"{name}, {MANIFEST}")
        if b"encryption-data" in book.read(MANIFEST):
            raise InputError(f"{name} is protected by a password; take the password off and save it again")
    walk, parser = _Walk(name), expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = walk.start, walk.end
    parser.CharacterDataHandler = walk.text
    with book.open("content.xml") as stream:
        while data := stream.read(1 << 20):
            parser.Parse(data, False)
    parser.Parse(b"", True)
    return walk.faults


def _fault(cell: dict[str, str], text: str) -> str:
    """Return what keeps a cell from holding a value; "" where nothing does."""
    if cell.get(f"{CALC}value-type") == "error":
        return text or "an error"
    if cell.get(f"{TABLE}formula") is None:
        return ""
    if text in ERRORS:
        return text
    return "" if text or cell.get(f"{OFFICE}value-type") else NEVER_WORKED_OUT


def _count(text: str | None, most: int) -> int:
    count = int(text) if text else 1
    if not 1 <= count <= most:
        raise ValueError("repeat out of range")
    return count
