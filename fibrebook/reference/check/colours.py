"""Checks of colours: twelve different ones, known words, and text that can be read on them."""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.reference.check.held import Finding, Row, Tables, found


def colours_of_a_code_are_different_ones(t: Tables) -> Iterator[Finding]:
    """A code that could not tell two cores apart would be wrong: its colours differ, and each is a known word."""
    known = {row[c] for row in t["colour_words"] for c in ("colour", "spelling")}
    by: dict[str, list[Row]] = {}
    for row in t["colour_codes"]:
        by.setdefault(row["code"], []).append(row)
    for rows in by.values():
        places = [row["position"] for row in rows] == list(range(1, len(rows) + 1))
        differ = len({row["colour"] for row in rows}) == len(rows)
        for row in rows:
            yield Finding(row, places and differ and row["colour"] in known, f"{len(rows)} different known colours")


def luminance(text: str) -> float:
    """Return the relative luminance of a #rrggbb colour (W3C WCAG 2)."""
    parts = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def drawing_colours_can_be_read(t: Tables) -> Iterator[Finding]:
    """Text on each drawing colour has a contrast of at least 3 to 1 (W3C WCAG 2)."""
    for row in t["colour_words"]:
        if row["hex"]:
            light, dark = sorted((luminance(row["hex"]), luminance(row["text_hex"])), reverse=True)
            yield found(row, (light + 0.05) / (dark + 0.05), 3.0, 21.0, "contrast of its text, W3C WCAG 2")


COLOUR_CHECKS = (colours_of_a_code_are_different_ones, drawing_colours_can_be_read)
