"""The look at an .ods workbook: encrypted, too large once its repeats are written out, cells that hold errors."""

from __future__ import annotations

import zipfile
from xml.etree import ElementTree

from fibrebook.errors import InputError
from fibrebook.workbook.limits import ERRORS, MOST_CELLS, Position, too_large

TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384  # no spreadsheet has more


def look_ods(name: str, book: zipfile.ZipFile) -> dict[str, dict[Position, str]]:
    """Return, for each sheet, the cells that hold an error; InputError where encrypted or too large."""
    if "META-INF/manifest.xml" in book.namelist() and b"encryption-data" in book.read("META-INF/manifest.xml"):
        raise InputError(f"{name} is protected by a password; take the password off and save it again")
    faults: dict[str, dict[Position, str]] = {}
    area = 0
    with book.open("content.xml") as stream:
        for _, element in ElementTree.iterparse(stream):
            if element.tag == f"{TABLE}table":
                sheet = element.get(f"{TABLE}name", "")
                rows, columns, faults[sheet] = _measure(element)
                area += rows * columns
                if area > MOST_CELLS:
                    raise too_large(f"{name}, sheet {sheet!r}")
                element.clear()
    return faults


def _measure(table: ElementTree.Element) -> tuple[int, int, dict[Position, str]]:
    """Return the last row and the last column in use, repeats written out, and the faulty cells."""
    row, last_row, last_column = 0, 0, 0
    faults: dict[Position, str] = {}
    for line in table.iter(f"{TABLE}table-row"):
        repeated = _count(line.get(f"{TABLE}number-rows-repeated"), MOST_ROWS)
        column, used = 0, 0
        for cell in line:
            if cell.tag not in (f"{TABLE}table-cell", f"{TABLE}covered-table-cell"):
                continue
            wide = _count(cell.get(f"{TABLE}number-columns-repeated"), MOST_COLUMNS)
            column += wide
            if cell.get(f"{OFFICE}value-type") or cell.get(f"{CALC}value-type") or len(cell):
                used = column
            if fault := _fault(cell):
                faults[(row + 1, column - wide + 1)] = fault
        row += repeated
        if used:
            last_row, last_column = row, max(last_column, used)
    if last_row > MOST_ROWS or last_column > MOST_COLUMNS:
        raise ValueError("repeats reach beyond any sheet")
    return last_row, last_column, faults


def _fault(cell: ElementTree.Element) -> str:
    """Return what keeps a cell from holding a value; "" where nothing does."""
    if cell.get(f"{CALC}value-type") == "error":
        return "".join(cell.itertext()).strip() or "an error"
    if cell.get(f"{TABLE}formula") is None:
        return ""
    text = "".join(cell.itertext()).strip()
    if text in ERRORS:
        return text
    return "" if text or cell.get(f"{OFFICE}value-type") else "a formula that was never worked out"


def _count(text: str | None, most: int) -> int:
    count = int(text) if text else 1
    if not 1 <= count <= most:
        raise ValueError("repeat out of range")
    return count
