"""Bringing in a file, without any widget: how it is read, what would come of it, conflicts, the commit."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError, InputError
from fibrebook.readers.bring_in.bring_in import bring_in
from fibrebook.readers.files.report import Report
from fibrebook.readers.guess.guess import GUESSED, OWN, SHIPPED, UNKNOWN, Guess, guess_layout, respell, shipped_layouts
from fibrebook.readers.guess.kept_layouts import keep_layout, kept_layouts, layouts_folder
from fibrebook.readers.layouts.file import read_layout
from fibrebook.readers.layouts.layout import Layout

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
    folder : where the firm's own layouts lie, see `layouts_folder`
    """

    def __init__(self, reg: Register) -> None:
        self.reg = reg
        self.guess: Guess | None = None
        self.report: Report | None = None
        self.folder = layouts_folder(reg.where)
        self._layouts: dict[str, Path] = {}
        self._one_site: Layout | None = None  # the layout it is read by, where that says one site for every line

    def choose(self, path: str | os.PathLike[str]) -> Guess:
        """Choose a file and guess how it is to be read."""
        if not str(path).strip():
            raise InputError("no file is chosen: type its path, choose it from the list, or upload it")
        self.report = None
        self.guess = None
        self._layouts = self._offered()
        self.guess = guess_layout(Path(path).expanduser(), list(self._layouts.values()))
        self._look_for_site()
        return self.guess

    def _offered(self) -> dict[str, Path]:
        """Layouts by the words that a drop-down shows: the firm's own, plugins', shipped ones."""
        found: dict[str, Path] = {}
        for path in [*kept_layouts(self.folder), *shipped_layouts()]:
            words = f"layout {path.name}"
            found.setdefault(words if words not in found else f"{words} in {path.parent.name}", path)
        return found

    @property
    def ways(self) -> list[str]:
        """Ways to read a file, as a drop-down shows them."""
        return [AS_OWN, AS_GUESSED, *self._layouts]

    @property
    def way(self) -> str:
        """The way it is read now."""
        guess = self._chosen()
        if guess.how == OWN:
            return AS_OWN
        return next((words for words, path in self._layouts.items() if path == guess.layout_path), AS_GUESSED)

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
            named = self._layouts.get(way)
            if named is None:
                raise InputError(f"there is no way of reading {way!r}")
            self.guess = Guess(path, SHIPPED, named, says=[f"read as the layout {named.name} says, as chosen"])
        self.guess.site = site
        self._look_for_site()

    def _look_for_site(self) -> None:
        """Where a layout says one site for every line: say so, and let it be another."""
        guess, self._one_site = self._chosen(), None
        if guess.how != SHIPPED or guess.layout_path is None:
            return
        try:
            layout = read_layout(guess.layout_path)
        except FibrebookError:
            return  # told when it is read by
        site = layout.fields.get("site")
        if site is not None and site.source == "constant":
            self._one_site, guess.site = layout, str(site.at)
            guess.says.append(f"it says that every line is of the site {guess.site}: correct that if this list is not")

    @property
    def can_say_site(self) -> bool:
        """Whether one site holds for every line, and may be said."""
        if self.can_be_corrected:
            return "site" not in self._chosen().meant
        return self._one_site is not None

    def _how(self) -> Layout | Path | None:
        """How the file is read, as `bring_in` takes it."""
        guess, layout = self._chosen(), self._one_site
        if layout is None:
            return guess.layout()
        if not guess.site:
            raise InputError("no site is said: say which site the list is of")
        fields = {**layout.fields, "site": replace(layout.fields["site"], at=guess.site)}
        return replace(layout, fields=fields)

    def keep(self, name: str) -> Path:
        """Keep how the file is read now as a layout for the next time, under a file's name; return the file.

        Raises
        ------
        InputError : the name cannot be or is taken, something is still to be said, nothing is guessed
        """
        if not self.can_be_corrected:
            raise InputError("it is not read by a guess: there is nothing to keep")
        kept = keep_layout(self._chosen(), self.folder, name)
        self._layouts = self._offered()
        return kept

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
        self.report = bring_in(self.reg, guess.path, by=TRY, why=TRY, dry_run=True, layout=self._how())
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
        self.report = bring_in(self.reg, guess.path, by=by, why=reason, layout=self._how())
        return self.report.commit

    def _chosen(self) -> Guess:
        if self.guess is None:
            raise InputError("choose a file first")
        return self.guess


def files_in(folder: Path, endings: Sequence[str] = KINDS_OF_FILE) -> list[str]:
    """Spreadsheets in a folder and the folders just below it, as paths from there."""
    found: list[str] = []
    try:
        for path in sorted(folder.iterdir()):
            if path.name.startswith((".", "~$")):
                continue
            if path.is_dir():
                found += [f"{path.name}/{p.name}" for p in sorted(path.iterdir()) if p.suffix.casefold() in endings]
            elif path.suffix.casefold() in endings:
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


def first_line(error: FibrebookError) -> str:
    """Say what is wrong: the first line of the error; its single faults stand in the table below."""
    return str(error).splitlines()[0]
