"""A first guess at how a firm's own list is to be read: its header row, what its columns mean, how it is spelt."""

from __future__ import annotations

import os
import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

from fibrebook.errors import FibrebookError, InputError
from fibrebook.plugins import gathered_files
from fibrebook.readers.files.about_sheet import ABOUT
from fibrebook.readers.files.limits import column_letter, column_number
from fibrebook.readers.files.sheets import Sheet, is_blank, read_sheets
from fibrebook.readers.files.text_table import first_line
from fibrebook.readers.guess.as_layout import layout_of
from fibrebook.readers.guess.header import Header, header_at, header_of, text_of
from fibrebook.readers.guess.headings import fibre_class_of, guessed_class
from fibrebook.readers.guess.what_it_holds import GuessData, GuessedColumn
from fibrebook.readers.layouts.layout import Layout, normalised
from fibrebook.records import KINDS

OWN, SHIPPED, GUESSED, UNKNOWN = "own columns", "a layout", "guessed", "unknown"
EXAMPLES = 4
SPELT = ("site", "cable", "a_enclosure", "b_enclosure", "fibre_class")
ENCODINGS = ("", "cp1252")


class Guess(GuessData):
    """A guess that tells how `bring_in` is to read the file."""

    def layout(self) -> Layout | Path | None:
        """Return what `bring_in` is to be given as `layout`; None where the file has our own columns."""
        if self.how == OWN:
            return None
        return self.layout_path if self.how == SHIPPED and self.layout_path else layout_of(self)


def guess_layout(
    path: str | os.PathLike[str],
    layouts: Sequence[str | os.PathLike[str]] | None = None,
    header_row: int | None = None,
) -> Guess:
    """Look at a file and guess how it is to be read.

    Parameters
    ----------
    path : .xlsx, .ods, .csv or a folder of .csv
    layouts : layout files to try first; None = those that plugins bring and those shipped beside the old lists
    header_row : the row that is to be taken for the header; nothing else is tried then

    Raises
    ------
    NotFoundError : no such file
    InputError : not a spreadsheet
    """
    source = Path(path)
    encoding, delimiter, sheets = _read(source)
    if header_row is not None:
        return _guessed(source, sheets, encoding, delimiter, header_row)
    if _is_own(source, sheets):
        return Guess(source, OWN, says=["its sheets and headings are the register's own"])
    fits = _fitting(source, shipped_layouts() if layouts is None else [Path(p) for p in layouts])
    if fits:
        return Guess(source, SHIPPED, fits, says=[f"the layout {fits.name} reads every line of it"])
    return _guessed(source, sheets, encoding, delimiter)


def shipped_layouts() -> list[Path]:
    """Layouts that plugins bring, then those shipped beside the example lists."""
    from fibrebook.resources import shipped

    theirs = gathered_files("layout_files")
    try:
        ours = sorted((shipped("data") / "old_lists").glob("*.toml"))
    except FibrebookError:
        ours = []
    return [*theirs, *ours]


def _read(source: Path) -> tuple[str, str, list[Sheet]]:
    if source.suffix.casefold() != ".csv":
        return "", "", read_sheets(source)
    failed: InputError | None = None
    for encoding in ENCODINGS:
        try:
            first = first_line(source, encoding)
        except InputError as error:
            failed = failed or error
            continue
        delimiter = max(";\t,", key=first.count)
        try:
            return encoding, delimiter, read_sheets(source, encoding, delimiter)
        except InputError as error:
            failed = error
    assert failed is not None
    raise failed


def _is_own(source: Path, sheets: Sequence[Sheet]) -> bool:
    names = [s.name.strip().casefold() for s in sheets]
    if ABOUT in names:
        return True
    known = [s for s in sheets if s.name.strip().casefold() in KINDS]
    headed = [
        s
        for s in known
        if s.rows and set(KINDS[s.name.strip().casefold()].own_key) <= {normalised(v) for v in s.rows[0]}
    ]
    return bool(headed) and len(headed) == len(known)


def _fitting(source: Path, layouts: Sequence[Path]) -> Path | None:
    from fibrebook.readers.layouts.apply import read_with_layout

    for layout in layouts:
        try:
            reading = read_with_layout(source, layout)
        except FibrebookError:
            continue
        if not reading.problems and any(reading.tables.values()):
            return layout
    return None


