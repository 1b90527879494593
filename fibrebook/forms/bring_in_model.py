"""Bringing in a file, without any widget: how it is read, what would come of it, conflicts, the commit."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError, InputError
from fibrebook.workbook.bring import bring_in
from fibrebook.workbook.guess import GUESSED, OWN, SHIPPED, UNKNOWN, Guess, guess_layout, respell, shipped_layouts
from fibrebook.workbook.report import Report

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

AS_OWN, AS_GUESSED = "our own columns", "guessed from its headings"
KINDS_OF_FILE = (".xlsx", ".ods", ".csv")
TRY = "a look before bringing in"


class BringingIn:
    """One file on its way into a register.

    Attributes
    ----------
    guess : how it is read; None until a file is chosen
    report : what would come of it, after `look`
    """

    def __init__(self, reg: Register) -> None:
        self.reg = reg
        self.guess: Guess | None = None
        self.report: Report | None = None
        self._layouts = shipped_layouts()

    def choose(self, path: str | os.PathLike[str]) -> Guess:
        """Choose a file and guess how it is to be read."""
        if not str(path).strip():
            raise InputError("no file is chosen: type its path, choose it from the list, or upload it")
        self.report = None
        self.guess = None
        self.guess = guess_layout(Path(path).expanduser(), self._layouts)
        return self.guess

    @property
    def ways(self) -> list[str]:
        """Ways to read a file, as a drop-down shows them."""
        return [AS_OWN, AS_GUESSED, *(f"layout {p.name}" for p in self._layouts)]

    @property
    def way(self) -> str:
        """The way it is read now."""
        guess = self._chosen()
        if guess.how == OWN:
            return AS_OWN
        return f"layout {guess.layout_path.name}" if guess.how == SHIPPED and guess.layout_path else AS_GUESSED

    def read_as(self, way: str) -> None:
        """Read the file another way."""
        path, site = self._chosen().path, self._chosen().site
        if way == AS_OWN:
            self.guess = Guess(path, OWN, says=["read with our own columns, as chosen"])
        elif way == AS_GUESSED:
            self.guess = guess_layout(path, [])
            if self.guess.how == OWN:  # asked to guess a file that has our own columns: its first row is the header
                self.guess = guess_layout(path, [], header_row=1)
        else:
            named = next((p for p in self._layouts if f"layout {p.name}" == way), None)
            if named is None:
                raise InputError(f"there is no way of reading {way!r}")
            self.guess = Guess(path, SHIPPED, named, says=[f"read as the layout {named.name} says, as chosen"])
        self.guess.site = site

    @property
    def can_be_corrected(self) -> bool:
        """Whether columns are guessed and may be corrected one by one."""
        return self.guess is not None and self.guess.how in (GUESSED, UNKNOWN)

    def header_at(self, row: int) -> None:
        """Take another row for the header."""
        site = self._chosen().site
        self.guess = guess_layout(self._chosen().path, [], header_row=row)
        self.guess.site = site

    def mean(self, letter: str, meaning: str) -> None:
        """Say what a column means; a column that meant the same before means nothing now."""
        guess = self._chosen()
        for column in guess.columns:
            if column.letter == letter:
                column.meaning = meaning
            elif meaning and column.meaning == meaning:
                column.meaning = ""
        guess.cable_is_sheet = "cable" not in guess.meant
        respell(guess)

    def spell(self, meaning: str, written: str, read: str) -> None:
        """Say how a spelling is to be read."""
        self._chosen().spellings.setdefault(meaning, {})[written] = read

    def look(self) -> Report:
        """Return what would come of the file as it is read now; nothing is stored."""
        guess = self._chosen()
        self.report = None
        self.report = bring_in(self.reg, guess.path, by=TRY, why=TRY, dry_run=True, layout=guess.layout())
        return self.report

    def commit(self, by: str, why: str) -> int | None:
        """Bring it in as one commit; return its number, None where nothing was to change.

        Raises
        ------
        BringInError : something is wrong; every cell is named
        ConflictError : others changed the same cells since the file was taken; the edit waits for a decision
        """
        guess = self._chosen()
        reason = why.strip() or f"brought in {guess.path.name}"
        self.report = bring_in(self.reg, guess.path, by=by, why=reason, layout=guess.layout())
        return self.report.commit

    def _chosen(self) -> Guess:
        if self.guess is None:
            raise InputError("choose a file first")
        return self.guess


def files_in(folder: Path) -> list[str]:
    """Spreadsheets in a folder and the folders just below it, as paths from there."""
    found: list[str] = []
    try:
        for path in sorted(folder.iterdir()):
            if path.name.startswith((".", "~$")):
                continue
            if path.is_dir():
                found += [
                    f"{path.name}/{p.name}" for p in sorted(path.iterdir()) if p.suffix.casefold() in KINDS_OF_FILE
                ]
            elif path.suffix.casefold() in KINDS_OF_FILE:
                found.append(path.name)
    except OSError:  # a folder that may not be read has no files to offer
        return found
    return found[:500]


def fates(report: Report) -> pd.DataFrame:
    """Every row's fate for people: those with something to say first."""
    frame: pd.DataFrame = report.rows
    order = {"refused": 0, "changed": 1, "removed": 2, "added": 3, "skipped": 4, "unchanged": 5}
    ranked = frame.assign(rank=frame["fate"].map(order).fillna(6)).sort_values("rank", kind="stable")
    return ranked.drop(columns="rank").reset_index(drop=True)


def words_of(error: FibrebookError) -> str:
    """Say what is wrong: the first line of the error; its single faults stand in the table below."""
    return str(error).splitlines()[0]
