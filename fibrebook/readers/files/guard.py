"""A look at a workbook's zip before it is read: is it one, is it of bearable size, which cells hold errors.

The reader gives an error cell (#REF!) and a formula that was never worked out as blank; here they are found, so that
a blank is never taken for a wish to clear a value. Only .xlsx and .ods are understood. The reader has its own idea of a
zip and of a sheet; so whatever could be taken in two ways is refused.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import BinaryIO
from xml.etree import ElementTree
from xml.parsers import expat

from fibrebook.errors import InputError
from fibrebook.readers.files.guard_ods import look_ods
from fibrebook.readers.files.limits import (
    MOST_BYTES,
    MOST_CELLS,
    MOST_LEADING,
    MOST_PARTS,
    MOST_TEXT,
    Position,
    column_letter,
    column_number,
    too_large,
)
from fibrebook.readers.files.sheet_walk import Seen, shared_lengths, walk
from fibrebook.regular_files import open_regular

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # old .xls files and encrypted .xlsx files begin so
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
RELATION_ID = re.compile(r"\{.*relationships\}id$")
END_OF_LIST = b"PK\x05\x06"  # begins the last record of a zip (APPNOTE 4.3.16), which a comment may follow
LONGEST_END = 22 + 65_535

_ANY_CELL = re.compile(rb"<(?:\w+:)?c[\s/>]")
_CELL = re.compile(rb"<(?:\w+:)?c\s[^>]*?\br=[\"']([A-Z]{1,3})(\d{1,9})[\"']")
_ROW = re.compile(rb"<(?:\w+:)?row\s[^>]*?\br=[\"'](\d{1,9})[\"']")
_FORMULA_OR_ERROR = re.compile(rb"<(?:\w+:)?f[\s>/]|\bt\s*=\s*[\"']e[\"']")
_TEXT = re.compile(rb"<(?:\w+:)?si[\s/>]")


def look(path: Path) -> dict[str, dict[Position, str]]:
    """Check a workbook's zip; InputError where it is none, is encrypted, damaged or too large.

    Returns the cells of each sheet that hold an error value or a formula without a result.
    """
    try:
        with open_regular(path) as file:
            return _look(path.name, file)
    except (
        zipfile.error,
        zipfile.LargeZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        NotImplementedError,
    ) as error:
        raise InputError(
            f"{path.name} is no workbook, or is cut short or damaged; save or send it again ({_why(error)})"
        ) from error
    except RuntimeError as error:  # zipfile: the part is encrypted
        raise InputError(f"{path.name} is protected by a password; take the password off and save it again") from error
    except (ElementTree.ParseError, expat.ExpatError) as error:
        raise InputError(f"{path.name} is damaged: part of it is no proper XML; save it again") from error
    except MemoryError as error:
        raise too_large(path.name) from error


def _why(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error)[:200]


def _look(name: str, file: BinaryIO) -> dict[str, dict[Position, str]]:
    start = file.read(8)
    if not start:
        raise InputError(f"{name} is empty; save the workbook again")
    if start == OLE:
        raise InputError(
            f"{name} is protected by a password or is an old .xls file; take the password off or save it as .xlsx"
        )
    _one_list(file)
    with zipfile.ZipFile(file) as book:
        parts = _check_sizes(name, book)
        if "content.xml" in parts:
            return look_ods(name, book)
        if "xl/workbook.xml" not in parts:
            raise InputError(f"{name} is no spreadsheet; save it as .xlsx or .ods")
        return _look_xlsx(name, book)


def _one_list(file: BinaryIO) -> None:
    """Refuse a zip with two lists of its parts: one reader would take the one, another the other."""
    file.seek(0, 2)
    file.seek(max(file.tell() - LONGEST_END, 0))
    if file.read().count(END_OF_LIST) > 1:
        raise ValueError("its list of parts stands there twice")
    file.seek(0)


def _check_sizes(name: str, book: zipfile.ZipFile) -> set[str]:
    """Refuse by the sizes told in the zip's list; then read through once, for a list may lie."""
    parts = book.infolist()
    if len(parts) > MOST_PARTS or sum(p.file_size for p in parts) > MOST_BYTES:
        raise too_large(name)
    if len({p.filename.casefold().replace("\\", "/") for p in parts}) < len(parts):
        raise ValueError("two of its parts bear one name")
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
    """Measure every part that holds cells, whether or not the list of sheets names it."""
    sheets = sheet_parts(name, book)
    texts = next((p for p in book.namelist() if p.casefold() == "xl/sharedstrings.xml"), None)
    longest = 0 if texts is None else max(len(piece) for piece in _TEXT.split(book.read(texts)))
    shared: Sequence[int] | None = None
    faults: dict[str, dict[Position, str]] = {}
    area, text = 0, 0
    for part in book.namelist():
        if not part.casefold().endswith(".xml") or part == texts:
            continue
        data = book.read(part)
        if part not in sheets and not _ANY_CELL.search(data):
            continue
        if b"\0" in data:
            raise ValueError("a sheet that is not in UTF-8")
        seen = _quickly(data, longest, MOST_TEXT - text)
        if seen is None:
            if shared is None:
                shared = shared_lengths(book.read(texts)) if texts else ()
            seen = walk(data, shared)
        area += max(seen.rows * seen.columns, seen.cells)
        text += seen.text
        sheet = sheets.get(part, part)
        if area > MOST_CELLS or text > MOST_TEXT:
            raise too_large(f"{name}, sheet {sheet!r} (it reaches to cell {column_letter(seen.columns)}{seen.rows})")
        if seen.faults:
            faults[sheet] = seen.faults
    return faults