def _guessed(
    source: Path, sheets: Sequence[Sheet], encoding: str, delimiter: str, header_row: int | None = None
) -> Guess:
    found: dict[str, Header] = {}
    for sheet in sheets:
        header = header_of(sheet) if header_row is None else header_at(sheet, header_row)
        if header and not sheet.hidden:
            found[sheet.name] = header
    if not found:
        says = ["no row was found that looks like a header: say what each column is, or write a layout (LAYOUTS.md)"]
        return Guess(source, UNKNOWN, encoding=encoding, delimiter=delimiter, says=says)
    best = max(found.values(), key=lambda h: h.score)
    alike = [normalised(h) for h in best.headings]
    same = {n: h for n, h in found.items() if h.rows == best.rows and [normalised(t) for t in h.headings] == alike}
    chosen = [s for s in sheets if s.name in same]
    guess = Guess(source, GUESSED, encoding=encoding, delimiter=delimiter, header_rows=best.rows)
    guess.header_row = {name: h.row for name, h in same.items()}
    guess.left_out = [s.name for s in sheets if s.name not in same and not s.hidden]
    values = _values(chosen, guess.header_row, len(best.headings))
    guess.columns = [
        GuessedColumn(column_letter(i + 1), text, meaning, list(dict.fromkeys(values[i]))[:EXAMPLES])
        for i, (text, meaning) in enumerate(zip(best.headings, best.meant, strict=True))
        if text
    ]
    guess.says.append(
        f"row {best.row} heads the table; {len(guess.meant)} of {len(guess.columns)} columns are known by heading"
    )
    guess.notes_below = all(_unbroken(s, guess) for s in chosen)
    if "cable" not in guess.meant:
        guess.cable_is_sheet = True
        guess.says.append("no column names the cable: the sheet's name is taken for it")
    respell(guess, sheets)
    guess.says += filter(None, map(guessed_class, guess.spellings.get("fibre_class", ())))
    return guess


def _unbroken(sheet: Sheet, guess: Guess) -> bool:
    """Whether the lines with a core number follow one another without a blank row: what stands below is notes."""
    column = next((i for i, c in enumerate(guess.columns) if c.meaning == "core"), None)
    if column is None:
        return False
    at = column_number(guess.columns[column].letter) - 1
    rows = sheet.rows[guess.header_row[sheet.name] :]
    numbered = [i for i, row in enumerate(rows) if at < len(row) and re.fullmatch(r"\d+", text_of(row[at]))]
    return bool(numbered) and not any(all(map(is_blank, row)) for row in rows[: numbered[-1]])


def respell(guess: Guess, sheets: Sequence[Sheet] | None = None) -> None:
    """Work out again how values are spelt, after what the columns mean was changed."""
    sheets = sheets if sheets is not None else _read(guess.path)[2]
    chosen = [s for s in sheets if s.name in guess.header_row]
    width = max((len(s.rows[guess.header_row[s.name] - 1]) for s in chosen), default=0)
    values = dict(zip(map(column_letter, range(1, width + 1)), _values(chosen, guess.header_row, width), strict=True))
    guess.spellings, guess.fill_down = {}, set()
    lines = max((len(v) for v in values.values()), default=0)
    for meaning, column in guess.meant.items():
        there = values.get(column.letter, [])
        if meaning == "fibre_class":
            guess.spellings[meaning] = {v: fibre_class_of(v) for v in dict.fromkeys(there)}
        elif meaning in SPELT:
            guess.spellings[meaning] = one_spelling(there)
        if meaning in ("site", "cable", "a_enclosure", "b_enclosure") and 0 < len(there) < lines / 2:
            guess.fill_down.add(meaning)  # written once, meant for the lines below too
        if meaning == "length_m":
            guess.decimal = "," if any(re.search(r",\d{1,2}$", v) for v in there) else "."


def one_spelling(values: Sequence[str]) -> dict[str, str]:
    """Spellings that differ only in case, blanks and hyphens, each with the one used most; {} where all agree."""
    groups: dict[str, Counter[str]] = defaultdict(Counter)
    for value in values:
        groups[re.sub(r"[\s_-]+", "", value).casefold()][value] += 1
    return {v: max(g, key=lambda s: (g[s], s)) for g in groups.values() if len(g) > 1 for v in g}


def _values(sheets: Sequence[Sheet], header_row: Mapping[str, int], width: int) -> list[list[str]]:
    """Texts that stand in each column under the headers, blanks left out."""
    found: list[list[str]] = [[] for _ in range(width)]
    for sheet in sheets:
        for row in sheet.rows[header_row[sheet.name] :]:
            for i, value in enumerate(row[:width]):
                if not is_blank(value):
                    found[i].append(text_of(value))
    return found
