"""The demo register of an invented firm, made from its workbooks."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from fibrebook.resources import shipped

if TYPE_CHECKING:
    from fibrebook.register import Register
    from fibrebook.workbook import Report

BOOKS = ("farms", "schools", "harbour", "campus", "works", "visits")  # visits name ports of the others: last


def make_demo(folder: str | os.PathLike[str]) -> list[Report]:
    """Make the demo register in a new folder, one commit a workbook; return the report of each."""
    from fibrebook.register import create
    from fibrebook.workbook import bring_in

    books = shipped("data") / "demo"
    reg = create(folder, name="Demo: an invented firm")
    return [bring_in(reg, books / f"{name}.xlsx", by="RK", why=f"the firm's workbook {name}") for name in BOOKS]


def chosen_register(read_only: bool = False) -> Register:
    """Open the register that FIBREBOOK_REGISTER names, else a demo register made in a temporary folder."""
    from fibrebook.register import open as open_at

    where = os.environ.get("FIBREBOOK_REGISTER")
    if not where:
        where = str(Path(tempfile.mkdtemp(prefix="fibrebook-")) / "demo-register")
        make_demo(where)
    return open_at(where, read_only=read_only)
