"""A table whose rows are chosen, a screenful at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from fibrebook.screens.widgets.table import Table

if TYPE_CHECKING:
    import pandas as pd

A_SCREENFUL = 24


def picking_table(
    frame: pd.DataFrame,
    caption: str,
    on_pick: Callable[[int], Any] | None = None,
    render: Any = None,
    page_rows: int = A_SCREENFUL,
) -> Table:
    """As `table_view`, in shorter pages; `on_pick` is called with the position of the row in the frame."""
    table = Table(frame, render, page_rows, caption=caption, clickable=on_pick is not None)
    if on_pick is not None:
        table.observe(lambda _: on_pick(table.picked), "picks")
    return table
