"""The lines of a table, cell by cell: each cell read as its column says, ranges written out, one item for each core."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE, Asking, means_yes
from fibrebook.readers.lists.cell_by_role import read_cell
from fibrebook.readers.lists.columns import ListColumn
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.values.cell_readers import OneCell, Unread
from fibrebook.readers.lists.values.numbers import says_nothing
from fibrebook.words.labels import folded

Cell = tuple[str, Position]
FILLED = ("cable", "site", "tube", "tube_colour")  # a blank cell means the one above
ENDS = ("a", "b")
DATES = ("tested_on", "installed_on")
_DUPLEX = re.compile(r"(.*\d)\s?([ABab])")


@dataclass(slots=True)
class Item:
    """What one line says of one core (or of one cable or port, where it names no core).

    values : role -> what it says; cells : role -> where; every : all cells of the line that were read
    notes, losses : texts, and (wavelength or None, dB), each with its cell
    """

    block: int
    line: int
    values: dict[str, Any] = field(default_factory=dict)
    cells: dict[str, Cell] = field(default_factory=dict)
    notes: list[tuple[str, Cell]] = field(default_factory=list)
    losses: list[tuple[int | None, float, Cell]] = field(default_factory=list)
    every: list[Cell] = field(default_factory=list)


@dataclass(slots=True)
class _Line:
    """A line while it is read: single values, and what may be several."""

    single: dict[str, tuple[Any, Cell]] = field(default_factory=dict)
    several: dict[str, tuple[tuple[Any, ...], Cell, str]] = field(default_factory=dict)
    notes: list[tuple[str, Cell]] = field(default_factory=list)
    losses: list[tuple[int | None, float, Cell]] = field(default_factory=list)
    every: list[Cell] = field(default_factory=list)


@dataclass
class LineReader:
    """Reads the lines of one table.

    Attributes
    ----------
    holds : gives what titles say for a line: role -> (text, cell)
    left_out : cells that a person said are to be left out
    """

    number: int
    block: Block
    columns: Sequence[ListColumn]
    holds: Callable[[int], dict[str, tuple[str, Cell]]]
    asking: Asking
    left_out: set[Cell]
    _read: list[dict[str, OneCell]] = field(default_factory=list)  # by column: what texts say that were read before

    def items(self) -> list[Item]:
        """Return what the lines say."""
        out: list[Item] = []
        self._read = [{} for _ in self.columns]
        above: dict[str, tuple[Any, Cell, int]] = {}
        for line in self.block.lines:
            read = self._line(line)
            if not read.every:
                continue
            self._fill(line, read, above)
            out += self._expanded(line, read)
        _split_positions(out)
        return out

    def _line(self, line: int) -> _Line:
        read = _Line()
        sheet = self.block.grid.sheet.name
        for column, before in zip(self.columns, self._read, strict=True):
            text = self.block.text(line, column.field)
            if not text:
                continue
            cell = (sheet, self.block.grid.origin(self.block.at(line, column.field)))
            if cell in self.left_out:
                continue
            read.every.append(cell)
            if column.asked:
                self.asking.ask(column.asked, [cell], text, "", ())
            elif column.role == LEAVE_OUT:
                self.left_out.add(cell)
            elif (known := before.get(text)) is not None:
                self._lay(column, text, known, cell, read)
            else:
                self._cell(column, text, cell, read, before)
        return read

    def _cell(self, column: ListColumn, text: str, cell: Cell, read: _Line, before: dict[str, OneCell]) -> None:
        said = self.asking.said.words.get((folded(column.heading), text))
        found = self._one(column, said if said is not None else text, cell)
        if isinstance(found, OneCell) and column.role not in DATES:  # a date may be a question that gathers its cells
            before[text] = found
        if isinstance(found, Unread):
            key = f"{text!r} under {column.heading or column.key!r}"
            what = f"{text!r} under {column.heading or column.key!r} {found.what}"
            answer = self.asking.ask(key, [cell], text, what, (*found.proposals, NOTE, LEAVE_OUT))
            if answer is None:
                return
            found = self._one(column, answer, cell)
            if isinstance(found, Unread):
                self.asking.ask(
                    f"{key}, again", [cell], text, f"{answer!r} cannot be read there either: {what}", (LEAVE_OUT,)
                )
                return
        self._lay(column, text, found, cell, read)

    def _lay(self, column: ListColumn, text: str, found: OneCell, cell: Cell, read: _Line) -> None:
        if found.left_out:
            self.left_out.add(cell)
        for role, value in found.single.items():
            read.single[role] = (value, cell)
        for role, values in found.several.items():
            read.several[role] = (values, cell, text)
        if found.notes:
            read.notes += [(text if note == NOTE else note, cell) for note in found.notes]
        if found.loss is not None:
            read.losses.append((column.wavelength, found.loss, cell))

    def _one(self, column: ListColumn, text: str, cell: Cell) -> OneCell | Unread:
        if folded(text) == LEAVE_OUT:
            return OneCell(left_out=True)
        if folded(text) in (NOTE, "note only"):
            return OneCell(notes=[NOTE])
        return read_cell(column, text, self.asking, cell)

    def _fill(self, line: int, read: _Line, above: dict[str, tuple[Any, Cell, int]]) -> None:
        """Take from above what is written once: the cell above in the column, or a title that came after it."""
        titles = self.holds(line)
        has = self._roles
        for role in (*FILLED, "a_enclosure", "b_enclosure"):
            if role in read.single:
                above[role] = (*read.single[role], line)
                continue
            end = role[0] if role.endswith("_enclosure") else ""
            if end and f"{end}_port" not in read.several and (role in has or f"{end}_panel_port" in has):
                continue  # no port here: the panel above is not this line's
            title = titles.get(role) or (titles.get("enclosure") if role == self._title_end() else None)
            begins = title[1][1][0] if title and not self.block.turned else 0
            if role in above and above[role][2] >= begins:
                read.single[role] = above[role][:2]
            elif title:
                read.single[role] = title
        for column in self.columns if self._panels else ():
            end = column.role[:1]
            if column.panel and column.role.endswith("_port") and f"{end}_port" in read.several:
                read.single[f"{end}_enclosure"] = (column.panel, (self.block.grid.sheet.name, min(self._head(column))))
        for role, title in titles.items():
            if role not in ("enclosure", "a_enclosure", "b_enclosure"):
                read.single.setdefault(role, title)

    @cached_property
    def _roles(self) -> frozenset[str]:
        return frozenset(c.role for c in self.columns)

    @cached_property
    def _panels(self) -> bool:
        return any(c.panel for c in self.columns)

    def _head(self, column: ListColumn) -> list[Position]:
        """Return the cells that head a column."""
        along = 0 if self.block.turned else 1
        return [at for at in self.block.head if at[along] == column.field] or [self.block.first]

    def _title_end(self) -> str:
        """Return which end's panel a title names: the one whose ports have none of their own."""
        roles = self._roles
        bare = [e for e in ENDS if f"{e}_port" in roles and f"{e}_enclosure" not in roles]
        return f"{bare[0] if bare else 'a'}_enclosure"

    def _expanded(self, line: int, read: _Line) -> list[Item]:
        """Write out ranges: as many items as the line has cores (or ports, where it has none)."""
        cores, core_cell, core_text = read.several.get("core", ((), ("", (0, 0)), ""))
        several = {role: v for role, v in read.several.items() if role != "core"}
        count = len(cores) or max((len(v[0]) for v in several.values()), default=1)
        laid: list[dict[str, Any]] = [{} for _ in range(count)]
        cells: dict[str, Cell] = {"core": core_cell} if cores else {}
        for i, core in enumerate(cores):
            laid[i]["core"] = core
        for role, (values, cell, text) in several.items():
            spread = self._spread(role, values, count, (core_text, core_cell), (text, cell))
            cells[role] = cell
            for i, found in enumerate(spread or ()):
                laid[i] |= found
        out = []
        for one in laid:
            item = Item(self.number, line, one, dict(cells), list(read.notes), list(read.losses), read.every)
            for role, (value, cell) in read.single.items():
                item.values.setdefault(role, value)
                item.cells.setdefault(role, cell)
            out.append(item)
        return out

    def _spread(
        self, role: str, values: tuple[Any, ...], count: int, core: tuple[str, Cell], own: tuple[str, Cell]
    ) -> list[dict[str, Any]] | None:
        """Return what each of the line's cores gets of several ports; None where that is asked now."""
        if len(values) == count:
            return [{role: v} for v in values]
        if len(values) * 2 == count and role.endswith("_port"):
            what = (
                f"{count} cores ({core[0]}) stand on {len(values)} {'ports' if len(values) > 1 else 'port'} "
                f"({own[0]}): two to a port, the first at position A, the second at B?"
            )
            key = f"two cores to a port at end {role[0].upper()}"
            answer = self.asking.ask(key, [own[1]], own[0], what, ("yes", LEAVE_OUT))
            if answer is None:
                return None
            if means_yes(answer):
                position = f"{role[0]}_position"
                return [{role: values[i // 2], position: "AB"[i % 2]} for i in range(count)]
            self.left_out.add(own[1])
            return None
        if count == 1 and role.endswith("_port") and own[0].count("/") + own[0].count("-") == 1:
            answer = self.asking.ask(
                f"{own[0]!r} for one core", [own[1]], own[0],
                f"{own[0]!r} stands beside one core ({core[0]}): is it the name of one port?", ("yes", LEAVE_OUT),
            )  # fmt: skip
            if answer and means_yes(answer):
                return [{role: own[0]}]
            self.left_out |= {own[1]} if answer else set()
            return None
        key = f"{core[0]!r} on {own[0]!r}"
        what = f"{core[0]!r} is {count} core(s), but {own[0]!r} is {len(values)} port(s): which is on which?"
        if self.asking.ask(key, [core[1], own[1]], own[0], what, (LEAVE_OUT,)) == LEAVE_OUT:
            self.left_out.add(own[1])
        return None


def _split_positions(items: Sequence[Item]) -> None:
    """1A and 1B are positions of a duplex port 1, where all of a table's ports at that end are written so."""
    for end in ENDS:
        port, position = f"{end}_port", f"{end}_position"
        having = [i for i in items if port in i.values and not says_nothing(str(i.values[port]))]
        parts = [_DUPLEX.fullmatch(str(i.values[port])) for i in having]
        letters = {p[2].upper() for p in parts if p}
        if not having or not all(parts) or letters != {"A", "B"} or any(position in i.values for i in having):
            continue
        for item, found in zip(having, parts, strict=True):
            assert found
            item.values[port], item.values[position] = found[1], found[2].upper()
            item.cells[position] = item.cells[port]
