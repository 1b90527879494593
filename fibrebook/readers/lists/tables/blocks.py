"""The tables of a sheet: where each has its headings, its lines, and what stands above, between and below them.

A table's lines run down or, where headings stand in its first column, across. Whatever is in no table stays on the
sheet's list of strays, and is asked about: nothing is left out because it fits nowhere.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.grid import Grid
from fibrebook.readers.lists.tables.heading_words import says_legend, says_total, spoken
from fibrebook.readers.lists.tables.odd_blocks import headless, turned
from fibrebook.readers.lists.tables.owned import Owned
from fibrebook.readers.lists.tables.roles import TELLING, heading_of, heading_weight, is_heading

LEAST_WEIGHT = 1.6  # of a row of headings: two whole ones, or one and one with a name in it
FOOT = 3  # a row of so few cells or less below a table may be a note


@dataclass
class SheetBlocks:
    """A sheet taken apart; `fates` says of cells outside tables what they are: legend, total, heading."""

    grid: Grid
    blocks: list[Block]
    fates: dict[Position, str]
    strays: list[Position]


def blocks_of(grid: Grid, said: dict[Position, str] | None = None) -> SheetBlocks:
    """Take a sheet apart.

    Parameters
    ----------
    said : (row, 0) -> what a person said of a row: "heading", "line", "title", "total", "legend", "leave out"
    """
    rows_said = {r: what for (r, c), what in (said or {}).items() if c == 0}
    fates: dict[Position, str] = {}
    for row, what in rows_said.items():
        if what in ("leave out", "total", "legend"):
            fates |= {(row, c): {"leave out": "said"}.get(what, what) for c in grid.by_row.get(row, ())}
    _legends(grid, fates)
    blocks = turned(grid, fates)
    taken = {at for b in blocks for at in [*b.head, *b.cells()]}
    heads = _heads(grid, taken, fates, rows_said)
    for n, (rows, parts) in enumerate(heads):
        below = heads[n + 1][0][0] if n + 1 < len(heads) else max(grid.by_row) + 1
        for first, last in parts:
            blocks.append(_block(grid, rows, (first, last), below, taken, fates, rows_said))
    blocks += headless(grid, Owned(blocks, taken), fates, bool(heads))
    blocks = [b for b in blocks if b.lines]
    blocks.sort(key=lambda b: b.first)
    strays = _strays(grid, blocks, fates)
    for block in blocks:
        block.settle()
    _give_titles(blocks, strays)
    held = {at for b in blocks for at in b.titles}
    return SheetBlocks(grid, blocks, fates, [at for at in strays if at not in held])


def _legends(grid: Grid, fates: dict[Position, str]) -> None:
    """A word that begins a legend, and what stands below it in two columns until a blank row."""
    whole = says_legend(grid.sheet.name)
    rows = grid.by_row
    for row, columns in rows.items():
        for c in columns:
            if not says_legend(grid.text((row, c))) and not (whole and row == min(rows)):
                continue
            fates[row, c] = "legend"
            at = row + 1
            while any((at, c + k) in grid.texts for k in (0, 1)) and at - row < 40:
                here = [(at, c + k) for k in (0, 1) if (at, c + k) in grid.texts]
                if sum(is_heading(grid.text(p)) for p in here) > 1 or (at, c - 1) in grid.texts:
                    break
                fates |= dict.fromkeys(here, "legend")
                at += 1


def _heads(
    grid: Grid, taken: set[Position], fates: dict[Position, str], said: dict[int, str]
) -> list[tuple[list[int], list[tuple[int, int]]]]:
    """Return the rows of each row of headings (upper ones first) and the first and last column of each table there."""
    found: list[tuple[list[int], list[tuple[int, int]]]] = []
    ends = 0
    for row, columns in grid.by_row.items():
        free = [c for c in columns if (row, c) not in taken and (row, c) not in fates]
        if (
            row <= ends
            or said.get(row) in ("line", "title")
            or not (said.get(row) == "heading" or _is_head(grid, row, free))
        ):
            continue
        rows = [*_above(grid, row, free, found[-1][0][-1] if found else 0), row]
        while _is_head(grid, row + 1, grid.by_row.get(row + 1, [])) and said.get(row + 1) != "line":
            row += 1
            rows.append(row)
        ends = row
        every = sorted({c for r in rows for c in grid.by_row[r] if (r, c) not in taken and (r, c) not in fates})
        found.append((rows, _side_by_side(grid, rows, every)))
    return found


def _is_head(grid: Grid, row: int, columns: Sequence[int]) -> bool:
    texts = [grid.text((row, c)) for c in columns]
    weights = [heading_weight(t) for t in texts]
    if len(texts) < 2 or sum(weights) < LEAST_WEIGHT or sum(weights) < 0.5 * len(texts):
        return False
    if sum(t.strip()[:1].isdecimal() and not w for t, w in zip(texts, weights, strict=True)) > len(texts) / 4:
        return False
    return any(heading_of(t).role in TELLING for t in texts)


def _above(grid: Grid, row: int, columns: Sequence[int], after: int) -> list[int]:
    """Return the row above that groups headings, as *End A* over panel and port; [] where there is none."""
    above = row - 1
    there = grid.by_row.get(above, [])
    if (
        above <= after
        or not there
        or (len(there) == 1 and len(columns) > 2 and not _narrow(grid, above, there[0], columns))
    ):
        return []
    texts = [grid.text((above, c)) for c in there]
    if any(t[:1].isdecimal() or len(t) > 40 for t in texts) or len(there) >= len(columns):
        return []
    ends = sum(bool({"a", "b", "end"} & spoken(t)[0]) or is_heading(t) for t in texts)
    spread = any(grid.wide.get((above, c), 1) > 1 for c in there)
    pair = any(t.rstrip().endswith(":") for t in texts)
    return [above] if (ends or spread) and not pair and max(there) <= max(columns) else []


def _narrow(grid: Grid, row: int, column: int, columns: Sequence[int]) -> bool:
    """Whether one cell alone groups some of the headings below and not all of them."""
    wide = grid.wide.get((row, column), 1)
    return 1 < wide < len(columns) - 1 and column > min(columns)


def _side_by_side(grid: Grid, rows: Sequence[int], columns: Sequence[int]) -> list[tuple[int, int]]:
    """Part a row of headings into tables: where the core or cable is headed a second time as the first was."""
    texts = {c: grid.text((rows[-1], c)) or grid.text((rows[0], c)) for c in columns}
    starts = [columns[0]]
    first = heading_of(texts[columns[0]])
    for before, c in itertools.pairwise(columns):
        here, part = heading_of(texts[c]), [heading_of(texts[x]).role for x in columns if starts[-1] <= x <= before]
        gap = c > before + 1 and not any((r, before + 1) in grid.texts for r in range(rows[-1] + 1, rows[-1] + 6))
        again = here.role == first.role and texts[c] == texts[columns[0]] and len(part) > 2
        twice = {heading_of(texts[x]).role for x in columns if x >= c} & set(part) & {"core", "cable", "cable_core"}
        if here.role and not here.end and ((again and here.role in TELLING) or (gap and twice and len(part) > 1)):
            starts.append(c)
    return [(a, b - 1) for a, b in zip(starts, [*starts[1:], 100_000], strict=True)]


def _block(
    grid: Grid, rows: list[int], span: tuple[int, int], below: int, taken: set[Position], fates: dict[Position, str],
    said: dict[int, str],
) -> Block:  # fmt: skip
    first, last = span

    busy = {r for r, _ in taken} | {r for r, _ in fates}

    def own(row: int) -> list[int]:
        there = [c for c in grid.by_row.get(row, ()) if first <= c <= last]
        if row in busy:
            there = [c for c in there if (row, c) not in taken and (row, c) not in fates]
        return there

    head = [(r, c) for r in rows for c in own(r)]
    block = Block(grid, False, head, _joined_heads(grid, rows, first, last), [], [], without=(fates, taken))
    needed = {c for c, text in block.heads.items() if heading_of(text).role in TELLING}
    usual = max(2, len(block.heads))
    for row in range(rows[-1] + 1, below):
        there = own(row)
        if not there:
            continue
        texts = [grid.text((row, c)) for c in there]
        merged = {c for c in block.heads if (row, c) in grid.home}
        if says_total(texts[0]) and said.get(row) != "line":
            fates |= dict.fromkeys(((row, c) for c in there), "total")
            busy.add(row)
        elif all(block.heads.get(c) == t for c, t in zip(there, texts, strict=True)) and len(there) > 1:
            fates |= dict.fromkeys(((row, c) for c in there), "heading")
            busy.add(row)
        elif said.get(row) == "line" or _is_line(there, texts, needed, usual, merged, block):
            block.lines.append(row)
        elif said.get(row) != "title" and block.lines and len(there) > FOOT:
            block.lines.append(row)  # a line that lacks what it needs: asked, never passed over
    block.fields = sorted({c for r in block.lines for c in own(r)} | set(block.heads))
    return block


def _is_line(
    there: Sequence[int], texts: Sequence[str], needed: set[int], usual: int, merged: set[int], block: Block
) -> bool:
    """Whether a row is a line of the table, and no title, note or remark beside it."""
    if len(there) == 1 and not merged:
        role = heading_of(block.heads.get(there[0], "")).role
        if role == "core" and texts[0][:1].isdecimal():
            return True
        return usual < 3 and not heading_of(texts[0]).role
    return bool(needed & (set(there) | merged)) and there[0] <= max(block.heads)


def _joined_heads(grid: Grid, rows: Sequence[int], first: int, last: int) -> dict[int, str]:
    """Return each column's heading; an upper one runs on over blank cells to the right, as over a merged cell."""
    columns = sorted({c for r in rows for c in grid.by_row[r] if first <= c <= last})
    out = {}
    running = dict.fromkeys(rows[:-1], "")
    for c in columns:
        parts = []
        for r in rows:
            text = grid.text((r, c))
            if r != rows[-1]:
                running[r] = text or running[r]
                text = running[r]
            if text and text not in parts:
                parts.append(" ".join(text.split()))
        out[c] = " / ".join(parts)
    return out


def _strays(grid: Grid, blocks: Sequence[Block], fates: dict[Position, str]) -> list[Position]:
    used = Owned(blocks)
    return [(r, c) for r, there in grid.by_row.items() for c in used.free(r, there) if (r, c) not in fates]


def _give_titles(blocks: Sequence[Block], strays: Sequence[Position]) -> None:
    """Give each stray to the tables for which it holds: those below it until the next, or the lines that follow it."""
    beside: dict[int, list[Block]] = {}
    for block in blocks:
        if not block.turned:
            beside.setdefault(block.first[0], []).append(block)
    for at in strays:
        for block in blocks:
            if block.turned:
                holds = at[0] < min(block.fields) and at[1] <= max(block.lines)
                begins = min(block.lines)
            else:
                left = min(block.fields)
                right = min((min(b.fields) for b in beside[block.first[0]] if min(b.fields) > left), default=100_000)
                wide = at[1] + block.grid.wide.get(at, 1) - 1
                nearer = any(other[0] == at[0] and left <= other[1] < right for other in strays)
                holds = at[0] < max(block.lines) and at[1] < right and (wide >= left or not nearer)
                begins = at[0]
            if holds:
                block.titles[at] = begins
