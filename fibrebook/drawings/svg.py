"""A small builder of SVG in which no text can become markup, and the Picture that it gives."""

from __future__ import annotations

import hashlib
import os
import re
import textwrap
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fibrebook.drawings.look import FONT, INKS, WIDTH, Fill, stylesheet

NAMESPACE = "http://www.w3.org/2000/svg"
LETTER = 0.56  # mean width of a letter by its height, in common sans-serif fonts (common practice, no source)
# Characters that XML 1.0 cannot hold (W3C XML 1.0, production 2), lone surrogates among them.
NOT_IN_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Picture:
    """A picture as SVG text; a notebook shows it, `save` writes it.

    Attributes
    ----------
    svg : the picture, one <svg> element with <title> and <desc>
    title, text : what it shows, in words, for those who cannot see it
    """

    svg: str
    title: str
    text: str

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the picture as an .svg file and return its path."""
        target = Path(path)
        target.write_text(self.svg, encoding="utf-8", newline="\n")
        return target


def clean(text: object) -> str:
    """Return text that XML can hold; what it cannot is shown as the replacement character."""
    return NOT_IN_XML.sub("\ufffd", str(text))


def number(value: float) -> str:
    """Return a coordinate, short and the same on every machine."""
    return f"{value:.1f}".removesuffix(".0")


class Canvas:
    """A picture in the making. Coordinates in pixels from the upper left; inks are names of `look.INKS`."""

    def __init__(self, title: str, width: float = WIDTH) -> None:
        self.title, self.width, self.height = clean(title), width, 0.0
        self._body = ET.Element("g", {"font-family": FONT})
        self._patterns: dict[str, tuple[str, str]] = {}

    def _add(self, tag: str, **given: str | float) -> ET.Element:
        plain = {k.replace("_", "-"): number(v) if isinstance(v, int | float) else v for k, v in given.items()}
        return ET.SubElement(self._body, tag, plain)

    def text(
        self, x: float, y: float, text: object, size: float = 13, ink: str = "ink", bold: bool = False,
        anchor: str = "start", own: str = "",
    ) -> None:  # fmt: skip
        """Write one line; `own` is a colour of its own, for text on a filled bar."""
        paint = {"fill": own} if own else {"fill": INKS[ink].light, "class": f"fb-{ink}"}
        weight = {"font_weight": "600"} if bold else {}
        self._add("text", x=x, y=y, font_size=size, text_anchor=anchor, **paint, **weight).text = clean(text)

    def box(self, x: float, y: float, width: float, height: float, ink: str = "box", edge: str = "line",
            thick: float = 1, round_: float = 6, tip: str = "") -> None:  # fmt: skip
        """Draw a box in page inks; `tip` is told when the pointer rests on it."""
        made = self._add(
            "rect", x=x, y=y, width=width, height=height, rx=round_, fill=INKS[ink].light, stroke=INKS[edge].light,
            stroke_width=thick,
        )  # fmt: skip
        made.set("class", f"fb-{ink} fb-{edge}-line")
        _tip(made, tip)

    def bar(self, x: float, y: float, width: float, height: float, look: Fill, tip: str = "") -> None:
        """Draw a filled bar, with its pattern."""
        made = self._add("rect", x=x, y=y, width=width, height=height, fill=look.fill)
        _tip(made, tip)
        if look.pattern:
            fill = f"url(#{self._pattern(look)})"
            self._add("rect", x=x, y=y, width=width, height=height, fill=fill, pointer_events="none")
        edge = self._add("rect", x=x, y=y, width=width, height=height, fill="none", stroke="#000000", stroke_width=0.7)
        edge.set("stroke", INKS["line"].light)
        edge.set("class", "fb-line-line")

    def rect(self, x: float, y: float, width: float, height: float, fill: str, edge: str = "", round_: float = 0) -> None:
        """Draw a rectangle in a colour of its own (a fibre's); `edge` is an ink's name."""
        made = self._add("rect", x=x, y=y, width=width, height=height, rx=round_, fill=fill)
        if edge:
            made.set("stroke", INKS[edge].light)
            made.set("class", f"fb-{edge}-line")

    def line(self, points: Iterable[tuple[float, float]], ink: str = "line", thick: float = 2, dash: str = "") -> None:
        """Draw a line through points."""
        told = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        made = self._add("polyline", points=told, fill="none", stroke=INKS[ink].light, stroke_width=thick)
        made.set("class", f"fb-{ink}-line")
        if dash:
            made.set("stroke-dasharray", dash)

    def shape(self, points: Iterable[tuple[float, float]], ink: str = "line") -> None:
        """Draw a filled polygon in a page ink."""
        told = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        self._add("polygon", points=told, fill=INKS[ink].light).set("class", f"fb-{ink}")

    def _pattern(self, look: Fill) -> str:
        self._patterns.setdefault(look.pattern + look.text, (look.pattern, look.text))
        return self._pattern_id(look.pattern, look.text)

    def _pattern_id(self, pattern: str, ink: str) -> str:
        return f"fb-{pattern.replace(' ', '-')}-{ink[1:]}-{hashlib.sha256(self.title.encode()).hexdigest()[:8]}"

    def done(self, text: str, height: float) -> Picture:
        """Finish the picture; `text` tells in words what it shows."""
        told = clean(text)
        root = ET.Element(
            "svg",
            {
                "xmlns": NAMESPACE, "viewBox": f"0 0 {number(self.width)} {number(height)}", "width": number(self.width),
                "height": number(height), "class": "fb-picture", "role": "img", "style": "max-width:100%;height:auto",
            },
        )  # fmt: skip
        ET.SubElement(root, "title").text = self.title
        ET.SubElement(root, "desc").text = told
        ET.SubElement(root, "style").text = stylesheet()
        if self._patterns:
            defs = ET.SubElement(root, "defs")
            for pattern, ink in self._patterns.values():
                _define(defs, self._pattern_id(pattern, ink), pattern, ink)
        paper = ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": INKS["paper"].light})
        paper.set("class", "fb-paper")
        root.append(self._body)
        return Picture(ET.tostring(root, encoding="unicode"), self.title, told)


def _tip(element: ET.Element, tip: str) -> None:
    if tip:
        ET.SubElement(element, "title").text = clean(tip)


STROKES = {
    "slant": "M-1,1 l2,-2 M0,8 l8,-8 M7,9 l2,-2",
    "back slant": "M-1,7 l2,2 M0,0 l8,8 M7,-1 l2,2",
    "upright": "M2,0 v8",
    "cross": "M0,8 l8,-8 M0,0 l8,8",
}


def _define(defs: ET.Element, name: str, pattern: str, ink: str) -> None:
    made = ET.SubElement(defs, "pattern", {"id": name, "width": "8", "height": "8", "patternUnits": "userSpaceOnUse"})
    if pattern == "dots":
        ET.SubElement(made, "circle", {"cx": "2", "cy": "2", "r": "0.9", "fill": ink, "opacity": "0.55"})
    else:
        ET.SubElement(made, "path", {"d": STROKES[pattern], "stroke": ink, "stroke-width": "0.9", "opacity": "0.45"})


def text_width(text: str, size: float = 13) -> float:
    """Return about how wide a text is [px]."""
    return len(text) * size * LETTER


def fitted(text: object, width: float, size: float = 13, lines: int = 1) -> list[str]:
    """Break a text into at most so many lines of a width; what has no room ends in an ellipsis."""
    letters = max(int(width / (size * LETTER)), 2)
    wrapped = textwrap.wrap(clean(text), letters, break_on_hyphens=True) or [""]
    if len(wrapped) > lines:
        wrapped = wrapped[:lines]
        wrapped[-1] = wrapped[-1][: letters - 1].rstrip() + "…"
    return wrapped
