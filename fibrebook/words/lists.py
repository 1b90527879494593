"""Several words or numbers as people say them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def both(words: Sequence[str]) -> str:
    """Join words as people do: "a", "a and b", "a, b and c"; "" for none."""
    return _joined(words, "and")


def either(words: Sequence[str]) -> str:
    """Join words of which one is meant: "a", "a or b", "a, b or c"; "" for none."""
    return _joined(words, "or")


def _joined(words: Sequence[str], last: str) -> str:
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else "".join(words)


def first_few(words: Sequence[str], most: int = 12) -> str:
    """Return the first words of a list, with dots where more follow."""
    return ", ".join(words[:most]) + ("..." if len(words) > most else "")


def runs_of(values: Iterable[int]) -> str:
    """Say whole numbers as people do: "1 to 4, 7, 9, 10"."""
    runs: list[list[int]] = []
    for value in sorted(values):
        if runs and value == runs[-1][1] + 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    return ", ".join(f"{a} to {b}" if b > a + 1 else f"{a}, {b}" if b > a else str(a) for a, b in runs)
