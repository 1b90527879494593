"""A list of any shape on its way into a register, without any widget: read, pointed at, asked about, brought in."""

from __future__ import annotations

import copy
import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

from fibrebook.errors import InputError
from fibrebook.readers.bring_in.bring_in import bring_in
from fibrebook.readers.files.report import Report
from fibrebook.readers.guess.kept_layouts import layouts_folder
from fibrebook.readers.lists.asking import Question, Said
from fibrebook.readers.lists.reading import Reading, read_list, read_text
from fibrebook.screens.exchange.lists.kept_files import keep_said, kept_for_lists
from fibrebook.screens.exchange.lists.part import part_of
from fibrebook.screens.exchange.lists.shown import counted

if TYPE_CHECKING:
    from fibrebook.register import Register

TRY = "a look before bringing in"
AT_ONCE = 4_000  # cells: a longer list is read anew in the part that is looked at first, the rest a moment later
QUICK_S = 0.15  # a list read within that is read once more for each proposed answer, to tell what follows
MOST_STEPS = 50  # that can be taken back


class AnyList:
    """One list on its way into a register.

    Attributes
    ----------
    reading : the list as it is read so far; None until one is chosen
    part : the rows looked at, read anew ahead of the rest after something was said of a long list; else None
    folder : where the firm's own layouts lie
    """

    def __init__(self, reg: Register) -> None:
        self.reg = reg
        self.reading: Reading | None = None
        self.part: Reading | None = None
        self.folder = layouts_folder(reg.where)
        self._before: list[Said] = []
        self._took_s = 0.0

    @property
    def chosen(self) -> Reading:
        """The list.

        Raises
        ------
        InputError : none is chosen yet
        """
        if self.reading is None:
            raise InputError("choose a list first, or paste one")
        return self.reading

    @property
    def seen(self) -> Reading:
        """What is shown of it: the part that is read anew already, else all."""
        return self.part or self.chosen

    def choose(self, path: str | os.PathLike[str]) -> None:
        """Read a file.

        Raises
        ------
        InputError, NotFoundError : none is named, or it cannot be read
        """
        if not str(path).strip():
            raise InputError("no file is chosen: type its path, choose it from the list, or upload it")
        self._take(read_list(Path(path).expanduser(), colour_codes=self.reg.own_codes()))

    def paste(self, text: str) -> None:
        """Read a pasted table.

        Raises
        ------
        InputError : nothing is pasted, or it is no table
        """
        if not text.strip():
            raise InputError("nothing is pasted: copy the table in your spreadsheet, mail or page, and paste it here")
        reading = read_text(text)
        reading.book.folder = str(Path.cwd())  # where what is kept aside is written
        self._take(Reading(reading.book, reading.said, self.reg.own_codes()))

    def _take(self, reading: Reading) -> None:
        self.reading, self.part, self._before = reading, None, []
        self.read_all()

    def read_all(self) -> None:
        """Read the whole list anew, if anything was said since."""
        begun = time.perf_counter()
        reading = self.chosen
        fresh = reading.pending
        reading.whole  # noqa: B018
        self.part = None
        if fresh:
            self._took_s = time.perf_counter() - begun

    @property
    def long(self) -> bool:
        """Whether the list is so long that what is looked at is read anew ahead of the rest."""
        return sum(len(g.texts) for g in self.chosen.whole.grids.values()) > AT_ONCE

    def say(self, sheet: str, row: int | None, column: int | None, meaning: str, seen: range) -> None:
        """Say what a column, row or cell is; see `Reading.say`. The rows in `seen` are read anew, of a short list all.

        Raises
        ------
        InputError : it cannot mean that
        """
        long, part = self.long, part_of(self.chosen, sheet, seen)
        before = copy.deepcopy(self.chosen.said)
        self.chosen.say(sheet, row, column, meaning)
        self._said(before, Reading(part, self.chosen.said, self.reg.own_codes()) if long else None)

    def answer(self, key: str, value: str) -> None:
        """Answer a question by its key.

        Raises
        ------
        InputError : the answer is blank
        """
        before = copy.deepcopy(self.chosen.said)
        self.chosen.answer(key, value)
        self._said(before, None)

    def _said(self, before: Said, part: Reading | None) -> None:
        self._before = [*self._before[-MOST_STEPS:], before]
        if part is None:
            self.read_all()
        else:
            part.whole  # noqa: B018
            self.part = part

    @property
    def can_take_back(self) -> bool:
        """Whether anything was said that can be taken back."""
        return bool(self._before)

    def take_back(self) -> None:
        """Take back what was said last."""
        if self._before:
            reading = self.chosen
            self.reading = Reading(reading.book, self._before.pop(), self.reg.own_codes())
            self.read_all()

    def follows(self, question: Question) -> list[str]:
        """Return what follows from each proposed answer, in words; "" where working that out would take too long."""
        if question.key.startswith("sentence"):
            told = {"yes": "then they may come in", "no": "then they wait until you say what their columns are"}
            return [told.get(p, "") for p in question.proposals]
        if self._took_s > QUICK_S:
            return [""] * len(question.proposals)
        return [self._follows(question, proposal) for proposal in question.proposals]

    def _follows(self, question: Question, proposal: str) -> str:
        now = self.chosen
        said = copy.deepcopy(now.said)
        said.answers[question.key] = proposal
        then = Reading(now.book, said, self.reg.own_codes())
        told = []
        for kind in dict.fromkeys([*now.whole.facts.by_kind, *then.whole.facts.by_kind]):
            more = len(then.whole.facts.by_kind.get(kind, ())) - len(now.whole.facts.by_kind.get(kind, ()))
            if more:
                told.append(counted(kind, abs(more)).replace(" ", f" {'more' if more > 0 else 'fewer'} ", 1))
        counts, others = now.counts(), then.counts()
        out = others["left out"] - counts["left out"]
        told += [f"{out} cell{'s' if out > 1 else ''} left out"] if out > 0 else []
        new = {q.key for q in then.asked} - {q.key for q in now.asked}
        told += [f"{len(new)} new question{'s' if len(new) > 1 else ''}"] if new else []
        return ", ".join(told) or "no record changes"

    def kept(self) -> list[tuple[str, str]]:
        """Return what was kept of other lists: name and path."""
        return [(p.stem, str(p)) for p in kept_for_lists(self.folder)]

    def read_as(self, path: str) -> None:
        """Read the list as another of its shape was said to be read ("" = as if nothing had been said).

        Raises
        ------
        LayoutError : the file is no layout of a list
        """
        from fibrebook.readers.lists.kept import said_from

        book = self.chosen.book
        said = said_from(path, book.digest) if path else Said()
        self._before = []
        self.reading = Reading(book, said, self.reg.own_codes())
        self.read_all()

    def keep(self, name: str) -> Path:
        """Keep what was said for the next list of this shape; return the file; errors as `keep_said`."""
        return keep_said(self.chosen, self.folder, name)

    def look(self) -> Report:
        """Return what would come of it: where questions are open, of the rows that are sound."""
        reading = self.chosen
        return bring_in(self.reg, reading, by=TRY, why=TRY, dry_run=True, keep_questions=bool(reading.asked))

    def commit(self, by: str, why: str, keep_questions: bool) -> Report:
        """Bring it in as one commit.

        keep_questions : bring in what is sound, keep the rest as a workbook with the reason beside each cell

        Raises
        ------
        BringInError : a question is open, or something is wrong; ConflictError : others changed the same cells
        """
        reading = self.chosen
        reason = why.strip() or f"brought in {reading.book.name}"
        return bring_in(self.reg, reading, by=by, why=reason, keep_questions=keep_questions)
