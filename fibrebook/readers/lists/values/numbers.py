"""Core numbers, ports and labels as the trade writes them: 1-4, 1,3,5-8, 5A/5B, C07-3, PP1-12, 1rot.

Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from fibrebook.reference.colours import MOST_CORES

NOTHING = {
    "-", "--", "---", "–", "—", ".", "n/a", "n.a.", "na", "n/t", "nt", "none", "nil", "tba", "tbc", "spare", "dark",
    "free", "unused", "not used", "not terminated", "unterminated", "not made off", "not connected", "n/c", "nc",
    "frei", "leer", "reserve", "nicht belegt", "libre", "vide", "coiled", "coiled up", "empty", "blank", "vacant", "?",
}  # fmt: skip
_TO = r"\s*(?:-|–|—|\.\.\.?|to|bis|thru|through|à)\s*"
_RANGE = re.compile(rf"(\d{{1,4}}){_TO}(\d{{1,4}})", re.IGNORECASE)
_PARTS = re.compile(r"\s*(?:,|;|&|\+|\n|\band\b|\bund\b|\bet\b)\s*", re.IGNORECASE)
_WORD_BEFORE = re.compile(r"(?i)^(?:cores?|fib(?:re|er)s?|ports?|adern?|fasern?|fo|f|no\.?|nr\.?|#)\s*[.:#]?\s*(?=\d)")
_PORT_PARTS = re.compile(r"(\D*?)(\d{1,4})([A-Za-z]?)")
_ONLY_WORD = re.compile(r"(?i)(cores?|fib(re|er)s?|ports?|adern?|tubes?|t|no\.?|\d+ (to|bis|and|thru|through))")
_ONE = r"\d{1,4}[A-Za-z]?"
_MORE = rf"{_ONE}(?:\s*(?:-|–|,|&|\+|\bto\b)\s*{_ONE})*"
_MARKS = (
    ("/", re.compile(rf"([^/]{{1,40}}?)\s*/\s*({_MORE})", re.IGNORECASE)),
    (":", re.compile(rf"([^:]{{1,40}}?)\s*:\s*({_MORE})", re.IGNORECASE)),
    ("port", re.compile(rf"(.{{1,40}}?)[\s,]+(?:port|core|fibre|ader)\.?\s*({_MORE})", re.IGNORECASE)),
    ("-", re.compile(rf"([^\s].{{0,38}}?[^\s-])-({_ONE})", re.IGNORECASE)),
    (".", re.compile(rf"([^.]{{1,40}}?)\.({_ONE})", re.IGNORECASE)),
    (" ", re.compile(rf"(.{{1,40}}?)\s+({_MORE}|\d{{1,4}}/\d{{1,4}})", re.IGNORECASE)),
)  # a thing, what parts it from the figures, the figures
_NUMBER_COLOUR = re.compile(r"(\d{1,4})\s*[-:./]?\s*([^\W\d_][^\d]*)")


@dataclass(frozen=True, slots=True)
class Numbers:
    """Several numbers in one cell; `pair`: they were written with a stroke, as 5/6."""

    values: tuple[int, ...]
    pair: bool = False


@lru_cache(maxsize=50_000)
def says_nothing(text: str) -> bool:
    """Whether a cell says that there is nothing: a dash, n/t, spare."""
    return text.casefold().strip(" ()*") in NOTHING


@lru_cache(maxsize=50_000)
def numbers(text: str) -> Numbers | None:
    """Return the whole numbers that a cell lists; None where it is anything else."""
    plain = _WORD_BEFORE.sub("", text.strip())
    pair = re.fullmatch(r"(\d{1,4})\s*/\s*(\d{1,4})", plain)
    if pair:
        a, b = int(pair[1]), int(pair[2])
        return Numbers((a, b), True) if b == a + 1 else None
    out: list[int] = []
    for part in _PARTS.split(plain):
        found = _RANGE.fullmatch(part)
        if found:
            a, b = int(found[1]), int(found[2])
            if not a < b or b - a >= MOST_CORES:
                return None
            out += range(a, b + 1)
        elif part.isascii() and part.isdecimal() and len(part) <= 4:
            out.append(int(part))
        else:
            return None
    return Numbers(tuple(out)) if out and len(out) == len(set(out)) <= MOST_CORES else None


@lru_cache(maxsize=50_000)
def number_and_colour(text: str) -> tuple[int, str] | None:
    """Return number and colour of a cell such as 1rot, 7 red, 3-green; None where it is anything else."""
    from fibrebook.readers.lists.values.colours import colour

    found = _NUMBER_COLOUR.fullmatch(text.strip())
    read = colour(found[2].strip(" ()")) if found else None
    return (int(found[1]), read) if found and read else None


@lru_cache(maxsize=50_000)
def ports(text: str) -> tuple[str, ...] | None:
    """Return the labels of ports that a cell lists: 3, 1-4, 5A/5B, 5/6; None where it is anything else."""
    plain = _WORD_BEFORE.sub("", text.strip())
    if len(plain) > 200:
        return None
    found = numbers(plain)
    if found:
        return tuple(map(str, found.values)) if len(found.values) > 1 else (plain,)
    stroke = [p.strip() for p in plain.split("/")]
    if len(stroke) == 2 and all(_PORT_PARTS.fullmatch(p) for p in stroke):
        a, b = (_PORT_PARTS.fullmatch(p) for p in stroke)
        if a and b and a[1] == b[1] and a[3] and b[3] and a[2] == b[2]:
            return tuple(stroke)
        return None
    out: list[str] = []
    for part in _PARTS.split(plain):
        ends = re.split(_TO, part, maxsplit=1) if not re.search(r"\s-|-\s|^\D*\d+$", part) else [part]
        if len(ends) == 2:
            a, b = (_PORT_PARTS.fullmatch(e.strip()) for e in ends)
            if not (a and b and a[1] == b[1] and a[3] == b[3] == "" and int(a[2]) < int(b[2]) < int(a[2]) + 500):
                return None
            out += [f"{a[1]}{n}" for n in range(int(a[2]), int(b[2]) + 1)]
        elif re.fullmatch(r"[^\s,;/]{1,12}", part):
            out.append(part)
        else:
            return None
    return tuple(out) if out and len(out) == len(set(out)) else None


@dataclass(frozen=True, slots=True)
class InTwo:
    """A cell with a thing and what is in it: panel and ports, or cable and cores."""

    first: str
    mark: str
    rest: str


@lru_cache(maxsize=50_000)
def in_two(text: str) -> InTwo | None:
    """Part `P1/1`, `PP1-12`, `C07-3`, `WB1 port 2`, `P1:1-4`: what has a letter, a mark, then figures."""
    plain = " ".join(text.split())
    if len(plain) > 80 or not re.search(r"[^\W\d_]", plain):
        return None
    for mark, form in _MARKS:
        found = form.fullmatch(plain)
        if found and re.search(r"[^\W\d_]", found[1]) and not _ONLY_WORD.fullmatch(found[1].strip()):
            return InTwo(found[1].strip(), mark, found[2].strip())
    return None


def is_label(text: str) -> bool:
    """Whether a text may be the label of a thing: short, one line, a few words."""
    return 0 < len(text) <= 40 and "\n" not in text and len(text.split()) <= 5
