"""Which characters can be seen, and how one that cannot be seen is written where people read.

A character that leaves no mark, or that turns the direction of what follows, makes two labels that read alike; a
control character can do as it likes with a terminal. Source: the general categories and the default-ignorable code
points of the Unicode Character Database (from memory).
"""

from __future__ import annotations

import unicodedata

import pyarrow as pa
import pyarrow.compute as pc

# As RE2 writes it, for pyarrow. Controls, formats, private and lone surrogates; line and paragraph separators; all
# blanks but the space; then letters and marks that are drawn as nothing.
UNSEEN = (
    r"[\p{C}\p{Zl}\p{Zp}\x{00A0}\x{1680}\x{2000}-\x{200A}\x{202F}\x{205F}\x{3000}"
    r"\x{034F}\x{115F}\x{1160}\x{17B4}\x{17B5}\x{180B}-\x{180F}\x{2800}\x{3164}\x{FE00}-\x{FE0F}\x{FFA0}"
    r"\x{E0100}-\x{E01EF}]"
)
LEFT = "\n\t"  # what stays as it is in print: our own lines and gaps
AT_WORK = ("Cc", "Cf", "Cs", "Zl", "Zp")  # categories of what acts on a terminal, or turns the direction of text


def code_point(character: str) -> str:
    """Return a character by its number, as U+200B."""
    return f"U+{ord(character):04X}"


def first_unseen(text: str) -> str:
    """Return the first character of a text that cannot be seen by its number; "" where all can."""
    marked = pc.replace_substring_regex(pa.array([text]), UNSEEN, "\x00")[0].as_py()
    at = marked.find("\x00")
    return code_point(text[at]) if at >= 0 else ""


def acts(character: str) -> bool:
    """Whether a character does something to a terminal, or to the text around it, instead of being seen."""
    return unicodedata.category(character) in AT_WORK and character not in LEFT


def visible(text: str) -> str:
    """Return a text in which every character that acts on a terminal is written by its number: <U+001B>."""
    if text.translate(_NOT_LEFT).isprintable():
        return text
    return "".join(f"<{code_point(c)}>" if acts(c) else c for c in text)


_NOT_LEFT = dict.fromkeys(map(ord, LEFT))
