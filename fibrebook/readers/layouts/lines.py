"""From sheets to lines: where the table stands in each sheet, and each line's fields by name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from fibrebook.errors import Problem
from fibrebook.readers.files.limits import column_number
from fibrebook.readers.files.sheets import Sheet, is_blank, wrong
from fibrebook.readers.layouts.layout import Field, Layout, Template, matches, normalised
from fibrebook.readers.layouts.values import UnreadableError, read_value


@dataclass
class ListLine:
    """One line of a firm's table: its fields, and the cell that each came from (row, column)."""

    sheet: str
    row: int
    values: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, tuple[int, int]] = field(default_factory=dict)


@dataclass
class Lines:
    """All lines of a file, and what was wrong or worth saying on the way."""

    lines: list[ListLine] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    skipped: list[tuple[str, str]] = field(default_factory=list)


def read_lines(sheets: Sequence[Sheet], layout: Layout, file: str) -> Lines:
    """Read every sheet that the layout names."""
    out = Lines()
    counters: dict[tuple[str, tuple[Any, ...]], int] = {}
    chosen = [s for s in sheets if _wanted(s, layout)]
    out.skipped += [(s.name, "the layout leaves it out") for s in sheets if s not in chosen]
    if not chosen:
        names = ", ".join(repr(s.name) for s in sheets)
        out.problems.append(Problem(file, "the layout chooses none of the sheets", f"the file has: {names}"))
    for sheet in chosen:
        _SheetReader(sheet, layout, file, out, counters).read()
    return out


def row_with(sheet: Sheet, words: Sequence[str]) -> int | None:
    """Return the number of the first row in which each of the words stands in a cell of its own."""
    for row in range(1, len(sheet.rows) + 1):
        texts = [normalised(v) for v in sheet.rows[row - 1] if not is_blank(v)]
        if all(any(matches(word, t) for t in texts) for word in words):
            return row
    return None


def headings_of(sheet: Sheet, first: int, header_rows: int) -> dict[int, str]:
    """Return column number -> heading; of several header rows the upper ones run on to the right."""
    rows = range(first, first + header_rows)
    width = max((len(sheet.rows[r - 1]) for r in rows if r <= len(sheet.rows)), default=0)
    parts: dict[int, list[str]] = {c: [] for c in range(1, width + 1)}
    for row in rows:
        running = ""
        for column in range(1, width + 1):
            value = sheet.cell(row, column)
            text = "" if is_blank(value) else normalised(value)
            if row < rows[-1]:
                running = text or running
                text = running
            if text and text not in parts[column]:
                parts[column].append(text)
    return {c: " / ".join(p) for c, p in parts.items() if p}


def _wanted(sheet: Sheet, layout: Layout) -> bool:
    if sheet.hidden and not layout.hidden:
        return False
    if layout.only and not any(matches(p, sheet.name) for p in layout.only):
        return False
    return not any(matches(p, sheet.name) for p in layout.without)


