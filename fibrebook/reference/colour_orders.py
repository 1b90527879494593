"""Colour codes: which colour, and which tracer, a given position of a code has; colour words and their spellings.

The orders, the rule for positions beyond the list and the spellings are tables (`colour_codes`, `tracers`,
`colour_words`, `colour_code_names`); what is not established there is an error, not a guess.
`extra` is a firm's own lists: {code name: colour words in order}; they go before ours. Beyond its end such a list
repeats with the tracers of TIA-598; a list may be as long as is needed to have none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from fibrebook.errors import ValueSourceError
from fibrebook.reference.tables import cached, rows

Extra = Mapping[str, Sequence[str]] | None

OWN_LIST_TRACERS = "TIA-598"  # whose tracers a firm's own list takes beyond its end
COUNT_WORDS = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]


def codes() -> list[str]:
    """Return the names of the built-in colour codes."""
    return list(_orders())


def order(code: str, extra: Extra = None) -> list[str]:
    """Return the colours of positions 1, 2, 3... as that code spells them, without tracers (8 or 12 of them).

    Raises ValueSourceError for an unknown code, naming the known ones.
    """
    return list(_found(code, extra)[1])


def colour_of(code: str, positions: np.ndarray, extra: Extra = None) -> tuple[np.ndarray, np.ndarray]:
    """Return (colour, tracer) of many positions; positions count from 1, shape (n,); "" = no tracer.

    Returns two object arrays of shape (n,). Raises ValueSourceError for a position that the code does not
    establish (0, negative, or beyond its list where no tracer rule is established).
    """
    wanted = np.atleast_1d(np.asarray(positions))
    if wanted.size == 0:
        return np.empty(0, object), np.empty(0, object)
    if not np.issubdtype(wanted.dtype, np.integer) or wanted.min() < 1:
        raise ValueSourceError("A position in a colour code is a whole number from 1; 0, fractions and blanks are not.")
    colours, tracers = line(code, int(wanted.max()), extra)
    return np.array(colours, object)[wanted - 1], np.array(tracers, object)[wanted - 1]


def line(code: str, count: int, extra: Extra = None, *, partly: bool = False) -> tuple[list[str], list[str]]:
    """Return colours and tracers of positions 1..count; partly=True stops short where nothing is established."""
    name, base, rule = _found(code, extra)
    if count > len(base) and not rule:
        if not partly:
            raise ValueSourceError(
                f"Position {count} of colour code {name!r} is not established here (only 1 to {len(base)} are). "
                f"Give the firm's own list for this code, as it is printed on the cable's sheet."
            )
        count = len(base)
    colours, tracers = list(base[:count]), [""] * min(count, len(base))
    for position in range(len(base), count):
        colour, tracer = _marked(base[position % len(base)], position // len(base), rule)
        colours.append(colour)
        tracers.append(tracer)
    return colours, tracers


def read_colour(text: object, code: str | None = None, extra: Extra = None) -> str | None:
    """Return the colour word for any spelling (grey, slate, GY, grau), or None if it is no colour.

    With a code: as that code spells it (slate in TIA-598, grey in IEC 60304), if the code has that colour.
    """
    key = re.sub(r"[\s.\-_]+", " ", str(text).casefold()).strip()
    word = _spellings().get(key)
    if word is None or code is None:
        return word
    return next((own for own in order(code, extra) if _spellings().get(own.casefold()) == word), word)


def hex_of(word: str) -> str:
    """Return the colour to draw with, as #rrggbb; any spelling is understood."""
    return _inks(word)[0]


def text_on(word: str) -> str:
    """Return the text colour that is readable on that colour (#000000 or #ffffff)."""
    return _inks(word)[1]


def canonical_code(code: str, extra: Extra = None) -> str:
    """Return the one name of a colour code, aliases and editions understood (DIN VDE 0888 is IEC 60304)."""
    return _found(code, extra)[0]


def _marked(base: str, rounds: int, rule: Mapping[str, tuple[str, str, str]]) -> tuple[str, str]:
    """Return a repeated colour and its tracer; rounds = how many times the list was run through before."""
    becomes, mark, marks = rule.get(read_colour(base) or base) or rule[""]
    count = COUNT_WORDS[rounds - 1] if rounds <= len(COUNT_WORDS) else str(rounds)
    return becomes or base, f"{count} {mark if rounds == 1 else marks}"


def _found(code: str, extra: Extra) -> tuple[str, Sequence[str], Mapping[str, tuple[str, str, str]]]:
    """Return (name, base colours, tracer rule by colour) of a code; the firm's own lists first."""
    key = _squashed(code)
    for name, colours in (extra or {}).items():
        if _squashed(name) == key:
            if isinstance(colours, str) or not len(colours) or not all(isinstance(c, str) and c for c in colours):
                raise ValueSourceError(f"The firm's own colour list {name!r} must be a list of colour words.")
            return name, colours, _tracer_rules()[OWN_LIST_TRACERS]
    known = _aliases().get(key)
    if known is None:
        own = [f"{name} (own)" for name in extra or {}]
        raise ValueSourceError(f"Unknown colour code {code!r}. Known: {', '.join([*codes(), *own])}.")
    return known, _orders()[known], _tracer_rules().get(known, {})


def _squashed(name: object) -> str:
    return re.sub(r"[^0-9a-z]+", "", str(name).casefold())


@cached
def _orders() -> dict[str, tuple[str, ...]]:
    """Return each code's colours; a gap or a repeated position in the table is an error."""
    found: dict[str, dict[int, str]] = {}
    for row in rows("colour_codes"):
        positions = found.setdefault(row["code"], {})
        if row["position"] in positions:
            raise ValueSourceError(
                f"{row['file']}, line {row['line']}: position {row['position']} of {row['code']} stands twice."
            )
        positions[row["position"]] = row["colour"]
    for code, positions in found.items():
        if sorted(positions) != list(range(1, len(positions) + 1)):
            raise ValueSourceError(f"Colour code {code!r} has a gap: positions {sorted(positions)}.")
    return {code: tuple(positions[p] for p in sorted(positions)) for code, positions in found.items()}


@cached
def _aliases() -> dict[str, str]:
    own = {_squashed(code): code for code in _orders()}
    return {_squashed(row["alias"]): row["code"] for row in rows("colour_code_names")} | own


@cached
def _tracer_rules() -> dict[str, dict[str, tuple[str, str, str]]]:
    found: dict[str, dict[str, tuple[str, str, str]]] = {}
    for row in rows("tracers"):
        found.setdefault(row["code"], {})[read_colour(row["on_colour"]) or ""] = (
            row["becomes"],
            row["mark"],
            row["marks"],
        )
    return found


@cached
def _spellings() -> dict[str, str]:
    return {row["spelling"].casefold(): row["colour"] for row in rows("colour_words")}


@cached
def _ink_table() -> dict[str, tuple[str, str]]:
    return {row["colour"]: (row["hex"], row["text_hex"]) for row in rows("colour_words") if row["hex"]}


def _inks(word: str) -> tuple[str, str]:
    found = _ink_table().get(read_colour(word) or "")
    if found is None:
        raise ValueSourceError(f"{word!r} is not a colour word. Known: {', '.join(_ink_table())}.")
    return found
