"""An old .xls as found: values, fills, type, formats, comments, merged cells, hidden rows and columns; by xlrd."""

from __future__ import annotations

import io
from typing import Any

from fibrebook.errors import InputError
from fibrebook.readers.files.limits import MOST_CELLS, too_large
from fibrebook.readers.found.found_sheet import PLAIN, FoundSheet, Look

MOST_XLS = 60_000_000  # bytes; the format holds 65,536 rows a sheet, and fills less than that


def read_xls(name: str, data: bytes) -> list[FoundSheet]:
    """Return the sheets of an .xls.

    Raises
    ------
    InputError : protected by a password, damaged, too large
    """
    import xlrd

    if len(data) > MOST_XLS:
        raise too_large(name)
    try:
        book = xlrd.open_workbook(
            file_contents=data, formatting_info=True, ragged_rows=True, on_demand=True, logfile=io.StringIO()
        )
        sheets, room = [], MOST_CELLS
        for number in range(book.nsheets):
            sheet = book.sheet_by_index(number)
            room -= sum(max(sheet.row_len(r), 1) for r in range(sheet.nrows))
            if room < 0:
                raise too_large(name)
            sheets.append(_sheet(book, sheet))
            book.unload_sheet(number)
    except InputError:
        raise
    except xlrd.XLRDError as error:
        if "encrypt" in str(error).casefold():
            raise InputError(f"{name} is protected by a password; take the password off and save it again") from error
        raise InputError(f"{name} cannot be read as an .xls ({error}); save it as .xlsx") from error
    except Exception as error:  # the reader meets damage in many ways of its own
        raise InputError(
            f"{name} cannot be read as an .xls ({type(error).__name__}: {error}); save it as .xlsx"
        ) from error
    return sheets


def _sheet(book: Any, sheet: Any) -> FoundSheet:
    looks = [_look(book, xf) for xf in book.xf_list]
    found = FoundSheet(sheet.name, [], hidden=sheet.visibility != 0)
    for r in range(sheet.nrows):
        row = []
        for c, cell in enumerate(sheet.row(r)):
            row.append(_value(book, cell, found, (r + 1, c + 1)))
            look = looks[cell.xf_index] if cell.xf_index is not None and cell.xf_index < len(looks) else PLAIN
            if look != PLAIN:
                found.looks[r + 1, c + 1] = look
        found.rows.append(row)
    found.merged = [((a + 1, c + 1), (b, d)) for a, b, c, d in sheet.merged_cells]
    found.notes = {(r + 1, c + 1): " ".join(note.text.split()) for (r, c), note in sheet.cell_note_map.items()}
    found.hidden_rows = {r + 1 for r, info in sheet.rowinfo_map.items() if info.hidden}
    found.hidden_columns = {c + 1 for c, info in sheet.colinfo_map.items() if info.hidden}
    return found


def _value(book: Any, cell: Any, found: FoundSheet, at: tuple[int, int]) -> Any:
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        try:
            return xlrd.xldate_as_datetime(cell.value, book.datemode)
        except (ValueError, OverflowError):
            return cell.value
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(cell.value)
    if cell.ctype == xlrd.XL_CELL_ERROR:
        found.faults[at] = str(xlrd.error_text_from_code.get(cell.value, "an error"))
        return ""
    return cell.value if cell.ctype in (xlrd.XL_CELL_TEXT, xlrd.XL_CELL_NUMBER) else ""


def _look(book: Any, xf: Any) -> Look:
    background = xf.background
    rgb = book.colour_map.get(background.pattern_colour_index) if background.fill_pattern else None
    font = book.font_list[xf.font_index] if xf.font_index < len(book.font_list) else None
    format_ = book.format_map.get(xf.format_key)
    number = format_.format_str if format_ is not None else ""
    return Look(
        "#{:02x}{:02x}{:02x}".format(*rgb) if rgb else "",
        bool(font and font.bold),
        bool(font and font.struck_out),
        "" if number == "General" else number,
    )
