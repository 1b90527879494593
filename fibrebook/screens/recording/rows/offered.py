"""What there is to choose from: labels in the order in which people read them, and what stays chosen of others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fibrebook.words.labels import natural


def labels(table: Any, column: str) -> list[str]:
    """Return the labels in a column, 2 before 10."""
    return sorted({v for v in table[column].to_pylist() if v}, key=natural)


def still_chosen(chosen: Any, values: Sequence[Any]) -> Any:
    """Return what is chosen of other values: the same as before, if it is still among them; else the first."""
    return chosen if chosen in values else values[0] if values else None
