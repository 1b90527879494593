"""Part of a long list: its headings, titles and the rows that are looked at, each where it stands in the whole."""

from __future__ import annotations

from dataclasses import replace

from fibrebook.readers.found.found_sheet import FoundBook
from fibrebook.readers.lists.reading import Reading

TOP = 12  # rows of each sheet that are always part of it
AROUND = 150  # rows before and after those looked at, so that a cable's cores are mostly all there


def part_of(reading: Reading, sheet: str, seen: range) -> FoundBook:
    """Return a book like the reading's of which only some rows hold anything: those in `seen` of one sheet, the first
    of each, and those of headings and titles. Row numbers stay what they are.
    """
    kept: dict[str, set[int]] = {s.name: set(range(1, TOP + 1)) for s in reading.book.sheets}
    kept.setdefault(sheet, set()).update(range(max(1, seen.start - AROUND), seen.stop + AROUND))
    for block, _, _ in reading.whole.blocks:
        rows = kept[block.grid.sheet.name]
        rows.update(r for r, _ in block.head)
        rows.update(r for r, _ in block.titles)
        if block.turned:
            rows.update(block.fields)
    book = reading.book
    sheets = [
        replace(s, rows=[row if n in kept[s.name] else [] for n, row in enumerate(s.rows, 1)],
                faults={at: fault for at, fault in s.faults.items() if at[0] in kept[s.name]})
        for s in book.sheets
    ]  # fmt: skip
    return replace(book, sheets=sheets)
