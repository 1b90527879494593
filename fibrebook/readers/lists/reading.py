"""A list as it is read so far: facts, questions, the fate of every cell; answered and pointed at until it is right."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from fibrebook.errors import InputError
from fibrebook.readers.files.collector import collector_put_off
from fibrebook.readers.files.limits import column_letter, column_number
from fibrebook.readers.found.found_sheet import FoundBook
from fibrebook.readers.found.open_found import find_sheets, sheets_of_text
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE, Question, Said, head_key
from fibrebook.readers.lists.columns import role_named
from fibrebook.readers.lists.kept import said_from, said_to_text
from fibrebook.readers.lists.sentences import KEY
from fibrebook.readers.lists.tables.roles import ROLES
from fibrebook.readers.lists.whole_list import WholeList, read_whole
from fibrebook.records import KINDS
from fibrebook.words.labels import folded
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    import pandas as pd

ROW_WORDS = ("heading", "line", "title", "total", "legend", LEAVE_OUT)


class Reading:
    """A list as it is read so far. Nothing of it is in any register.

    Attributes
    ----------
    book : the file's sheets as they were found
    said : what people said of it: answers, columns, rows, words
    """

    def __init__(
        self, book: FoundBook, said: Said | None = None, extra: Mapping[str, Sequence[str]] | None = None
    ) -> None:
        self.book, self.said, self._extra = book, said or Said(), extra
        self._whole: WholeList | None = None

    @property
    def whole(self) -> WholeList:
        """All that was read, worked out when it is first asked for after something was said."""
        if self._whole is None:
            with collector_put_off():
                self._whole = read_whole(self.book, self.said, self._extra)
        return self._whole

    @property
    def asked(self) -> list[Question]:
        """Questions in the order in which they are best answered: the site, then tables, then cells."""
        return sorted(self.whole.asking.questions.values(), key=_rank)

    @property
    def facts(self) -> dict[str, pd.DataFrame]:
        """Records by kind, as `edit.put` takes them, with source_sheet, source_row, source_column (letter)."""
        import pandas as pd

        frames = {}
        for kind, records in self.whole.facts.by_kind.items():
            if not records:
                continue
            rows = []
            for fact in records.values():
                sheet, (row, column) = fact.cells[0]
                source = {"source_sheet": sheet, "source_row": row, "source_column": column_letter(column)}
                rows.append(dict(fact.values) | source)
            frame = pd.DataFrame(rows, dtype=object)
            names = [n for n in KINDS[kind].names if n in frame or n in KINDS[kind].key]
            for name in names:
                if name not in frame:
                    frame[name] = ""
            ordered = frame[[*names, "source_sheet", "source_row", "source_column"]]
            if "position" in ordered:
                ordered = ordered.assign(position=ordered["position"].where(ordered["position"].notna(), ""))
            frames[kind] = ordered
        return frames

    @property
    def cells(self) -> pd.DataFrame:
        """Every cell that is not blank: sheet, row, column (letter), text, fate, and the rule or question behind it."""
        import pandas as pd

        rows = []
        for name, grid in self.whole.grids.items():
            fates = self.whole.fates[name]
            for (r, c), text in grid.texts.items():
                fate, why = fates[r, c]
                rows.append((name, r, column_letter(c), text, fate, why))
        return pd.DataFrame(rows, columns=["sheet", "row", "column", "text", "fate", "why"])

    @property
    def questions(self) -> pd.DataFrame:
        """What is still asked: question (its number), sheet, row, column, text, what, proposals, cells, waits."""
        import pandas as pd

        rows = []
        for number, q in enumerate(self.asked, 1):
            sheet, (row, column) = q.cells[0] if q.cells else (q.sheet, (0, 0))
            at = (row or None, column_letter(column) if column else "")
            rows.append((number, sheet, *at, q.text, q.what, list(q.proposals), len(q.cells), q.waits))
        names = ["question", "sheet", "row", "column", "text", "what", "proposals", "cells", "waits"]
        return pd.DataFrame(rows, columns=names)

    @property
    def sentences(self) -> list[Question]:
        """The sentences that nobody has confirmed yet: nothing of their tables comes in before."""
        return [q for q in self.asked if q.key.startswith(KEY)]

    def counts(self) -> dict[str, int]:
        """Return how many cells met each fate; they add up to all that are not blank."""
        out = {"used": 0, "left out": 0, "question": 0}
        for name, grid in self.whole.grids.items():
            fates = self.whole.fates[name]
            for at in grid.texts:
                out[fates[at][0]] += 1
        return out

    def answer(self, question: int | str, value: object) -> Reading:
        """Answer a question by its number in `questions`, or its key; return this reading.

        Raises
        ------
        InputError : there is no such question, or the answer is blank
        """
        text = " ".join(str(value).split()) if not isinstance(value, bool) else ("yes" if value else "no")
        if not text:
            raise InputError("an answer is blank: choose one of the proposals, or write another")
        asked = self.asked
        if isinstance(question, str):
            key = question
        elif 1 <= int(question) <= len(asked):
            key = asked[int(question) - 1].key
        else:
            raise InputError(f"there is no question {question}: there are {len(asked)}")
        self.said.answers[key] = text
        self._whole = None
        return self

    def say(self, sheet: str, row: int | None, column: int | str | None, meaning: str) -> Reading:
        """Point at a column (row None), a row (column None) or a cell and say what it is; so are all that are like it.

        Parameters
        ----------
        column : number from 1, or letter
        meaning : of a column: one of the roles (`ROLES`), "note" or "leave out"; of a row: heading, line, title, total,
            legend, leave out; of a cell: what is to be read instead, "cable C1", "panel P1", "site X", "note",
            "leave out"

        Raises
        ------
        InputError : there is no such sheet, or a column or row cannot mean that
        """
        grid = self.whole.grids.get(sheet)
        if grid is None:
            raise InputError(f"there is no sheet {sheet!r}: {did_you_mean(sheet, self.whole.grids)}")
        number = column_number(column.upper()) if isinstance(column, str) else column
        if row is not None and number is None:
            self._say_row(sheet, row, meaning)
        elif number is not None:
            self._say_cell(sheet, row, number, meaning)
        self._whole = None
        return self

    def _say_row(self, sheet: str, row: int, meaning: str) -> None:
        for block, _, _ in self.whole.blocks:
            if (
                block.turned
                and block.grid.sheet.name == sheet
                and row in block.fields
                and folded(meaning) not in ROW_WORDS
            ):
                self.said.columns[head_key(block.heads.get(row, ""), sheet, f"row {row}")] = _role(meaning)
                return
        if folded(meaning) not in ROW_WORDS:
            raise InputError(f"a row is no {meaning!r}: {did_you_mean(meaning, ROW_WORDS)}")
        self.said.rows[sheet, row] = folded(meaning)

    def _say_cell(self, sheet: str, row: int | None, column: int, meaning: str) -> None:
        for block, columns, _ in self.whole.blocks:
            if block.grid.sheet.name != sheet or (block.turned and row is None):
                continue
            for one in columns:
                heads = [at for at in block.head if at[0 if block.turned else 1] == one.field]
                if (row is None and one.field == column and not block.turned) or (row, column) in heads:
                    self.said.columns[one.key] = _role(meaning)
                    if row is not None:
                        return
                elif row is not None and (row, column) in {block.at(i, one.field) for i in block.lines}:
                    self.said.words[folded(one.heading), block.grid.text((row, column))] = meaning
                    return
        if row is not None:
            self.said.titles[self.whole.grids[sheet].text((row, column))] = meaning

    def layout(self) -> str:
        """Return what was said as TOML; with it `read_list` reads this list, and the next of its shape, the same."""
        return said_to_text(self.said, self.book.name, self.book.digest)


def _role(meaning: str) -> str:
    if folded(meaning) in (NOTE, LEAVE_OUT):
        return folded(meaning)
    role = role_named(meaning)
    if not role:
        raise InputError(f"a column is no {meaning!r}: {did_you_mean(meaning, ROLES)}")
    return role


def _rank(question: Question) -> tuple[int, str, int, int]:
    key = question.key
    order = ("site", "hidden", "column", "both in column", "panel", "cable", KEY)
    place = next((i for i, word in enumerate(order) if key.startswith(word)), len(order))
    row, column = question.cells[0][1] if question.cells else (0, 0)
    return (place, question.sheet, row, column)


def read_list(
    path: str | os.PathLike[str],
    layout: str | os.PathLike[str] | None = None,
    answers: Mapping[str, object] | None = None,
    *,
    colour_codes: Mapping[str, Sequence[str]] | None = None,
) -> Reading:
    """Read a list of any shape, without a register.

    Parameters
    ----------
    path : .xlsx, .xls, .ods, .csv or text
    layout : what was said of a list of this shape before: the text that `Reading.layout` gave, or its file
    answers : answers by the key of their question, laid over those of the layout
    colour_codes : the firm's own colour codes (``reg.own_codes()``)

    Raises
    ------
    NotFoundError, InputError : as `find_sheets`; LayoutError : the layout is none of a list
    """
    book = find_sheets(path)
    said = said_from(layout, book.digest) if layout is not None else Said()
    said.answers |= {k: str(v) for k, v in (answers or {}).items()}
    return Reading(book, said, colour_codes)


def read_text(text: str, name: str = "pasted", layout: str | None = None) -> Reading:
    """Read a pasted list; as `read_list`."""
    book = sheets_of_text(text, name)
    return Reading(book, said_from(layout, book.digest) if layout is not None else Said())
