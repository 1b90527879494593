"""A look at a workbook's zip before it is read: is it one, is it of bearable size, which cells hold errors.

The reader gives an error cell (#REF!) and a formula that was never worked out as blank; here they are found, so that
a blank is never taken for a wish to clear a value. Only .xlsx and .ods are understood.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree
from xml.parsers import expat

from fibrebook.errors import InputError
from fibrebook.workbook.guard_ods import look_ods
from fibrebook.workbook.limits import (
    MOST_BYTES,
    MOST_CELLS,
    MOST_PARTS,
    Position,
    column_letter,
    column_number,
    too_large,
)

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # old .xls files and encrypted .xlsx files begin so
BROKEN = (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError)
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
RELATION_ID = re.compile(r"\{.*relationships\}id$")

_CELL = re.compile(rb"<(?:\w+:)?c\s[^>]*?\br=[\"']([A-Z]{1,3})(\d{1,9})[\"']")
_ROW = re.compile(rb"<(?:\w+:)?row\s[^>]*?\br=[\"'](\d{1,9})[\"']")
_WHOLE_CELL = re.compile(rb"<(?:\w+:)?c\s(?P<attributes>[^>]*?)(?<!/)>(?P<inside>.*?)</(?:\w+:)?c>", re.DOTALL)
_REFERENCE = re.compile(rb"\br=[\"']([A-Z]{1,3})(\d{1,9})[\"']")
_VALUE = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>([^<]+)</")
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")


def look(path: Path) -> dict[str, dict[Position, str]]:
    """Check a workbook's zip; InputError where it is none, is encrypted, damaged or too large.

    Returns the cells of each sheet that hold an error value or a formula without a result.
    """
    with path.open("rb") as file:
        start = file.read(8)
    if not start:
        raise InputError(f"{path.name} is empty; save the workbook again")
    if start == OLE:
        raise InputError(
            f"{path.name} is protected by a password or is an old .xls file; take the password off or save it as .xlsx"
        )
    try:
        with zipfile.ZipFile(path) as book:
            parts = _check_sizes(path, book)
            if "content.xml" in parts:
                return look_ods(path.name, book)
            if "xl/workbook.xml" not in parts:
                raise InputError(f"{path.name} is no spreadsheet; save it as .xlsx or .ods")
            return _look_xlsx(path.name, book)
    except (
        zipfile.error,
        zipfile.LargeZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        NotImplementedError,
    ) as error:
        raise InputError(f"{path.name} is no workbook, or is cut short or damaged; save or send it again") from error
    except RuntimeError as error:  # zipfile: the part is encrypted
        raise InputError(f"{path.name} is protected by a password; take the password off and save it again") from error
    except (ElementTree.ParseError, expat.ExpatError) as error:
        raise InputError(f"{path.name} is damaged: part of it is no proper XML; save it again") from error


def _check_sizes(path: Path, book: zipfile.ZipFile) -> set[str]:
    """Refuse by the sizes told in the zip's list; then read through once, for a list may lie."""
    parts = book.infolist()
    if len(parts) > MOST_PARTS or sum(p.file_size for p in parts) > MOST_BYTES:
        raise too_large(path.name)
    for part in parts:
        proper = _proper_xml(part.filename)
        with book.open(part) as stream:  # stops at the told size and compares the checksum
            while data := stream.read(1 << 20):
                proper(data, False)
        proper(b"", True)
    return {p.filename for p in parts}


def _proper_xml(name: str) -> Callable[[bytes, bool], object]:
    """Return what a part's bytes are fed to: the spreadsheet reader takes XML that breaks off for a short sheet."""
    if name == "content.xml" or (name.startswith("xl/") and name.endswith((".xml", ".rels"))):
        return expat.ParserCreate().Parse
    return lambda data, last: None


def _look_xlsx(name: str, book: zipfile.ZipFile) -> dict[str, dict[Position, str]]:
    faults = {}
    area = 0
    for sheet, part in _sheet_parts(book):
        data = book.read(part)
        cells = _CELL.findall(data)
        rows = max((int(r) for _, r in cells), default=0)
        rows = max([rows, *(int(r) for r in _ROW.findall(data))]) if cells else 0
        columns = max((column_number(c.decode()) for c in {c for c, _ in cells}), default=0)
        area += rows * columns
        if area > MOST_CELLS:
            raise too_large(f"{name}, sheet {sheet!r} (it reaches to cell {column_letter(columns)}{rows})")
        if _FORMULA.search(data) or re.search(rb"\bt=[\"']e[\"']", data):
            faults[sheet] = _faulty_cells(data)
    return faults


def _faulty_cells(data: bytes) -> dict[Position, str]:
    found: dict[Position, str] = {}
    for cell in _WHOLE_CELL.finditer(data):
        reference = _REFERENCE.search(cell["attributes"])
        value = _VALUE.search(cell["inside"])
        if reference is None:
            continue
        at = (int(reference[2]), column_number(reference[1].decode()))
        if re.search(rb"\bt=[\"']e[\"']", cell["attributes"]):
            found[at] = value[1].decode("utf-8", "replace") if value else "an error"
        elif value is None and _FORMULA.search(cell["inside"]) and b't="str"' not in cell["attributes"]:
            found[at] = "a formula that was never worked out"
    return found


def _sheet_parts(book: zipfile.ZipFile) -> list[tuple[str, str]]:
    """Return (sheet name, part of the zip) of each worksheet."""
    names = set(book.namelist())
    targets = {}
    if "xl/_rels/workbook.xml.rels" in names:
        for relation in ElementTree.fromstring(book.read("xl/_rels/workbook.xml.rels")):
            target = relation.get("Target", "")
            targets[relation.get("Id")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    found = []
    root = ElementTree.fromstring(book.read("xl/workbook.xml"))
    for sheet in [*root.iter(f"{MAIN}sheet"), *root.iter(f"{STRICT}sheet")]:
        ids = [v for k, v in sheet.attrib.items() if RELATION_ID.match(k)]
        part = targets.get(ids[0]) if ids else None
        if part in names:
            found.append((sheet.get("name", ""), str(part)))
    return found
