"""A fibre as it looks in the tray: the tube's colour as a sleeve, the core's colour in it, the tracer as a stripe."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fibrebook.drawings.svg import INK, Canvas
from fibrebook.errors import ValueSourceError
from fibrebook.reference.colours import hex_of, read_colour

_PART = re.compile(r"(?P<colour>.+?) (?P<part>tube|core)(?: with (?P<tracer>.*))?")


@dataclass(frozen=True)
class Coat:
    """What a tube or core is drawn with: #rrggbb of the colour and of its tracer, "" where there is none."""

    colour: str
    tracer: str = ""
    ringed: bool = False


def coats(words: str) -> dict[str, Coat]:
    """Read ``blue tube, orange core with one black stripe``: part ("tube", "core") -> Coat.

    A colour of the firm's own that no ink is known for is left out; the words beside the picture still name it.
    """
    found = {}
    for piece in words.split(", "):
        told = _PART.fullmatch(piece)
        ink = _ink(told["colour"]) if told else ""
        if told and ink:
            tracer = told["tracer"] or ""
            found[told["part"]] = Coat(ink, _ink_within(tracer), "ring" in tracer)
    return found


def draw_fibre(canvas: Canvas, words: str, x: float, y: float, width: float) -> None:
    """Draw a core from x to x + width at the height y; dashed where its colour is not known."""
    worn = coats(words)
    if not worn:
        canvas.line(x, y, x + width, y, stroke=INK, stroke_width=4, stroke_dasharray="12 4")
        return
    if "tube" in worn:
        _stripe(canvas, worn["tube"], x, y, width, 22)
    if "core" in worn:
        inset = 8 if "tube" in worn else 0
        _stripe(canvas, worn["core"], x + inset, y, width - 2 * inset, 12)


def _stripe(canvas: Canvas, coat: Coat, x: float, y: float, width: float, thick: float) -> None:
    canvas.rect(x, y - thick / 2, width, thick, fill=coat.colour, stroke=INK, stroke_width=1.5, rx=3)
    if coat.tracer and coat.ringed:
        for at in range(12, int(width) - 6, 24):
            canvas.rect(x + at, y - thick / 2, 6, thick, fill=coat.tracer)
    elif coat.tracer:
        canvas.line(x + 3, y, x + width - 3, y, stroke=coat.tracer, stroke_width=thick / 4, stroke_dasharray="14 8")


def _ink(word: str) -> str:
    try:
        return hex_of(word)
    except ValueSourceError:
        return ""


def _ink_within(tracer: str) -> str:
    return next((hex_of(w) for w in re.findall(r"[a-z]+", tracer.casefold()) if read_colour(w)), "")
