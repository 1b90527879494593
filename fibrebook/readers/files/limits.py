"""How large a file may be that is brought in, and how columns are lettered."""

from __future__ import annotations

from fibrebook.errors import InputError

MOST_BYTES = 400_000_000  # of all parts together once expanded; a register of 100,000 cores stays well below
MOST_CELLS = 5_000_000  # of the rectangle from A1 to the last cell that holds something, all sheets together
MOST_PARTS = 5_000
MOST_COLUMNS = 16_384  # no spreadsheet has more
MOST_TEXT = 250_000_000  # characters of all cells together, each counted where it stands
LONGEST_LINE = 5_000_000  # characters of one line of a .csv
MOST_LEADING = 20_000_000  # bytes of a workbook's list of sheets, and of the like
ERRORS = ("#REF!", "#N/A", "#VALUE!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")

Position = tuple[int, int]  # row and column of a cell, from 1


def column_number(letters: str) -> int:
    """Return 1 for A, 27 for AA."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def column_letter(number: int) -> str:
    """Return A for 1, AA for 27."""
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def too_large(what: str) -> InputError:
    """Return the one error for a file beyond the limits."""
    return InputError(
        f"{what} is too large to bring in: at most {MOST_BYTES // 1_000_000} MB expanded and {MOST_CELLS:,} cells "
        f"from A1 to the last cell in use; delete what stands far below or beside the tables, or split it"
    )