class _SheetReader:
    """Reads one sheet's lines."""

    def __init__(
        self, sheet: Sheet, layout: Layout, file: str, out: Lines, counters: dict[tuple[str, tuple[Any, ...]], int]
    ) -> None:
        self._sheet, self._layout, self._file, self._out, self._counters = sheet, layout, file, out, counters
        self._merged = _merged_homes(sheet) if layout.fill_merged else {}
        self._told: set[tuple[int, int, str]] = set()
        self._last: dict[str, tuple[Any, tuple[int, int]]] = {}

    def read(self) -> None:
        """Add the sheet's lines to what is read so far."""
        first = self._header_row()
        if first is None:
            return
        headings = headings_of(self._sheet, first, self._layout.header_rows)
        columns = self._columns(headings, first)
        sought = {f.name: self._title(f) for f in self._layout.fields.values() if f.source in _TITLES}
        titles = {n: at for n, at in sought.items() if at is not None}
        if columns is None or len(titles) < len(sought):
            return
        for row in self._table_rows(first + self._layout.header_rows, headings):
            self._out.lines.append(self._line(row, {**columns, **titles}))

    def _value(self, row: int, column: int) -> Any:
        return self._sheet.cell(*self._home(row, column))

    def _home(self, row: int, column: int) -> tuple[int, int]:
        """Return the cell that holds what a cell shows: of a merged one the first."""
        return self._merged.get((row, column), (row, column))

    def _header_row(self) -> int | None:
        if self._layout.header_row is not None:
            return self._layout.header_row
        row = row_with(self._sheet, self._layout.header_has)
        if row is not None:
            return row
        words = ", ".join(repr(w) for w in self._layout.header_has)
        remedy = "mend header_has, or leave the sheet out by 'except'"
        self._bad(None, None, "", f"no row holds the words {words}", remedy)
        return None

    def _columns(self, headings: dict[int, str], first: int) -> dict[str, tuple[int, int]] | None:
        """Return where each field of the table stands, (0, column); None where one is missing."""
        found: dict[str, tuple[int, int]] = {}
        missing = False
        for f in self._layout.fields.values():
            if f.source == "letter":
                found[f.name] = (0, column_number(f.at.upper()))
            elif f.source == "heading":
                hits = [c for c, h in headings.items() if any(matches(p, h) for p in f.at)]
                if len(hits) >= f.nth:
                    found[f.name] = (0, hits[f.nth - 1])
                elif not f.optional:
                    missing = True
                    which = f" a {f.nth}. time" if f.nth > 1 else ""
                    what = f"no column is headed {' or '.join(repr(h) for h in f.at)}{which} (field {f.name!r})"
                    seen = ", ".join(repr(h) for h in headings.values())
                    self._bad(first, None, "", what, f"headings there: {seen}" if seen else "the header row is blank")
        return None if missing else found

    def _title(self, f: Field) -> tuple[int, int] | None:
        """Return the cell outside the table that a field stands in; (0, 0) = nowhere, None = missing and needed."""
        if f.source == "cell":
            letters = f.at.rstrip("0123456789")
            return int(f.at[len(letters) :]), column_number(letters.upper())
        for row in range(1, len(self._sheet.rows) + 1):
            for column in range(1, len(self._sheet.rows[row - 1]) + 1):
                value = self._sheet.cell(row, column)
                if is_blank(value) or not any(matches(p, value) for p in f.at):
                    continue
                return (row + 1, column) if f.source == "below" else self._next_right(row, column)
        if f.optional:
            return 0, 0
        self._bad(None, None, "", f"no cell holds {' or '.join(map(repr, f.at))} (field {f.name!r})", "mend the layout")
        return None

    def _next_right(self, row: int, column: int) -> tuple[int, int]:
        """Return the next cell to the right that holds something, past the rest of a merged cell."""
        for right in range(column + 1, len(self._sheet.rows[row - 1]) + 1):
            if not is_blank(self._sheet.cell(row, right)):
                return row, right
        return row, column + 1

    def _table_rows(self, first: int, headings: dict[int, str]) -> Iterator[int]:
        """Give the rows of the table: no blank ones, no repeated headers, none from where it ends."""
        blank_rows = 0
        for row in range(first, len(self._sheet.rows) + 1):
            cells = self._sheet.rows[row - 1]
            filled = [(c, v) for c, v in enumerate(cells, 1) if not is_blank(v)]
            if not filled:
                blank_rows += 1
                if blank_rows == self._layout.ends_after_blank_rows:
                    return
                continue
            blank_rows = 0
            if any(matches(p, filled[0][1]) for p in self._layout.ends_at):
                return
            again = len(filled) > 1 and all(headings.get(c) == normalised(v) for c, v in filled)
            if again and self._layout.header_rows == 1:
                self._out.notes.append(f"sheet {self._sheet.name!r}, row {row}: the header again, passed over")
                continue
            yield row

    def _line(self, row: int, places: dict[str, tuple[int, int]]) -> ListLine:
        line = ListLine(self._sheet.name, row, {"sheet": self._sheet.name, "file": self._file})
        fields = self._layout.fields.values()
        for f in fields:
            if f.source == "constant":
                self._take(line, f, f.at, None)
            elif f.name in places and places[f.name] != (0, 0):
                at = (places[f.name][0] or row, places[f.name][1])
                value = self._value(*at)
                value, at = self._filled_down(f, value, self._home(*at) if is_blank(value) else at)
                self._take(line, f, value, at)
        for f in fields:
            if f.source == "of":
                self._take(line, f, line.values.get(f.at), line.cells.get(f.at))
            elif f.source == "made_of":
                template: Template = f.at
                cells = [line.cells[n] for n in template.fields if n in line.cells]
                self._take(line, f, template.fill(line.values), cells[0] if cells else None)
            elif f.source == "number_within":
                self._take(line, f, self._number(f, line), None)
        return line

    def _filled_down(self, f: Field, value: Any, at: tuple[int, int]) -> tuple[Any, tuple[int, int]]:
        if not f.fill_down:
            return value, at
        if is_blank(value) and f.name in self._last:
            return self._last[f.name]
        self._last[f.name] = (value, at)  # where even the first is blank, it is that one that has to be filled
        return value, at

    def _number(self, f: Field, line: ListLine) -> int | None:
        """Return which line with these values this is, from 1."""
        values = tuple(line.values.get(n) for n in f.at)
        if any(v is None for v in values):
            return None
        key = (f.name, values)
        self._counters[key] = self._counters.get(key, 0) + 1
        return self._counters[key]

    def _take(self, line: ListLine, f: Field, value: Any, at: tuple[int, int] | None) -> None:
        """Read one value into the line, then the groups that its pattern makes."""
        if at is not None and at in self._sheet.faults:
            self._bad(*at, f.name, f"holds {self._sheet.faults[at]}", "write the value itself")
            return
        try:
            found, groups = read_value(f, value, self._layout.blank)
        except UnreadableError as error:
            row, column = at or (line.row, None)
            self._bad(row, column, f.name, error.what, error.remedy)
            found, groups = None, {}
        line.values[f.name] = found
        if at is not None:
            line.cells[f.name] = at
        for name in f.groups:
            if name != f.name:
                own = self._layout.fields.get(name)
                self._take(line, own if own and not own.source else Field(name), groups.get(name), at)

    def _bad(self, row: int | None, column: int | None, name: str, what: str, remedy: str) -> None:
        """Note a problem once, however many lines meet it (a title cell is read for every line)."""
        key = (row or 0, column or 0, name + what)
        if key not in self._told:
            self._told.add(key)
            self._out.problems.append(wrong(self._sheet.name, row, column, name, what, remedy))


_TITLES = ("cell", "right_of", "below")


def _merged_homes(sheet: Sheet) -> dict[tuple[int, int], tuple[int, int]]:
    """For every row of its first column that a merged cell covers, its first cell."""
    found = {}
    for (top, left), (bottom, _) in sheet.merged:
        for row in range(top + 1, min(bottom, len(sheet.rows)) + 1):
            found[row, left] = (top, left)
    return found
