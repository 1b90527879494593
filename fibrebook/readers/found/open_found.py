"""Any file that holds a list, opened by what is in it and not by what it is called."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from pathlib import Path
from typing import Any

from fibrebook.errors import InputError, NotFoundError, place_in_words
from fibrebook.readers.files.collector import collector_put_off
from fibrebook.readers.files.guard import OLE
from fibrebook.readers.files.limits import ERRORS, MOST_BYTES, too_large
from fibrebook.readers.files.sheets import read_sheets
from fibrebook.readers.found.found_sheet import FoundBook, FoundSheet
from fibrebook.readers.found.ods_looks import ods_looks
from fibrebook.readers.found.pasted import read_pasted
from fibrebook.readers.found.xls_file import read_xls
from fibrebook.readers.found.xlsx_looks import SheetLooks, xlsx_looks
from fibrebook.regular_files import read_regular

TEXTS = (".csv", ".tsv", ".txt", ".md", ".html", ".htm", ".prn")
KINDS_OF_FILE = (".xlsx", ".ods", ".xls", *TEXTS)


def find_sheets(path: str | os.PathLike[str]) -> FoundBook:
    """Open a list as it is found.

    Raises
    ------
    NotFoundError : no such file
    InputError : it is none of these kinds of file, protected, damaged, empty or too large
    """
    source = Path(path)
    if not source.exists():
        raise NotFoundError(f"there is no file {str(source)!r}; look at its name and folder")
    if source.is_dir():
        raise InputError(f"{source.name} is a folder: choose one file of it")
    with place_in_words(f"{source.name} cannot be read"):
        if source.stat().st_size > MOST_BYTES:
            raise too_large(source.name)
        data = read_regular(source, MOST_BYTES)
    digest = hashlib.sha256(data).hexdigest()
    with collector_put_off():
        sheets, says = _opened(source, data)
    return FoundBook(source.name, digest, sheets, says, str(source.parent))


def _opened(source: Path, data: bytes) -> tuple[list[FoundSheet], list[str]]:
    if data[:8] == OLE:
        return read_xls(source.name, data), ["it is an old .xls file"]
    if data[:2] == b"PK":
        return _zipped(source), []
    if source.suffix.lower() not in (*TEXTS, ".xls"):  # some programs call a web page's table .xls
        raise InputError(f"{source.name} is no list that can be read; save it as {', '.join(KINDS_OF_FILE)}")
    text, says = _decoded(source.name, data)
    sheet, how = _text_sheet(source.name, source.stem, text)
    return [sheet], [says, f"its cells are parted by {how}"]


def sheets_of_text(text: str, name: str = "pasted") -> FoundBook:
    """Return a pasted text as a book of one sheet; errors as `find_sheets`."""
    sheet, how = _text_sheet(name, name, text)
    return FoundBook(name, hashlib.sha256(text.encode("utf-8", "replace")).hexdigest(), [sheet], [f"read as {how}"])


def _zipped(source: Path) -> list[FoundSheet]:
    plain = source if source.suffix.lower() in (".xlsx", ".ods") else None
    if plain is None:
        raise InputError(f"{source.name} is a workbook under another ending; rename it to .xlsx or .ods")
    sheets = read_sheets(source)
    seen = xlsx_looks(source) if source.suffix.lower() == ".xlsx" else ods_looks(source)
    return [_with_looks(sheet, seen.get(sheet.name, SheetLooks())) for sheet in sheets]


def _with_looks(sheet: Any, seen: SheetLooks) -> FoundSheet:
    return FoundSheet(
        sheet.name, sheet.rows, sheet.hidden, sheet.merged or seen.merged, sheet.faults,
        seen.looks, seen.notes, seen.hidden_rows, seen.hidden_columns,
    )  # fmt: skip


def _decoded(name: str, data: bytes) -> tuple[str, str]:
    """Return a file's text and in words how it was decoded: by its mark, UTF-8, else the code page 1252."""
    tries = ["utf-16"] if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ["utf-8-sig", "cp1252", "latin-1"]
    for encoding in tries:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        called = {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "cp1252": "code page 1252"}.get(encoding, "Latin-1")
        return unicodedata.normalize("NFC", text), f"its letters are read as {called}"
    raise InputError(f"{name} is in no encoding that is known here; save it as UTF-8")


def _text_sheet(name: str, title: str, text: str) -> tuple[FoundSheet, str]:
    rows, how = read_pasted(name, text)
    faults = {
        (r, c): value.strip()
        for r, row in enumerate(rows, 1)
        for c, value in enumerate(row, 1)
        if value.startswith("#") and value.strip() in ERRORS
    }
    return FoundSheet(title, rows, faults=faults), how
