"""A .csv as rows of cells, taken line by line, so that no line, cell or file of any size fills the memory."""

from __future__ import annotations

import csv
import io
import itertools
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fibrebook.errors import InputError, NotFoundError
from fibrebook.readers.files.limits import LONGEST_LINE, MOST_BYTES, MOST_CELLS, MOST_COLUMNS, too_large
from fibrebook.regular_files import open_regular

SEPARATORS = ",;\t"
BLANK = " \r\n\t\ufeff"


def read_text_table(path: Path, encoding: str = "", delimiter: str = "", room: int = MOST_CELLS) -> list[list[str]]:
    """Return the rows of one .csv.

    Parameters
    ----------
    encoding, delimiter : blank = UTF-8 and whichever of comma, semicolon or tab splits the first line
    room : cells that it may have; a blank line counts as one

    Raises
    ------
    InputError : it is no file, empty, no text in that encoding, no proper .csv, or too large
    """
    with _opened(path, encoding) as text:
        lines = _lines(path.name, text)
        before, first = _first(path.name, lines, room)
        reader = csv.reader(itertools.chain(before, [first], lines), delimiter=delimiter or sniff(first), strict=True)
        rows: list[list[str]] = []
        cells = 0
        try:
            for row in reader:
                rows.append(row)
                cells += max(len(row), 1)
                if len(row) > MOST_COLUMNS:
                    raise InputError(
                        f"{path.name}, line {reader.line_num}: a row of {len(row):,} cells is no row of a table"
                    )
                if cells > room:
                    raise too_large(path.name)
        except csv.Error as error:
            what = f"{path.name}, line {reader.line_num}: {error}"
            raise InputError(f"{what}; look at the quotation marks there") from error
        return rows


def first_line(path: Path, encoding: str = "") -> str:
    """Return the first line of a text that is not blank; InputError as `read_text_table`."""
    with _opened(path, encoding) as text:
        return _first(path.name, _lines(path.name, text), MOST_CELLS)[1]


@contextmanager
def _opened(path: Path, encoding: str) -> Iterator[io.TextIOWrapper]:
    try:
        with open_regular(path) as file:
            if os.fstat(file.fileno()).st_size > MOST_BYTES:
                raise too_large(path.name)
            with io.TextIOWrapper(file, encoding or "utf-8-sig", newline="") as text:
                yield text
    except (ValueError, LookupError) as error:  # not in it, or no encoding at all
        raise InputError(
            f"{path.name} is not in {encoding or 'UTF-8'}; save it as UTF-8, or name its encoding in a layout"
        ) from error
    except FileNotFoundError as error:
        raise NotFoundError(f"there is no file {str(path)!r}; look at its name and folder") from error
    except OSError as error:
        raise InputError(f"{path.name} cannot be read: {error.strerror or error}") from error
    except MemoryError as error:
        raise too_large(path.name) from error


def _first(name: str, lines: Iterator[str], room: int) -> tuple[list[str], str]:
    """Return the blank lines at the beginning and the first that is not; `lines` goes on after it."""
    before: list[str] = []
    for line in lines:
        if line.strip(BLANK):
            return before, line
        before.append(line)
        if len(before) > room:
            raise too_large(name)
    raise InputError(f"{name} is empty; save it again")


def _lines(name: str, text: io.TextIOWrapper) -> Iterator[str]:
    """Give the lines of a text, none longer than a line may be."""
    for number in itertools.count(1):
        line = text.readline(LONGEST_LINE + 1)
        if not line:
            return
        if len(line) > LONGEST_LINE:
            raise InputError(
                f"{name}, line {number}: a line of more than {LONGEST_LINE:,} characters is no row of a table; look at "
                "how it was saved"
            )
        if "\0" in line:
            raise InputError(f"{name} holds bytes that no text has; save it again as .csv in UTF-8")
        yield line


def sniff(line: str) -> str:
    """Return whichever of comma, semicolon and tab splits a line into the most cells."""
    return max(SEPARATORS, key=lambda s: _cells(line, s))


def _cells(line: str, separator: str) -> int:
    try:
        return len(next(csv.reader([line], delimiter=separator), []))
    except csv.Error:  # by this separator it is one endless cell
        return 0
