"""What a return visit says of a thing asked for, as HTML: its name, the heading, the path as a table, colours."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from fibrebook.screens.frame.screen import swatch, swatch_parts, table_html
from fibrebook.snapshot.find import Start

if TYPE_CHECKING:
    import pandas as pd

PATH = ("kind", "at", "name", "colour", "location", "length_m", "loss_db", "basis")


def name_of(start: Start) -> str:
    """Return what is asked for as people say it."""
    kind, *labels = start
    return f"{kind} {'/'.join(str(x) for x in labels if x not in (None, ''))}"


def heading_of(start: Start, path: pd.DataFrame | None) -> str:
    """Return the heading over an answer as HTML: the thing, its colours, its two far ends."""
    name = escape(name_of(start))
    if path is None or not len(path):
        return f"<h3 class='fb-heading'>{name}</h3>"
    ends = [f"{path[c].iloc[i]}" for i in (0, -1) for c in ("at",)]
    names = [f"{a}/{n}" if n else a for a, n in zip(ends, (path["name"].iloc[0], path["name"].iloc[-1]), strict=True)]
    mine = path[path["start"]]
    colour = mine["colour"].iloc[0] if len(mine) and isinstance(mine["colour"].iloc[0], str) else ""
    shade = f" {shades(colour)}" if colour else ""
    between = " to ".join(escape(n) for n in names)
    return f"<h3 class='fb-heading'>{name}{shade}</h3><div class='fb-between'>From {between}</div>"


def shades(words: str) -> str:
    """Return swatches for ``blue tube, orange core with one black stripe``, each with its word."""
    out = []
    for part in words.split(", "):
        colour, _, tracer = part.partition(" with ")
        base, _, what = colour.rpartition(" ")
        out.append(f"{swatch(base, tracer or None)} {escape(what)}")
    return ", ".join(out)


def path_table(path: pd.DataFrame) -> str:
    """Return a path as an HTML table, one element a row."""
    drawn = {
        "colour": lambda c: shades(c) if isinstance(c, str) and c else "",
        "length_m": lambda v: f"{v:.1f}" if v == v else "",
        "loss_db": lambda v: f"{v:.2f}" if v == v else "",
    }
    return table_html(path[[*PATH]], render=drawn)


def on_path(path: pd.DataFrame | None) -> set[tuple[str, str, str]]:
    """Return every (kind, at, name) on a path."""
    if path is None:
        return set()
    return set(zip(path["kind"], path["at"], path["name"], strict=True))


def colour_text(colour: Any, tracer: Any) -> str:
    """Return a colour and its tracer as one text, for `swatch_of`."""
    return "|".join(c if isinstance(c, str) else "" for c in (colour, tracer))


def swatch_of(text: str) -> dict[str, str]:
    """Return the swatch of such a text."""
    colour, _, tracer = text.partition("|")
    return swatch_parts(colour or None, tracer or None)


def port_text(port: Any, position: Any) -> str:
    """Return a port and its position as one text."""
    return "/".join(p for p in (port, position) if isinstance(p, str) and p)
