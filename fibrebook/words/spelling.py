"""One label as different people write it: what counts as the same spelling.

Three readings, from the strictest: as it is written; with case, width of letters and blanks made alike; as words, with
the strokes between them, the noughts before a figure and the ".0" that a spreadsheet adds left out. A raised or lowered
figure is never taken for a figure: "1²" is core 1 with the mark of a footnote oftener than core 12.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from fibrebook.words.labels import whole_number

# Blanks, strokes, brackets and every dash that a text program makes of a hyphen.
_PARTING = re.compile(r"[\s/\\\-\u2010-\u2015\u2212_,;:()]+")
_MINUS = re.compile(
    r"(?<![^\W_])[-\u2212](?=\d)"
)  # no letter or figure before it: a number below nought, and no stroke
_SAME_LETTER = ("<wide>", "<narrow>", "<noBreak>", "<compat>")  # kinds of the Unicode Character Database (UAX 44)
_AS_SPREADSHEETS_WRITE = re.compile(r"(\d+)\.0+")


def as_written(text: object) -> str:
    """Return a label without the blanks at its ends."""
    return str(text).strip()


def plain(text: object) -> str:
    """Return a label with case, width of letters and number of blanks made alike; figures stay what they are."""
    said = str(text)
    if not said.isascii():
        composed = unicodedata.normalize("NFC", said)
        said = "".join(
            unicodedata.normalize("NFKC", c) if unicodedata.decomposition(c).startswith(_SAME_LETTER) else c
            for c in composed
        )
    return " ".join(said.casefold().split())


def parted(text: object) -> list[str]:
    """Return the words of a text, made plain; blanks, strokes, dashes, commas and brackets part them; "-1" is one."""
    kept = _MINUS.sub("\0", plain(text))
    return [word.replace("\0", "-") for word in _PARTING.split(kept) if word]


def as_words(text: object) -> tuple[str, ...]:
    """Return the words of a label with its figures in one form: "C/01", "c-1" and "C 1.0" are all ("c", "1")."""
    return tuple(_in_one_form(word) for word in parted(text))


def _in_one_form(word: str) -> str:
    number = number_said(word)
    return word if number is None else str(number)


def number_said(text: str) -> int | None:
    """Return the number that somebody wrote: "7", "07", "7.0"; None where it is none ("²", "-3", "7.5", "")."""
    spread = _AS_SPREADSHEETS_WRITE.fullmatch(text.strip())
    return whole_number(spread[1] if spread else text)


READINGS: tuple[Callable[[object], str], ...] = (as_written, plain)
