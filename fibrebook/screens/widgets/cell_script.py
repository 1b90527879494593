"""The scripts of widgets that draw cells: what they share stands before each, for pages cannot import it offline."""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent


def with_cells(name: str) -> str:
    """Return a script of this folder after the one that fills a cell."""
    return "".join((HERE / n).read_text(encoding="utf-8") for n in ("cell.js", name))
