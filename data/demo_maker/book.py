"""Writes workbooks whose bytes depend on their contents only."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from demo_maker.columns import COLUMNS, KEYS

FIXED = datetime(2026, 11, 20, 9, 0, 0)


def put(cell: Cell, value: Any) -> None:
    """Set a cell; text that looks like a formula stays text, a date shows as year-month-day."""
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"
    elif hasattr(value, "year"):
        cell.number_format = "yyyy-mm-dd"


def save(book: Workbook, path: Path) -> None:
    """Save a workbook with fixed times inside, so that the same contents give the same bytes."""
    raw = BytesIO()
    book.save(raw)
    stamp = FIXED.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(raw) as old, zipfile.ZipFile(path, "w") as new:
        for entry in sorted(old.infolist(), key=lambda e: e.filename != "[Content_Types].xml"):
            data = old.read(entry)
            if entry.filename == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>" + stamp, data)
                data = re.sub(rb"(<dc:creator>)[^<]*", rb"\g<1>the demo firm", data)
            fixed = zipfile.ZipInfo(entry.filename, FIXED.timetuple()[:6])
            fixed.compress_type, fixed.create_system = zipfile.ZIP_DEFLATED, 3
            new.writestr(fixed, data)


def shown(table: str, rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Give the columns a sheet needs: the key, and whatever any of its rows fills."""
    filled = {c for row in rows for c, v in row.items() if v not in (None, "")}
    return [c for c in COLUMNS[table] if c in KEYS[table] or c in filled]


def write_tables(path: Path, tables: Mapping[str, Sequence[Mapping[str, Any]]], number_labels: bool) -> None:
    """Write one sheet per table that has rows; digit labels as numbers where the firm typed them so."""
    book = Workbook()
    book.remove(book.active)
    for table, rows in tables.items():
        if not rows:
            continue
        sheet, columns = book.create_sheet(table), shown(table, rows)
        sheet.append(columns)
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        for r, row in enumerate(rows, start=2):
            for c, column in enumerate(columns, start=1):
                value = row.get(column)
                if value in (None, ""):
                    continue
                if number_labels and isinstance(value, str) and value.isdigit():
                    value = int(value)
                put(sheet.cell(r, c), value)
        sheet.freeze_panes = "A2"
        for c, column in enumerate(columns, start=1):
            longest = max(len(str(row.get(column) or "")) for row in rows[:200])
            sheet.column_dimensions[get_column_letter(c)].width = min(40, max(len(column), longest) + 2)
    save(book, path)
