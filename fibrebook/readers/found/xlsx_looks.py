"""What a look at an .xlsx shows beside the values: fills, type, number formats, comments, hidden rows and columns.

One pass over each sheet's style numbers; the general reader of workbooks needs ten times as long for the same.
The file was looked over by `files.guard` before: its parts are proper XML and of bearable size.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, TypeVar
from xml.etree import ElementTree
from xml.parsers import expat

from fibrebook.readers.files.guard import sheet_parts, small_tree
from fibrebook.readers.files.limits import MOST_COLUMNS, Position, column_number
from fibrebook.readers.files.sheets import Rectangle
from fibrebook.readers.found.found_sheet import PLAIN, Look
from fibrebook.regular_files import open_regular

T = TypeVar("T")
MOST_AT_ONCE = 200_000_000  # bytes of a sheet that are searched at once
# What only a parser reads rightly: comments, other marks, prefixes, single quotes, a cell or row without its place.
_UNUSUAL = re.compile(
    rb"\0|<!|<\?(?!xml )|encoding=\"(?!UTF-8|utf-8)|<\w+:(?:c|row|col)[\s/>]"
    rb"|<(?:c|row|col)\s[^>]*?(?:\s=|=[\s']|&)|<(?:c|row)(?!\s(?:[^>]*?\s)?r=\")[\s/>]"
)
_HIDDEN_ROW = re.compile(rb"<row(?=\s(?:[^>]*?\s)?hidden=\"(?:1|true)\")\s(?:[^>]*?\s)?r=\"([0-9]{1,7})\"")
_COLUMNS = re.compile(rb"<col\s[^>]*>")
_SAID = re.compile(rb"(\w+)=\"([^\"]*)\"")
STYLES, THEME = "xl/styles.xml", "xl/theme/theme1.xml"
# Order of a theme's colours as cells number them: light and dark are swapped against the file (ECMA-376, 20.1.6.2,
# and what spreadsheets do; from memory).
THEME_ORDER = (1, 0, 3, 2, 4, 5, 6, 7, 8, 9, 10, 11)


@dataclass
class SheetLooks:
    """What is seen on one sheet beside its values."""

    looks: dict[Position, Look] = field(default_factory=dict)
    notes: dict[Position, str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merged: list[Rectangle] = field(default_factory=list)  # where the reader of values does not tell them


def xlsx_looks(path: Path) -> dict[str, SheetLooks]:
    """Return sheet name -> what is seen on it; the file has been through `guard.look`."""
    with open_regular(path) as file, zipfile.ZipFile(file) as book:
        names = set(book.namelist())
        styles = _styles(path.name, book, names)
        found = {}
        for part, sheet in sheet_parts(path.name, book).items():
            with book.open(part) as stream:
                found[sheet] = _seen(stream, styles)  # type: ignore[arg-type]
            found[sheet].notes = _notes(path.name, book, names, part)
        return found


def _styles(name: str, book: zipfile.ZipFile, names: set[str]) -> list[Look]:
    if STYLES not in names:
        return []
    root = small_tree(name, book, STYLES)
    theme = _theme(name, book, names)
    formats = {_number(e.get("numFmtId")): e.get("formatCode", "") for e in _below(root, "numFmts")}
    fonts = [(_flag(e, "b"), _flag(e, "strike")) for e in _below(root, "fonts")]
    fills = [_fill(e, theme) for e in _below(root, "fills")]
    looks = []
    for xf in _below(root, "cellXfs"):
        bold, struck = _at(fonts, _number(xf.get("fontId")), (False, False))
        number = _number(xf.get("numFmtId"))
        looks.append(Look(_at(fills, _number(xf.get("fillId")), ""), bold, struck, formats.get(number, "")))
    return looks


def _theme(name: str, book: zipfile.ZipFile, names: set[str]) -> list[str]:
    if THEME not in names:
        return []
    scheme = next((e for e in small_tree(name, book, THEME).iter() if _tag(e) == "clrScheme"), None)
    if scheme is None:
        return []
    colours = [next((c.get("lastClr") or c.get("val") or "" for c in slot), "") for slot in scheme]
    return [colours[i] if i < len(colours) else "" for i in THEME_ORDER]


def _fill(fill: ElementTree.Element, theme: Sequence[str]) -> str:
    pattern = next((e for e in fill if _tag(e) == "patternFill"), None)
    if pattern is None or pattern.get("patternType") in (None, "none"):
        return ""
    colour = next((e for e in pattern if _tag(e) == "fgColor"), None)
    return _colour(colour.attrib, theme) if colour is not None else ""


def _colour(said: Mapping[str, str], theme: Sequence[str]) -> str:
    from openpyxl.styles.colors import COLOR_INDEX

    text = said.get("rgb", "")
    if not text and "theme" in said:
        text = _at(theme, _number(said["theme"]), "")
    if not text and "indexed" in said:
        text = _at(COLOR_INDEX, _number(said["indexed"]), "")
    text = text[-6:].lower()
    return f"#{text}" if len(text) == 6 and all(c in "0123456789abcdef" for c in text) else ""


def _seen(stream: BinaryIO, styles: Sequence[Look]) -> SheetLooks:
    """Return what is seen on a sheet: at once where its cells all tell where they stand, else cell by cell."""
    telling = {str(i): look for i, look in enumerate(styles) if look != PLAIN}
    data = stream.read(MOST_AT_ONCE)
    if len(data) < MOST_AT_ONCE and not _UNUSUAL.search(data):
        return _at_once(data, telling)
    return _walk(stream, data, telling)


def _at_once(data: bytes, telling: Mapping[str, Look]) -> SheetLooks:
    """As `_walk`, by one search for the few cells and rows that tell something."""
    out = SheetLooks()
    numbers = b"|".join(str(number).encode() for number in telling)
    cells = rb"<c(?=\s(?:[^>]*?\s)?s=\"(" + numbers + rb")\")\s(?:[^>]*?\s)?r=\"([A-Z]{1,3})([0-9]{1,7})\""
    for found in re.finditer(cells, data) if numbers else ():
        out.looks[int(found[3]), column_number(found[2].decode())] = telling[found[1].decode()]
    for found in _HIDDEN_ROW.finditer(data):
        out.hidden_rows.add(int(found[1]))
    for found in _COLUMNS.finditer(data):
        said = dict(_SAID.findall(found[0]))
        if said.get(b"hidden") in (b"1", b"true"):
            first, last = _number(said.get(b"min", b"").decode()), _number(said.get(b"max", b"").decode())
            out.hidden_columns.update(range(first, min(last, MOST_COLUMNS) + 1))
    return out


def _walk(stream: BinaryIO, data: bytes, telling: Mapping[str, Look]) -> SheetLooks:
    """Go through a sheet's cells by number of style, the first bytes of it given; what is plain is not kept."""
    out = SheetLooks()
    at = [0, 0]

    def start(tag: str, said: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "c":
            at[1] += 1
            reference = said.get("r", "")
            if reference:
                letters = reference.rstrip("0123456789")
                at[0], at[1] = int(reference[len(letters) :] or at[0]), column_number(letters)
            look = telling.get(said.get("s", ""))
            if look is not None:
                out.looks[at[0], at[1]] = look
        elif name == "row":
            at[0], at[1] = _number(said.get("r")) or at[0] + 1, 0
            if said.get("hidden") in ("1", "true"):
                out.hidden_rows.add(at[0])
        elif name == "col" and said.get("hidden") in ("1", "true"):
            last = min(_number(said.get("max")), MOST_COLUMNS)
            out.hidden_columns.update(range(_number(said.get("min")), last + 1))

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    while data:
        parser.Parse(data, False)
        data = stream.read(1 << 20)
    parser.Parse(b"", True)
    return out


def _notes(name: str, book: zipfile.ZipFile, names: set[str], part: str) -> dict[Position, str]:
    folder, own = posixpath.split(part)
    relations = f"{folder}/_rels/{own}.rels"
    found: dict[Position, str] = {}
    if relations not in names:
        return found
    for relation in small_tree(name, book, relations):
        target = relation.get("Target", "")
        target = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
        if not relation.get("Type", "").endswith("/comments") or target not in names:
            continue
        for comment in small_tree(name, book, target).iter():
            reference = comment.get("ref", "") if _tag(comment) == "comment" else ""
            letters = reference.rstrip("0123456789")
            if letters and letters != reference and letters.isalpha() and letters.isascii():
                text = "".join(t.text or "" for t in comment.iter() if _tag(t) == "t").strip()
                found[int(reference[len(letters) :]), column_number(letters.upper())] = text
    return found


def _below(root: ElementTree.Element, tag: str) -> list[ElementTree.Element]:
    return [child for group in root if _tag(group) == tag for child in group]


def _flag(font: ElementTree.Element, tag: str) -> bool:
    return any(_tag(e) == tag and e.get("val", "1") not in ("0", "false") for e in font)


def _tag(element: ElementTree.Element) -> str:
    return str(element.tag).rpartition("}")[2]


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdecimal() and len(text) < 10 else 0


def _at(values: Sequence[T], number: int, otherwise: T) -> T:
    return values[number] if 0 <= number < len(values) else otherwise