def _quickly(data: bytes, longest: int, room: int) -> Seen | None:
    """Return what a sheet of plain cells holds; None where each cell has to be looked at.

    longest : characters of the longest shared text, or more; room : characters that its texts may have
    """
    if _FORMULA_OR_ERROR.search(data):
        return None
    seen = Seen()
    for _ in _ANY_CELL.finditer(data):
        seen.cells += 1
        if seen.cells > MOST_CELLS:
            return seen
    referred, row, letters = 0, b"", set()
    for found in _CELL.finditer(data):
        referred += 1
        letters.add(found[1])
        if found[2] != row:
            row = found[2]
            seen.rows = max(seen.rows, int(row))
    seen.columns = max((column_number(one.decode()) for one in letters), default=0)
    if seen.cells:
        seen.rows = max([seen.rows, *(int(found[1]) for found in _ROW.finditer(data))])
    seen.text = longest * seen.cells
    return seen if referred == seen.cells and seen.text <= room // 10 else None


def sheet_parts(name: str, book: zipfile.ZipFile) -> dict[str, str]:
    """Return part of the zip -> sheet name of each worksheet."""
    names = set(book.namelist())
    targets = {}
    if "xl/_rels/workbook.xml.rels" in names:
        for relation in small_tree(name, book, "xl/_rels/workbook.xml.rels"):
            target = relation.get("Target", "")
            targets[relation.get("Id")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    found: dict[str, str] = {}
    root = small_tree(name, book, "xl/workbook.xml")
    for sheet in [*root.iter(f"{MAIN}sheet"), *root.iter(f"{STRICT}sheet")]:
        ids = [v for k, v in sheet.attrib.items() if RELATION_ID.match(k)]
        part = targets.get(ids[0]) if ids else None
        if part in names:
            found[str(part)] = sheet.get("name", "")
    return found


def small_tree(name: str, book: zipfile.ZipFile, part: str) -> ElementTree.Element:
    """Return a part as a tree, which takes ten times the memory of its text."""
    if book.getinfo(part).file_size > MOST_LEADING:
        raise too_large(f"{name}, {part}")
    return ElementTree.fromstring(book.read(part))
