"""A small builder of SVG on the standard library's element tree, which escapes every text and attribute.

Pictures carry their own light ground, so that they read the same in light and dark notebooks and on paper.
"""

from __future__ import annotations

import textwrap
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fibrebook.errors import place_in_words

GROUND, INK, QUIET, RULE = "#ffffff", "#1a1a1a", "#4a4a4a", "#8a8a8a"  # text on ground: at least 8.8 : 1
FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif"
CHARACTER_EM = 0.56  # mean width of a letter of these fonts, as a share of its size
CONTROLS = dict.fromkeys([*range(32), *range(0x7F, 0xA0), *range(0xD800, 0xE000), 0xFFFE, 0xFFFF], "\ufffd")


@dataclass(frozen=True, repr=False)
class Picture:
    """A finished picture: `svg` is its text, `told` says in words what it shows."""

    svg: str
    told: str
    width: int
    height: int

    def __repr__(self) -> str:
        return f"<picture {self.width} x {self.height}: {self.told}>"

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | Path) -> Path:
        """Write the picture as an .svg file."""
        target = Path(path)
        with place_in_words(f"no picture can be written as {target}"):
            target.write_text(self.svg, encoding="utf-8")
        return target


class Canvas:
    """Shapes and texts added one after another; `picture` closes it."""

    def __init__(self, width: float, height: float, title: str, told: str) -> None:
        self.width, self.height, self.told = round(width), round(height), told
        self.root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {self.width} {self.height}",
                "width": str(self.width), "height": str(self.height), "role": "img", "font-family": FONT,
                "style": "max-width:100%;height:auto",
            },
        )  # fmt: skip
        ET.SubElement(self.root, "title").text = clean(title)
        ET.SubElement(self.root, "desc").text = clean(told)
        self.rect(0, 0, width, height, fill=GROUND, rx=6)

    def add(self, tag: str, **attributes: Any) -> ET.Element:
        """Add an element; numbers are rounded, underscores in names become hyphens."""
        told = {k.rstrip("_").replace("_", "-"): _attribute(v) for k, v in attributes.items() if v is not None}
        return ET.SubElement(self.root, tag, told)

    def rect(self, x: float, y: float, width: float, height: float, **style: Any) -> ET.Element:
        """Add a rectangle."""
        return self.add("rect", x=x, y=y, width=max(width, 0), height=height, **style)

    def line(self, x1: float, y1: float, x2: float, y2: float, **style: Any) -> ET.Element:
        """Add a line."""
        return self.add("line", x1=x1, y1=y1, x2=x2, y2=y2, **({"stroke": INK} | style))

    def text(self, x: float, y: float, words: object, size: float = 13, **style: Any) -> ET.Element:
        """Add one line of text."""
        element = self.add("text", x=x, y=y, **({"font_size": size, "fill": INK} | style))
        element.text = clean(words)
        return element

    def lines(self, x: float, y: float, words: Sequence[str], size: float = 12, **style: Any) -> float:
        """Add lines of text below one another; return the y below the last."""
        for line in words:
            self.text(x, y, line, size, **style)
            y += size * 1.3
        return y

    def stripes(self, name: str, colour: str, gap: int) -> str:
        """Define a hatched fill and return its reference."""
        pattern = self.add(
            "pattern", id=name, width=gap, height=gap, patternUnits="userSpaceOnUse", patternTransform="rotate(45)"
        )
        ET.SubElement(pattern, "rect", {"width": str(gap), "height": str(gap), "fill": GROUND})
        ET.SubElement(pattern, "rect", {"width": str(gap / 2), "height": str(gap), "fill": colour})
        return f"url(#{name})"

    def picture(self) -> Picture:
        """Close the canvas."""
        return Picture(ET.tostring(self.root, encoding="unicode"), self.told, self.width, self.height)


def _attribute(value: Any) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".") if isinstance(value, float) else clean(value)


def clean(words: object) -> str:
    """Text that XML can hold: characters that it cannot are shown as the replacement sign."""
    return str(words).translate(CONTROLS)


def fit(words: str, width: float, size: float = 12, most: int = 4) -> list[str]:
    """Break text into lines that fit a width in pixels; at most so many, the last ends in an ellipsis."""
    letters = max(4, int(width / (size * CHARACTER_EM)))
    found = textwrap.wrap(words, letters, break_long_words=True) or [""]
    return found if len(found) <= most else [*found[: most - 1], found[most - 1][: letters - 1] + "…"]
