"""Spreadsheets as plain rows of cells: .xlsx and .ods by calamine, .csv by the standard library.

A sheet's rows begin at cell A1, so that row and column numbers are those that the spreadsheet shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fibrebook.errors import InputError, NotFoundError, place_in_words
from fibrebook.readers.files.guard import look
from fibrebook.readers.files.limits import ERRORS, MOST_BYTES, MOST_CELLS, Position, column_letter, too_large
from fibrebook.readers.files.report import CellProblem
from fibrebook.readers.files.text_table import read_text_table

WORKBOOKS = (".xlsx", ".ods")
Rectangle = tuple[Position, Position]  # first and last cell, each (row, column) from 1


@dataclass
class Sheet:
    """One sheet: its rows of values ("" = blank), merged rectangles, and cells that hold no usable value."""

    name: str
    rows: list[list[Any]]
    hidden: bool = False
    merged: Sequence[Rectangle] = ()
    faults: dict[Position, str] = field(default_factory=dict)

    def cell(self, row: int, column: int) -> Any:
        """Return the value at row and column (from 1); "" beyond the sheet's edge."""
        if 1 <= row <= len(self.rows) and 1 <= column <= len(self.rows[row - 1]):
            return self.rows[row - 1][column - 1]
        return ""


def read_sheets(path: str | Path, encoding: str = "", delimiter: str = "") -> list[Sheet]:
    """Read every sheet of a workbook, one .csv, or each .csv of a folder.

    Parameters
    ----------
    encoding, delimiter : of .csv files; blank = UTF-8 and whichever of comma, semicolon or tab splits the first line

    Raises
    ------
    NotFoundError : no such file
    InputError : not a workbook, encrypted, damaged, empty, too large
    """
    path = Path(path)
    with place_in_words(f"{path.name} cannot be read"):
        return _read_sheets(path, encoding, delimiter)


def _read_sheets(path: Path, encoding: str, delimiter: str) -> list[Sheet]:
    if path.is_dir():
        return _read_folder(path, encoding, delimiter)
    if not path.exists():
        raise NotFoundError(f"there is no file {str(path)!r}; look at its name and folder")
    suffix = path.suffix.lower()
    if suffix == ".csv":
        return [read_csv(path, encoding, delimiter)]
    if suffix not in WORKBOOKS:
        raise InputError(f"{path.name} is not a kind of file that can be brought in; save it as .xlsx, .ods or .csv")
    return _read_workbook(path)


def _read_workbook(path: Path) -> list[Sheet]:
    import python_calamine as calamine

    faults = look(path)
    sheets = []
    try:
        with calamine.load_workbook(str(path)) as book:
            for about in book.sheets_metadata:
                if about.typ != calamine.SheetTypeEnum.WorkSheet:
                    continue
                sheet = book.get_sheet_by_name(about.name)
                hidden = about.visible != calamine.SheetVisibleEnum.Visible
                rows = sheet.to_python(skip_empty_area=False)
                sheets.append(Sheet(about.name, rows, hidden, _merged(sheet), faults.get(about.name, {})))
    except calamine.PasswordError as error:
        raise InputError(f"{path.name} is protected by a password; take the password off and save it again") from error
    except BaseException as error:
        if not isinstance(error, Exception) and type(error).__name__ != "PanicException":
            raise  # only the reader's own collapse on a damaged file is told as one
        raise InputError(f"{path.name} cannot be read as a workbook ({error}); save it again") from error
    return sheets


def _merged(sheet: Any) -> list[Rectangle]:
    try:
        found = sheet.merged_cell_ranges or ()
    except Exception:  # not every format tells them
        return []
    return [((a + 1, b + 1), (c + 1, d + 1)) for (a, b), (c, d) in found]


def read_csv(path: Path, encoding: str = "", delimiter: str = "", room: int = MOST_CELLS) -> Sheet:
    """Read one .csv as a sheet that is named like the file without its ending; `room`: cells that it may have."""
    rows: list[list[Any]] = read_text_table(path, encoding, delimiter, room)
    return Sheet(path.stem, rows, faults=_written_errors(rows))


def _read_folder(path: Path, encoding: str, delimiter: str) -> list[Sheet]:
    """Read each .csv of a folder; together they may be as large as one."""
    files = sorted(p for p in path.iterdir() if p.suffix.lower() == ".csv" and not p.is_dir())
    if not files:
        raise InputError(f"the folder {path.name} holds no .csv file; name each after its table, as cables.csv")
    if sum(p.stat().st_size for p in files if p.is_file()) > MOST_BYTES:
        raise too_large(f"the folder {path.name}")
    sheets, room = [], MOST_CELLS
    for file in files:
        sheets.append(read_csv(file, encoding, delimiter, room))
        room -= sum(max(len(row), 1) for row in sheets[-1].rows)
    return sheets


def _written_errors(rows: Iterable[Sequence[str]]) -> dict[Position, str]:
    """Cells in which a spreadsheet wrote an error before it was saved as .csv."""
    return {
        (r, c): value.strip()
        for r, row in enumerate(rows, 1)
        for c, value in enumerate(row, 1)
        if value.startswith("#") and value.strip() in ERRORS
    }


def is_blank(value: Any) -> bool:
    """Tell whether a cell holds nothing."""
    return value is None or (isinstance(value, str) and not value.strip())


def shown(value: Any) -> str:
    """Return a value as text: 1.0 as 1, a date as 2026-03-31."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def place(sheet: str, row: int | None = None, column: int | None = None, name: str = "") -> str:
    """Return how a cell is named to people: sheet 'ports', row 7, column D (connector)."""
    text = f"sheet {sheet!r}"
    if row is not None:
        text += f", row {row}"
    if column is not None:
        text += f", column {column_letter(column)}"
    return f"{text} ({name})" if name else text


def wrong(
    sheet: str, row: int | None, column: int | None, name: str, what: str, remedy: str, table: str = ""
) -> CellProblem:
    """Return a problem at a cell, a row (column None) or a whole sheet (row None)."""
    where = place(sheet, row, column, name)
    return CellProblem(where, what, remedy, table, column=name, row=row, sheet=sheet, letter=column)
