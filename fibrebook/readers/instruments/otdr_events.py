"""An OTDR's event table, saved as text by the instrument's own software or typed, read into records."""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.errors import InputError, Problem, place_in_words
from fibrebook.regular_files import read_regular

if TYPE_CHECKING:
    from fibrebook.register import Register

MOST_BYTES = 5_000_000  # of one event table, which has dozens of lines
BLANK = ("", "-", "--", "---", "n/a", "na")
METRES = {"m": 1.0, "km": 1000.0, "ft": 0.3048}  # the international foot
WHAT = (
    ("gain", "gainer"), ("splice", "splice"), ("fusion", "splice"), ("non-reflect", "splice"),
    ("connect", "connection"), ("reflect", "connection"), ("bend", "bend"), ("break", "break"), ("end", "end"),
    ("launch", "start"), ("start", "start"),
)  # fmt: skip
# What each column may be called: the first word of the heading, its unit in brackets or after an underscore.
HEADINGS: tuple[tuple[str, str], ...] = (
    (r"(event|no|nr|#|number)", "event"),
    (r"(distance|dist|location|loc|position)", "distance_m"),
    (r"(reflectance|refl|reflection)", "reflectance_db"),
    (r"(splice loss|event loss|loss)", "loss_db"),
    (r"(what|type|kind)", "what"),
    (r"(notes?|remarks?|comments?)", "notes"),
)


def read_events(path: str | os.PathLike[str], site: str, test: str) -> list[dict[str, Any]]:
    """Read one event table from a .csv or tab-separated text.

    Parameters
    ----------
    site, test : the test that the events belong to

    Returns
    -------
    rows for the table `events`: site, test, event, distance_m, loss_db, reflectance_db, what, notes. Columns are told
    by their headings (Distance (km), Loss (dB), Reflectance (dB), Type...); km and ft become metres; a decimal comma is
    read where semicolons or tabs part the cells; "---" is blank; a negative loss without a word for it is a gainer.

    Raises InputError that names the line of every cell that does not fit.
    """
    with place_in_words(f"the event table {Path(path).name} cannot be read"):
        lines = _lines(Path(path))
    head_at, names, metres = _header(lines, Path(path).name)
    rows: list[dict[str, Any]] = []
    problems: list[Problem] = []
    for number, cells in enumerate(lines[head_at + 1 :], head_at + 2):
        if not any(c.strip() for c in cells):
            continue
        row: dict[str, Any] = {"site": site, "test": test, "event": str(len(rows) + 1)}
        for column, text in zip(names, cells, strict=False):
            try:
                row |= _cell(column, text.strip(), metres)
            except ValueError:
                problems.append(Problem(f"{Path(path).name}, line {number}", f"{column} is {text!r}, not a number"))
        if row.get("what") is None and (row.get("loss_db") or 0) < 0:
            row["what"] = "gainer"
        rows.append(row)
    if problems:
        raise InputError(f"the event table {Path(path).name} cannot be read", problems)
    return rows


def bring_in_events(
    reg: Register, path: str | os.PathLike[str], site: str, test: str, by: str, why: str = "OTDR events"
) -> int:
    """Read an event table and put it into the register; return how many events it had."""
    rows = read_events(path, site, test)
    with reg.edit(by=by, why=why) as edit:
        edit.put("events", rows)
    return len(rows)


def _lines(path: Path) -> list[list[str]]:
    try:
        data = read_regular(path, MOST_BYTES)
    except OSError as error:
        raise InputError(f"the event table {path.name} cannot be read: {error.strerror or error}") from error
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    mark = max(";\t,", key=text.count)
    try:
        cells = list(csv.reader(text.splitlines(), delimiter=mark))
    except csv.Error as error:
        raise InputError(f"{path.name} is no event table: {error}") from error
    if mark != ",":
        cells = [[re.sub(r"(?<=\d),(?=\d)", ".", c) for c in row] for row in cells]
    return cells


def _header(lines: list[list[str]], name: str) -> tuple[int, list[str], float]:
    """Line of the heading, the column that each cell is, and metres in the unit of distance."""
    for at, cells in enumerate(lines):
        names = [_column(c) for c in cells]
        if "distance_m" in names and "loss_db" in names:
            heading = cells[names.index("distance_m")].casefold()
            unit = re.search(r"[\[(_ ](km|ft|m)[\])]?\s*$", heading)
            return at, names, METRES[unit.group(1)] if unit else 1.0
    raise InputError(f"{name} has no heading with a distance and a loss: name the columns Distance (m) and Loss (dB)")


def _column(heading: str) -> str:
    text = heading.strip().casefold()
    for pattern, column in HEADINGS:
        if re.match(pattern + r"(?![a-z])", text) or (text.startswith("#") and column == "event"):
            return column
    return ""


def _cell(column: str, text: str, metres: float) -> dict[str, Any]:
    if not column or text.casefold() in BLANK:
        return {}
    readers: dict[str, Callable[[str], Any]] = {
        "event": str, "notes": str, "what": _what, "distance_m": lambda t: float(t) * metres, "loss_db": float,
        "reflectance_db": float,
    }  # fmt: skip
    value = readers[column](text)
    if column == "what" and value is None:
        return {"notes": text}
    return {column: value}


def _what(text: str) -> str | None:
    low = text.casefold()
    return next((word for mark, word in WHAT if mark in low), None)
