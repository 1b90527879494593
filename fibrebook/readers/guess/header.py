"""Which row of a sheet heads its table: the one whose words are known, with the row above where that tells more."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fibrebook.readers.files.sheets import Sheet, is_blank, shown
from fibrebook.readers.guess.headings import meanings

LOOK_AT = 60  # rows from the top in which a header is looked for
LEAST = 2  # columns whose meaning must be known before a row counts as a header
TELLING = ("cable", "core", "a_port", "a_panel_port", "core_count")  # a header has at least one of these


@dataclass(frozen=True)
class Header:
    """A header: its lowest row, how many rows it takes (1 or 2), its score, its headings and what they mean."""

    row: int
    rows: int
    score: float
    headings: list[str]
    meant: list[str]


def header_of(sheet: Sheet) -> Header | None:
    """Return the row that looks most like a header, with the row above it where that tells more."""
    best: Header | None = None
    above: list[str] = []
    for number, row in enumerate(sheet.rows[:LOOK_AT], 1):
        texts = ["" if is_blank(v) else text_of(v) for v in row]
        for rows, headings in ((1, texts), (2, _under(above, texts))):
            found = meanings(headings)
            known = {m for m in found if m}
            if len(known) < LEAST or not known & set(TELLING):
                continue
            numbers = sum(bool(re.fullmatch(r"[\d.,/]+", t)) for t in texts)
            score = len(known) - numbers - 0.2 * sum(len(t) > 40 for t in texts) - 0.5 * (rows - 1)
            if best is None or score > best.score:
                best = Header(number, rows, score, headings, found)
        above = texts
    return best


def _under(above: Sequence[str], texts: Sequence[str]) -> list[str]:
    """Headings of two rows: the upper ones run on to the right until the next."""
    running, out = "", []
    for i, text in enumerate(texts):
        running = (above[i] if i < len(above) else "") or running
        out.append(f"{running} {text}".strip() if running != text else text)
    return out


def header_at(sheet: Sheet, number: int) -> Header | None:
    """Return a row as the header, whatever it looks like; None where the sheet has no such row."""
    if not 1 <= number <= len(sheet.rows):
        return None
    texts = ["" if is_blank(v) else text_of(v) for v in sheet.rows[number - 1]]
    return Header(number, 1, 0.0, texts, meanings(texts)) if any(texts) else None


def text_of(value: Any) -> str:
    """Return a cell's value as one line of text."""
    return " ".join(shown(value).split())
