"""What a guess at a list holds: its header row, what its columns mean, how its values are spelt."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class GuessedColumn:
    """One column of the list: where it stands, what heads it, what it is taken for, a few of its values."""

    letter: str
    heading: str
    meaning: str
    examples: list[str] = field(default_factory=list)


@dataclass
class GuessData:
    """How a file is to be read, to be looked at and corrected before anything is brought in.

    Attributes
    ----------
    how : "own columns" (a workbook as we send it out), "a layout" (one that is shipped fits), "guessed", "unknown"
    layout_path : the layout that fits, where how is "a layout"
    header_row : of each sheet that is read; columns : of the first of them
    header_row is the lowest of header_rows rows; notes_below : a blank row ends the table
    left_out : sheets, not hidden, that are not read
    site : the site of every line, where no column says it
    spellings : meaning -> spelling as it stands -> as it is to be read
    says : why it is guessed so, one line each
    """

    path: Path
    how: str
    layout_path: Path | None = None
    header_row: dict[str, int] = field(default_factory=dict)
    columns: list[GuessedColumn] = field(default_factory=list)
    site: str = ""
    cable_is_sheet: bool = False
    header_rows: int = 1
    notes_below: bool = False
    left_out: list[str] = field(default_factory=list)
    spellings: dict[str, dict[str, str]] = field(default_factory=dict)
    fill_down: set[str] = field(default_factory=set)
    encoding: str = ""
    delimiter: str = ""
    decimal: str = "."
    says: list[str] = field(default_factory=list)

    @property
    def meant(self) -> dict[str, GuessedColumn]:
        """Columns by what they mean."""
        return {c.meaning: c for c in self.columns if c.meaning}
