"""What is asked of a person about a list, what was said to it, and which cells wait for an answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.values.cell_readers import CellReaders
from fibrebook.words.labels import folded

LEAVE_OUT, NOTE, YES, NO = "leave out", "note", "yes", "no"
MOST_CELLS_KEPT = 2_000_000


@dataclass
class Question:
    """One question; an answer holds for all that is like it.

    Attributes
    ----------
    key : what it is known by: the same list, and the next of its shape, asks it under the same key
    cells : the cells that it is about; `waits` = they wait for the answer, and make no record before
    proposals : answers to choose from; another may be written
    """

    key: str
    sheet: str
    text: str
    what: str
    proposals: tuple[str, ...]
    waits: bool = True
    cells: list[tuple[str, Position]] = field(default_factory=list)


@dataclass
class Said:
    """What people said of a list, by pointing and by answers.

    Attributes
    ----------
    columns : heading, folded (or "sheet!C" where there is none) -> role
    rows : sheet and row -> "heading", "line", "title", "total", "legend", "leave out"
    words : heading, folded, and text of a cell -> what is to be read instead, or "leave out", "note"
    titles : text outside the lines -> what it says: "cable C1", "panel P1", "site X", "leave out", "note"
    answers : question's key -> answer
    """

    columns: dict[str, str] = field(default_factory=dict)
    rows: dict[tuple[str, int], str] = field(default_factory=dict)
    words: dict[tuple[str, str], str] = field(default_factory=dict)
    titles: dict[str, str] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)


@dataclass
class Asking:
    """Gathers questions while a list is read; what is answered already is not asked."""

    said: Said
    questions: dict[str, Question] = field(default_factory=dict)
    readers: CellReaders = field(default_factory=CellReaders)

    def ask(
        self,
        key: str,
        cells: Iterable[tuple[str, Position]],
        text: str,
        what: str,
        proposals: Sequence[str],
        waits: bool = True,
    ) -> str | None:
        """Return the answer; None where it is asked now: the cells then wait, unless the question is only a check."""
        answer = self.said.answers.get(key)
        if answer is not None:
            return answer
        question = self.questions.get(key)
        own = list(cells)
        if question is None:
            sheet = own[0][0] if own else ""
            self.questions[key] = Question(key, sheet, text, what, tuple(dict.fromkeys(proposals)), waits, own)
        elif len(question.cells) < MOST_CELLS_KEPT:
            question.cells += own
        return None

    def waiting(self) -> dict[tuple[str, Position], str]:
        """Return the cells that wait, with the key of the first question that each waits for."""
        out: dict[tuple[str, Position], str] = {}
        for question in self.questions.values():
            if question.waits:
                for cell in question.cells:
                    out.setdefault(cell, question.key)
        return out


def head_key(heading: str, sheet: str, letter: str) -> str:
    """Return what a column is known by: its heading, or where it stands."""
    return folded(heading) if heading.strip() else f"{sheet}!{letter}"


def means_yes(answer: str) -> bool:
    """Whether an answer is yes."""
    return folded(answer) in ("yes", "y", "true", "ja", "right", "1")


def means_no(answer: str) -> bool:
    """Whether an answer is a bare no."""
    return folded(answer) in ("no", "n", "false", "nein", "wrong", "0")
