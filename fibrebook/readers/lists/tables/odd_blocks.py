"""Tables of the rarer kinds: laid across, with headings in a column; and without any headings."""

from __future__ import annotations

from fibrebook.readers.files.limits import Position
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.grid import Grid
from fibrebook.readers.lists.tables.owned import Owned
from fibrebook.readers.lists.tables.roles import TELLING, heading_of, is_heading

MOST_COLUMNS_AHEAD = 40  # in which headings one below another are looked for


def turned(grid: Grid, fates: dict[Position, str]) -> list[Block]:
    """Tables whose headings stand one below another, and whose lines run across."""
    blocks: list[Block] = []
    rows_of: dict[int, list[int]] = {}
    for r, columns in grid.by_row.items():
        for c in columns:
            rows_of.setdefault(c, []).append(r)
    for column in sorted(rows_of)[:MOST_COLUMNS_AHEAD]:
        run: list[int] = []
        for row in [*rows_of[column], 0]:
            if run and (row != run[-1] + 1 or not is_heading(grid.text((row, column)))):
                made = _turned_block(grid, column, run, {at for b in blocks for at in [*b.head, *b.cells()]}, fates)
                blocks += [made] if made else []
                run = []
            if row and (row, column) not in fates and is_heading(grid.text((row, column))):
                run.append(row)
    return blocks


def _turned_block(
    grid: Grid, column: int, run: list[int], taken: set[Position], fates: dict[Position, str]
) -> Block | None:
    heads_of = [heading_of(grid.text((r, column))) for r in run]
    roles = [(h.role, h.end) for h in heads_of]
    telling = {h.role for h in heads_of} & TELLING
    if len(run) < 2 or len(set(roles)) < len(roles) or not telling or (run[0], column) in taken:
        return None
    lines: list[int] = []
    right = sorted({c for r in run for c in grid.by_row[r] if c > column})
    for c in right:
        if (
            any(is_heading(grid.text((r, c))) or (r, c) in taken for r in run)
            or c > (lines[-1] if lines else column) + 2
        ):
            break
        lines.append(c)
    if len(lines) < 2:
        return None
    heads = {r: grid.text((r, column)) for r in run}
    return Block(grid, True, [(r, column) for r in run], heads, lines, run, without=(fates,))


def headless(grid: Grid, used: Owned, fates: dict[Position, str], headed: bool) -> list[Block]:
    """Rows of several cells that stand under no headings, `used` apart: a table whose columns are to be said."""
    found: list[Block] = []
    run: list[int] = []
    rows = list(grid.by_row)
    for row in [*rows, (rows[-1] if rows else 0) + 5]:
        free = [c for c in used.free(row, grid.by_row.get(row, ())) if (row, c) not in fates]
        pair = len(free) == 2 and grid.text((row, free[0])).rstrip().endswith(":")
        if len(free) > 1 and not pair and (not run or row == run[-1] + 1):
            run.append(row)
            continue
        if len(run) >= (3 if headed else 2):
            fields = sorted({c for r in run for c in used.free(r, grid.by_row[r])})
            found.append(Block(grid, False, [], {}, run, fields, without=(fates, used)))
        run = [row] if len(free) > 1 and not pair else []
    return found
