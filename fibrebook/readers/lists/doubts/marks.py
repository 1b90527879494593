"""What is seen on a sheet beside its texts and may change their meaning: asked once, waited for where it matters."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.asking import LEAVE_OUT, Asking, means_no
from fibrebook.readers.lists.tables.blocks import SheetBlocks

READ = "read them"
NOTHING = "nothing"
Cell = tuple[str, Position]
FEW_FILLS = 8  # more than so many different fills in one table are decoration, or colours of cores


def blocked_cells(found: SheetBlocks, asking: Asking) -> tuple[set[Cell], set[Cell]]:
    """Ask about struck-out, hidden and broken cells; return those whose lines wait, and those left out as was said."""
    grid, sheet = found.grid, found.grid.sheet
    waits: set[Cell] = set()
    out: set[Cell] = set()

    def settle(key: str, at: Sequence[Position], what: str) -> None:
        cells = [(sheet.name, p) for p in at]
        answer = asking.ask(key, cells, grid.text(at[0]), what, (LEAVE_OUT, READ))
        if answer is None:
            waits.update(cells)
        elif answer == LEAVE_OUT:
            out.update(cells)

    struck = [p for p in grid.texts if sheet.look(*p).struck] if sheet.looks else []
    if struck:
        such = grid.text(struck[0])
        settle(f"struck out in {sheet.name!r}", struck,
               f"{len(struck)} cell(s) of {sheet.name!r} are struck out, as {such!r}: leave them out?")  # fmt: skip
    rows, columns = sheet.hidden_rows, sheet.hidden_columns
    hidden = [p for p in grid.texts if p[0] in rows or p[1] in columns] if rows or columns else []
    if hidden:
        settle(f"hidden in {sheet.name!r}", hidden,
               f"{len(hidden)} cell(s) of {sheet.name!r} stand in hidden rows or columns: read them?")  # fmt: skip
    for at, fault in sheet.faults.items():
        cells = [(sheet.name, at)]
        what = f"A cell of {sheet.name!r} holds {fault} instead of a value: what stood there?"
        if asking.ask(f"cell {at} of {sheet.name!r}", cells, fault, what, (LEAVE_OUT,)) == LEAVE_OUT:
            out.update(cells)
        else:
            waits.update(cells)
    return waits, out


def ask_about_looks(found: SheetBlocks, asking: Asking) -> None:
    """Ask what fills among the lines and comments mean: a check, for the texts are read whatever the answer."""
    sheet = found.grid.sheet
    for block in found.blocks:
        if not sheet.looks:
            break
        own = block.cells()
        filled = [(at, sheet.looks[at].fill) for at in own if at in sheet.looks]
        fills = Counter(fill for _, fill in filled)
        fills[""] += len(own) - len(filled)
        plain = fills.most_common(1)[0][0] if fills else ""
        telling = [f for f, n in fills.items() if f and f != plain and n * 2 < len(block.lines) * len(block.fields)]
        if not 0 < len(telling) <= FEW_FILLS or _banded(found, block.lines, block.fields[0]):
            continue
        for fill in telling:
            cells = [(sheet.name, at) for at, own_fill in filled if own_fill == fill]
            text = found.grid.text(cells[0][1])
            what = f"{len(cells)} cell(s) such as {text!r} in {sheet.name!r} are filled {fill}: does it say anything?"
            answer = asking.ask(
                f"fill {fill}", cells, text, what, (NOTHING, "faulty", "reserved", LEAVE_OUT), waits=False
            )
            if answer and means_no(answer):
                continue
    for at, note in sheet.notes.items():
        what = f"The comment {note[:80]!r} hangs on a cell of {sheet.name!r}: it is kept in the file only; note it?"
        asking.ask(f"comment {note[:40]!r}", [(sheet.name, at)], note, what, (NOTHING,), waits=False)


def _banded(found: SheetBlocks, lines: Sequence[int], column: int) -> bool:
    """Whether fills change from line to line all the way: bands for the eye."""
    fills = [found.grid.sheet.look(line, column).fill for line in lines]
    changes = sum(a != b for a, b in itertools.pairwise(fills))
    return len(lines) > 3 and changes >= 0.8 * (len(lines) - 1)
