"""What a list's screen shows of it: the rows of a sheet with every cell's fate, and what was understood of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fibrebook.readers.files.limits import Position, column_letter
from fibrebook.readers.lists.asking import LEAVE_OUT, Question
from fibrebook.readers.lists.columns import ListColumn
from fibrebook.readers.lists.facts import Fact
from fibrebook.readers.lists.reading import Reading
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.roles import ROLES
from fibrebook.records import KINDS

if TYPE_CHECKING:
    import pandas as pd

MOST_COLUMNS = 60  # shown of a sheet
RECORD_COLUMNS = ("row", "record", "says")
WHY = {
    "line": "part of a line", "heading": "heads a column", "title": "says something of the lines below it",
    "legend": "explains a sign", "total": "a total", "said": "you said so",
}  # fmt: skip


@dataclass(frozen=True)
class Understood:
    """One record shown: where it begins, what it is in words, the cells that it comes from."""

    row: int
    record: str
    says: str
    cells: tuple[Position, ...]


class ListShown:
    """What is shown of one reading; worked out once for each state of it."""

    def __init__(self, reading: Reading) -> None:
        self.reading = reading
        self._whole = reading.whole
        self._by_row: dict[tuple[str, int], list[tuple[str, Fact]]] | None = None

    def last_row(self, sheet: str) -> int:
        """Return the number of the last row of a sheet in which something stands."""
        return max((r for r, _ in self._whole.grids[sheet].texts), default=0)

    def heads(self, sheet: str, seen: range) -> list[dict[str, str]]:
        """Return letter and meaning of each column, as the tables say whose lines are seen."""
        grid = self._whole.grids[sheet]
        last = min(max((c for _, c in grid.texts), default=0), MOST_COLUMNS)
        means: dict[int, str] = {}
        for block, columns, _ in self._whole.blocks:
            if block.grid.sheet.name == sheet and not block.turned and _in_view(block, seen):
                for column in columns:
                    means.setdefault(column.field, meaning_of(column))
        return [{"letter": column_letter(c), "means": means.get(c, "")} for c in range(1, last + 1)]

    def rows(self, sheet: str, seen: range) -> list[dict[str, Any]]:
        """Return the rows of a sheet that are seen, as `FoundView` shows them."""
        grid, fates = self._whole.grids[sheet], self._whole.fates[sheet]
        turned = {
            column.field: meaning_of(column)
            for block, columns, _ in self._whole.blocks
            if block.turned and block.grid.sheet.name == sheet
            for column in columns
        }
        last = len(self.heads(sheet, seen))
        out = []
        for r in seen:
            cells = []
            for c in range(1, last + 1):
                text = grid.texts.get((r, c), "")
                look = grid.sheet.look(r, c)
                fate, _ = fates.get((r, c), ("", ""))
                cells.append({"text": text, "fate": fate if text else "", "why": self.told((sheet, (r, c))),
                              "fill": look.fill, "bold": look.bold, "struck": look.struck})  # fmt: skip
            out.append({"number": r, "means": turned.get(r, ""), "cells": cells})
        return out

    def told(self, cell: tuple[str, Position]) -> str:
        """Say what became of a cell; "" where it is blank."""
        fate, why = self._whole.fates[cell[0]].get(cell[1], ("", ""))
        if not fate:
            return ""
        if fate == "question":
            question = self._whole.asking.questions.get(why)
            return f"a question: {question.what}" if question else "a question"
        return f"{fate}: {WHY.get(why, why)}"

    def column_at(self, sheet: str, row: int, column: int, seen: range) -> tuple[Block, ListColumn] | None:
        """Return the table and its column to which a cell or head belongs; None where it belongs to none."""
        for block, columns, _ in self._whole.blocks:
            if block.grid.sheet.name != sheet:
                continue
            line, own = (column, row) if block.turned else (row, column)
            heads = {at[1 if block.turned else 0] for at in block.head}
            if row == 0 and block.turned:
                continue
            if (row == 0 and _in_view(block, seen)) or line in heads or line in block.lines:
                found = next((c for c in columns if c.field == own), None)
                if found is not None:
                    return block, found
        return None

    def records(self, sheet: str, rows: range) -> list[Understood]:
        """Return the records that come from some rows of a sheet, in the order of the rows."""
        if self._by_row is None:
            self._by_row = {}
            for kind, facts in self._whole.facts.by_kind.items():
                for fact in facts.values():
                    for at in {(name, r) for name, (r, _) in fact.cells}:
                        self._by_row.setdefault(at, []).append((kind, fact))
        shown: dict[int, Understood] = {}
        for row in rows:
            for kind, fact in self._by_row.get((sheet, row), ()):
                if id(fact) not in shown:
                    cells = tuple(at for name, at in fact.cells if name == sheet)
                    shown[id(fact)] = Understood(row, _name(kind, fact), _says(kind, fact), cells)
        return list(shown.values())

    def totals(self) -> list[tuple[str, int]]:
        """Return how many records of each kind were understood."""
        return [(kind, len(facts)) for kind, facts in self._whole.facts.by_kind.items() if facts]


def counted(kind: str, number: int) -> str:
    """Return a count of records of a kind in words: 1 cable, 3 cables."""
    return f"{number} {KINDS[kind].singular if number == 1 else kind}"


def first_with_a_table(reading: Reading) -> list[str]:
    """Return the names of the sheets that hold anything, those first on which a table was found."""
    whole = reading.whole
    tables = {block.grid.sheet.name for block, _, _ in whole.blocks}
    names = [name for name, grid in whole.grids.items() if grid.texts] or list(whole.grids)
    return sorted(names, key=lambda name: name not in tables)


def frame_of(records: list[Understood]) -> pd.DataFrame:
    """Return records as a table: row, record, says."""
    import pandas as pd

    return pd.DataFrame([(u.row, u.record, u.says) for u in records], columns=list(RECORD_COLUMNS))


def meaning_of(column: ListColumn) -> str:
    """Say what a column means."""
    if column.asked:
        return "is asked"
    told = ROLES.get(column.role, column.role)
    return f"{told}, panel {column.panel}" if column.panel else told


def place_of(question: Question) -> str:
    """Say where on the list a question arises."""
    if not question.cells:
        return ""
    sheet, (row, column) = question.cells[0]
    more = f" and {len(question.cells) - 1} more" if len(question.cells) > 1 else ""
    return f"{sheet!r}, cell {column_letter(column)}{row}{more}"


def meanings_of_a_row() -> list[str]:
    """Return what a row may be said to be."""
    return ["line", "heading", "title", "total", "legend", LEAVE_OUT]


def _in_view(block: Block, seen: range) -> bool:
    first = block.first[0]
    last = max(block.lines) if not block.turned else max(block.fields)
    return first < seen.stop and last >= seen.start


def _name(kind: str, fact: Fact) -> str:
    key = [str(fact.values.get(k) or "") for k in KINDS[kind].key if k != "site" or kind == "sites"]
    return f"{KINDS[kind].singular} {' '.join(k for k in key if k)}"


def _says(kind: str, fact: Fact) -> str:
    rest = [(n, v) for n, v in fact.values.items() if n not in KINDS[kind].key and v not in (None, "")]
    return ", ".join(f"{n.removesuffix('_m').removesuffix('_db').replace('_', ' ')} {v}{_unit(n)}" for n, v in rest)


def _unit(name: str) -> str:
    return " m" if name.endswith("_m") else " dB" if name.endswith("_db") else ""
