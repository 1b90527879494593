"""A layout's regular expressions, bounded: no text keeps one busy for longer than SECONDS.

The standard library's cannot be stopped once they run, so the package regex does the matching.
"""

from __future__ import annotations

import math
import re
import warnings

import regex

from fibrebook.errors import LayoutError

SECONDS = 1.0  # for one text; far more than any sound pattern needs
MOST_CHARACTERS = 1_000
MOST_REPEATS = 10_000  # all counts of a pattern multiplied; repeats are written out when it is made ready
Pattern = regex.Pattern[str]


def compiled(text: str) -> Pattern:
    """Return a regular expression; ValueError that says what is wrong with it."""
    if len(text) > MOST_CHARACTERS:
        raise ValueError(f"it has {len(text):,} characters, more than {MOST_CHARACTERS:,}")
    counts = [max(int(n or 1) for n in found) for found in re.findall(r"\{([0-9]*),?([0-9]*)\}", text)]
    if math.prod(max(n, 1) for n in counts) > MOST_REPEATS:
        raise ValueError(f"its counts in braces make more than {MOST_REPEATS:,} repeats of repeats")
    try:
        with warnings.catch_warnings(action="ignore", category=FutureWarning):
            re.compile(text)  # what only the other package knows (recursion, say) is no part of a layout
            return regex.compile(text)
    except (re.error, regex.error, OverflowError, RecursionError, MemoryError, KeyError, IndexError) as error:
        raise ValueError(str(error) or type(error).__name__) from error


def fits(pattern: Pattern, text: str) -> regex.Match[str] | None:
    """Return the match where the whole text fits, else None; LayoutError where that is not known in time."""
    try:
        return pattern.fullmatch(text, timeout=SECONDS)
    except (TimeoutError, MemoryError) as error:
        raise _endless(pattern, text) from error


def replaced(pattern: Pattern, by: str, text: str) -> str:
    """Return the text with every match replaced; LayoutError where that takes too long."""
    try:
        return pattern.sub(by, text, timeout=SECONDS)
    except (TimeoutError, MemoryError) as error:
        raise _endless(pattern, text) from error


def _endless(pattern: Pattern, text: str) -> LayoutError:
    return LayoutError(
        f"the pattern {pattern.pattern!r} takes more than {SECONDS:g} s or the memory there is "
        f"on the text {text[:60]!r}; write it without a repetition inside a repetition"
    )
