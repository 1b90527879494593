"""Swatches: a colour is always shown with its word beside it, and a tracer as a stripe or ring upon it."""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape

from fibrebook.errors import FibrebookError
from fibrebook.reference.colours import hex_of, read_colour, text_on

COUNT_WORDS = ("one", "two", "three", "four", "five")


@lru_cache(maxsize=4096)
def swatch_parts(colour: str | None, tracer: str | None = None) -> dict[str, str]:
    """Return what a swatch is drawn from.

    Returns
    -------
    word : colour and tracer as read; back : CSS background; ink : colour of text upon it ("" where no colour is known)
    """
    word = " ".join(t for t in (colour, tracer) if t)
    if not colour:
        return {"word": word, "back": "", "ink": ""}
    try:
        base, ink = hex_of(colour), text_on(colour)
    except FibrebookError:  # a word of the firm's own that we have no ink for
        return {"word": word, "back": "", "ink": ""}
    return {"word": word, "back": _with_tracer(base, tracer or ""), "ink": ink}


def _with_tracer(base: str, tracer: str) -> str:
    words = re.findall(r"[a-z]+", tracer.casefold())
    found = next((w for w in words if read_colour(w)), None)
    if found is None:
        return base
    mark = hex_of(found)
    turn = "90deg" if "ring" in tracer else "180deg"  # rings stand across the core, stripes run along it
    count = next((n for n, w in enumerate(COUNT_WORDS, 1) if w in words), 1)
    half = 12 if count < 3 else 6
    places = [100 * (i + 1) / (count + 1) for i in range(count)]
    stops = ", ".join(
        f"{base} {at - half:g}%, {mark} {at - half:g}%, {mark} {at + half:g}%, {base} {at + half:g}%" for at in places
    )
    return f"linear-gradient({turn}, {base} 0%, {stops}, {base} 100%)"


def swatch(colour: str | None, tracer: str | None = None) -> str:
    """Return HTML of a swatch and its word; the word alone where the colour is not known."""
    parts = swatch_parts(colour or None, tracer or None)
    word = escape(parts["word"])
    if not parts["back"]:
        return f"<span class='fb-swatch-word'>{word}</span>"
    box = f"<span class='fb-swatch' aria-hidden='true' style='background:{escape(parts['back'])}'></span>"
    return f"{box}<span class='fb-swatch-word'>{word}</span>"
