"""One label as people write it: its order among others, its digits, the next one, and what counts as the same."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

_DIGITS = re.compile(r"(\d+)")


@lru_cache(maxsize=100_000)
def natural(label: str | None) -> tuple[tuple[int, int, str], ...]:
    """Sort key of a label by which 2 stands before 10, and capitals beside small letters."""
    parts = _DIGITS.split(label or "")
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p.casefold()) for p in parts if p)


def natural_rank(labels: Sequence[str]) -> npt.NDArray[np.int64]:
    """Return the rank of each label as people sort them (2 before 10); shape (labels,)."""
    order = sorted(range(len(labels)), key=lambda i: (natural(labels[i]), labels[i]))
    rank = np.empty(len(labels), np.int64)
    rank[order] = np.arange(len(labels))
    return rank


def whole_number(text: str) -> int | None:
    """Return the whole number that a text is, in digits only ("7", "007"), else None: "", "1.0", "-3", "²" are none.

    `str.isdigit` takes raised figures for digits, which `int` does not read: ask here instead.
    """
    plain = text.strip()
    return int(plain) if plain.isdecimal() and len(plain) <= 18 else None


def next_labels(labels: Iterable[str | None], count: int = 1, first: str = "1") -> list[str]:
    """Return the labels that come after the last of some, as they are written: PC-007, then PC-008, PC-009.

    The last is the last in natural order that ends in a figure; where none does, `first` and what comes after it.
    """
    ending = [label for label in labels if label and _head_and_figure(label)[1]]
    if not ending:
        return [first, *next_labels([first], count - 1)][:count] if count > 0 else []
    head, figure = _head_and_figure(max(ending, key=natural))
    return [f"{head}{int(figure) + n:0{len(figure)}d}" for n in range(1, count + 1)]


def _head_and_figure(label: str) -> tuple[str, str]:
    head = label.rstrip("0123456789")
    return head, label[len(head) :]


def folded(text: object) -> str:
    """Fold a text for comparing: no difference of case or of width of letters, single blanks, none at the ends."""
    return " ".join(unicodedata.normalize("NFKC", str(text)).casefold().split())


def bare(text: object) -> str:
    """Return a text's folded letters and figures alone: what is the same name however it is punctuated."""
    return re.sub(r"[\W_]+", "", str(text).casefold())
