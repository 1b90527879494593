"""Typed text on paper: every character is seen, no text is endless, no word is wider than its column."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from typing import Any

from fibrebook.drawings.svg import clean
from fibrebook.words.printable import visible

MOST = 600  # letters of one text on paper; the register keeps them all
LONG = 16  # letters of a word that stays in one piece
BREAK = "\u200b"


def printed(value: Any, most: int = MOST) -> str:
    """Return a value as it is printed.

    None and NaN are blank, a day is ISO, a number short. Blanks run together; what cannot be seen, or turns the
    direction of text, is written by its number, as <U+202E>; a text of more than `most` letters is cut, and says so.
    """
    if value is None or value != value:
        return ""
    if isinstance(value, dt.date):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, float):
        return f"{value:g}"
    text = str(value)
    cut = f"… ({len(text):,} letters in all)" if len(text) > most else ""
    return visible(clean(" ".join(text[:most].split()))) + cut


def break_long(text: str, long: int = LONG) -> str:
    """Return a text whose words of more than `long` letters may break anywhere."""
    return _words_over(long).sub(lambda word: BREAK.join(word[0]), text) if len(text) > long else text


@lru_cache(maxsize=64)
def _words_over(long: int) -> re.Pattern[str]:
    return re.compile(rf"[^\s{BREAK}]{{{long + 1},}}")
