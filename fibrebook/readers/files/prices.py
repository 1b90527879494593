"""The firm's prices: a list of two columns, work and the price of one unit of it."""

from __future__ import annotations

import math
from pathlib import Path

from fibrebook.errors import InputError, Problem
from fibrebook.readers.files.text_table import read_text_table


def read_prices(path: Path | str) -> dict[str, float]:
    """Read a .csv with the columns work and price: work -> price of one unit; a decimal comma is taken.

    Raises
    ------
    InputError : the file cannot be read, lacks a column, or holds a price that is no number, row by row
    """
    heading, *rows = read_text_table(Path(path))
    names = [name.strip().casefold() for name in heading]
    if not {"work", "price"} <= set(names):
        raise InputError(f"{path} must have the columns work and price; it has {', '.join(heading)[:80]!r}")
    work, price = names.index("work"), names.index("price")
    found: dict[str, float] = {}
    wrong = []
    for number, row in enumerate(rows, 2):
        cells = [*row, *[""] * (len(names) - len(row))]
        if not any(cell.strip() for cell in cells):
            continue
        value = _price(cells[price])
        if value is None:
            wrong.append(Problem(f"row {number}", f"{cells[price][:40]!r} is no price", "write a number like 4.50"))
        else:
            found[cells[work].strip()] = value
    if wrong:
        raise InputError(f"{len(wrong)} price(s) in {path} cannot be read", wrong)
    return found


def _price(text: str) -> float | None:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) and value >= 0 else None
