"""A sheet's texts as a table's lines and fields, whichever way it lies; merged cells count for all that they cover."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from fibrebook.readers.files.limits import Position
from fibrebook.readers.found.found_sheet import FoundSheet, text_shown


@dataclass
class Grid:
    """The texts of a sheet.

    Attributes
    ----------
    texts : cell (row, column from 1) -> its text, only where not blank
    home : cell covered by a merged one -> the cell whose text counts for it
    """

    sheet: FoundSheet
    texts: dict[Position, str]
    home: dict[Position, Position] = field(default_factory=dict)

    @classmethod
    def of(cls, sheet: FoundSheet) -> Grid:
        """Take a sheet's texts."""
        texts = {}
        formats = {at: look.number_format for at, look in sheet.looks.items() if look.number_format}
        seen: dict[str, str] = {}  # one object for each text however often it stands on the sheet
        for r, c, value in sheet.cells():
            text = seen.get(value) if type(value) is str else None
            if text is None:
                text = text_shown(value, formats.get((r, c), "") if formats else "")
                text = seen.setdefault(text, text)
                if type(value) is str:
                    seen[value] = text
            if text:
                texts[r, c] = text
        for at, fault in sheet.faults.items():
            texts.setdefault(at, fault)
        grid = cls(sheet, texts)
        last_row = max((r for r, _ in texts), default=0)
        last_column = max((c for _, c in texts), default=0)
        for (r0, c0), (r1, c1) in sheet.merged:
            for r in range(r0, min(r1, last_row) + 1):
                for c in range(c0, min(c1, last_column) + 1):
                    if (r, c) != (r0, c0) and (r, c) not in texts and (r0, c0) in texts:
                        grid.home[r, c] = (r0, c0)
        return grid

    @cached_property
    def by_row(self) -> dict[int, list[int]]:
        """Row -> columns in which something stands, rising."""
        found: dict[int, list[int]] = {}
        # texts come row by row, but for cells that hold an error
        for r, c in sorted(self.texts) if self.sheet.faults else self.texts:
            found.setdefault(r, []).append(c)
        return found

    @cached_property
    def wide(self) -> dict[Position, int]:
        """Merged cell -> how many columns it covers."""
        return {a: b[1] - a[1] + 1 for a, b in self.sheet.merged}

    def text(self, at: Position) -> str:
        """Return a cell's text; of a covered cell the one that covers it."""
        return self.texts.get(at) or self.texts.get(self.home.get(at, at), "")

    def origin(self, at: Position) -> Position:
        """Return the cell in which the text that counts for a cell stands."""
        return at if at in self.texts else self.home.get(at, at)
