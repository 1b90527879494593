"""What a look at an .ods shows beside the values: fills, type, comments, hidden rows and columns; in one pass.

The file was looked over by `files.guard` before, which bounds how far its repeats reach. A repeat of blank cells to the
edge of the sheet is passed over, coloured or not: nothing stands there.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from xml.parsers import expat

from fibrebook.readers.files.guard_ods import CELLS, OFFICE, TABLE
from fibrebook.readers.found.found_sheet import PLAIN, Look
from fibrebook.readers.found.xlsx_looks import SheetLooks
from fibrebook.regular_files import open_regular

COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
MOST_ALIKE = 100  # cells or rows that one element may stand for and still be looked at one by one


class _Walk:
    """Follows styles, tables, rows, cells and comments."""

    def __init__(self) -> None:
        self.sheets: dict[str, SheetLooks] = {}
        self._styles: dict[str, Look] = {}
        self._style = ""
        self._sheet = SheetLooks()
        self._columns: list[str] = []
        self._row, self._column, self._rows, self._wide = 0, 0, 1, 1
        self._note: list[str] | None = None

    def start(self, tag: str, said: dict[str, str]) -> None:
        if tag == "style:style":
            self._style = said.get("style:name", "")
            self._styles[self._style] = self._styles.get(said.get("style:parent-style-name", ""), PLAIN)
        elif tag in ("style:table-cell-properties", "style:text-properties") and self._style:
            self._styles[self._style] = _changed(self._styles[self._style], said)
        elif tag == f"{TABLE}table":
            self._sheet = self.sheets.setdefault(said.get(f"{TABLE}name", ""), SheetLooks())
            self._row, self._columns = 0, []
        elif tag == f"{TABLE}table-column":
            count = _count(said.get(f"{TABLE}number-columns-repeated"))
            if said.get(f"{TABLE}visibility") in ("collapse", "filter"):
                self._sheet.hidden_columns.update(range(len(self._columns) + 1, len(self._columns) + count + 1))
            self._columns += [said.get(f"{TABLE}default-cell-style-name", "")] * count
        elif tag == f"{TABLE}table-row":
            self._rows, self._column = _count(said.get(f"{TABLE}number-rows-repeated")), 0
            if said.get(f"{TABLE}visibility") in ("collapse", "filter") and self._rows <= MOST_ALIKE:
                self._sheet.hidden_rows.update(range(self._row + 1, self._row + self._rows + 1))
        elif tag in CELLS:
            self._cell(said)
        elif tag == f"{OFFICE}annotation":
            self._note = []

    def _cell(self, said: dict[str, str]) -> None:
        self._wide = _count(said.get(f"{TABLE}number-columns-repeated"))
        own = said.get(f"{TABLE}style-name")
        if own is None:
            own = self._columns[self._column] if self._column < len(self._columns) else ""
        look = self._styles.get(own, PLAIN)
        if look != PLAIN and self._wide <= MOST_ALIKE and self._rows <= MOST_ALIKE:
            for r in range(self._row + 1, self._row + self._rows + 1):
                for c in range(self._column + 1, self._column + self._wide + 1):
                    self._sheet.looks[r, c] = look
        down, over = (_count(said.get(f"{TABLE}number-{n}-spanned")) for n in ("rows", "columns"))
        if down * over > 1 and self._wide == self._rows == 1:
            at = (self._row + 1, self._column + 1)
            self._sheet.merged.append((at, (at[0] + down - 1, at[1] + over - 1)))
        self._column += self._wide

    def text(self, text: str) -> None:
        if self._note is not None:
            self._note.append(text)

    def end(self, tag: str) -> None:
        if tag == "style:style":
            self._style = ""
        elif tag == f"{OFFICE}annotation" and self._note is not None:
            self._sheet.notes[self._row + 1, self._column - self._wide + 1] = " ".join("".join(self._note).split())
            self._note = None
        elif tag == "dc:date" and self._note is not None:
            self._note = []  # what stands before the text: who wrote it and when
        elif tag == f"{TABLE}table-row":
            self._row += self._rows


def ods_looks(path: Path) -> dict[str, SheetLooks]:
    """Return sheet name -> what is seen on it; the file has been through `guard.look`."""
    walk = _Walk()
    with open_regular(path) as file, zipfile.ZipFile(file) as book:
        for part in ("styles.xml", "content.xml"):
            if part not in book.namelist():
                continue
            parser = expat.ParserCreate()
            parser.buffer_text = True
            parser.StartElementHandler, parser.EndElementHandler = walk.start, walk.end
            parser.CharacterDataHandler = walk.text
            with book.open(part) as stream:
                while data := stream.read(1 << 20):
                    parser.Parse(data, False)
            parser.Parse(b"", True)
    return walk.sheets


def _changed(look: Look, said: dict[str, str]) -> Look:
    fill, line = said.get("fo:background-color"), said.get("style:text-line-through-style")
    weight = said.get("fo:font-weight")
    return Look(
        look.fill if fill is None else fill.lower() if COLOUR.fullmatch(fill) else "",
        look.bold if weight is None else weight == "bold" or weight in ("600", "700", "800", "900"),
        look.struck if line is None else line != "none",
        look.number_format,
    )


def _count(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdecimal() and len(text) < 8 else 1
