"""Colours as people write them: words, trade abbreviations, with a tracer, two in one cell; and which code they fit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from fibrebook.reference.colours import codes, line, read_colour
from fibrebook.reference.tables import cached

_SEPARATORS = re.compile(r"\s*(?:/|-|–|,|;|\+|>|:|\n)\s*")
FULL_TUBE = 12


@lru_cache(maxsize=20_000)
def colour(text: str) -> str | None:
    """Return the colour that a text is, in whatever language; words of a mark beside it ("red ring") may follow."""
    plain = " ".join(text.split()).strip(" .,()")
    if len(plain) == 1:  # B is blue, black and brown to somebody
        return None
    found = read_colour(plain)
    if found:
        return found
    words = plain.split()
    mark = re.compile(
        r"(?i)(ring|rings|stripe|stripes|mark|marks|tracer|dash|band|with|w/|strich|mit|core|fibre|tube|\(.*)"
    )
    for count in range(len(words) - 1, 0, -1):
        found = read_colour(" ".join(words[:count]).rstrip(".,;:"))
        if found and mark.match(words[-1]):
            return found
    return None


def has_mark(text: str) -> bool:
    """Whether a colour has more beside it than its word: a ring, a stripe."""
    return colour(text) is not None and read_colour(" ".join(text.split()).strip(" .,()")) is None


@lru_cache(maxsize=20_000)
def two_colours(text: str) -> tuple[str, str] | None:
    """Return the two colours of `Bl/Or` or `blue - orange`; None where it is anything else."""
    parts = [p for p in _SEPARATORS.split(text.strip()) if p]
    if len(parts) != 2:
        parts = text.split()
    if len(parts) != 2:
        return None
    first, second = map(colour, parts)
    return (first, second) if first and second else None


def fitting_codes(pairs: Sequence[tuple[int, str]], extra: Mapping[str, Sequence[str]] | None = None) -> list[str]:
    """Return the colour codes by which every position has its colour, the commonest code first.

    Parameters
    ----------
    pairs : position in the tube (from 1) and colour
    """
    out = []
    for code in [*(extra or {}), *codes()]:
        words = _first_tube(code, extra)
        if all(1 <= n <= len(words) and words[n - 1] == c for n, c in pairs):
            out.append(code)
    return out


def place_of(colour_word: str, code: str, extra: Mapping[str, Sequence[str]] | None = None) -> int | None:
    """Return the position, from 1, of a colour in a code's first twelve; None where it has none."""
    return places_of(code, extra).get(colour_word)


def places_of(code: str, extra: Mapping[str, Sequence[str]] | None = None) -> dict[str, int]:
    """Return colour -> its position, from 1, in a code's first twelve."""
    return {word: n for n, word in reversed(list(enumerate(_first_tube(code, extra), 1)))}


def _first_tube(code: str, extra: Mapping[str, Sequence[str]] | None) -> list[str]:
    return _published_tube(code) if not extra else _tube(code, extra)


@cached
def _published_tube(code: str) -> list[str]:
    return _tube(code, None)


def _tube(code: str, extra: Mapping[str, Sequence[str]] | None) -> list[str]:
    return [read_colour(w) or w for w in line(code, FULL_TUBE, extra, partly=True)[0]]
