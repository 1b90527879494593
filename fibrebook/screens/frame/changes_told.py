"""Changes as people read them: how many records of which kind, and cell by cell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fibrebook.records.kinds.built_in import KINDS

if TYPE_CHECKING:
    import pandas as pd


def in_words(changes: pd.DataFrame) -> list[str]:
    """Return what a preview would change, a line each: how many records of a kind, and which."""
    lines = []
    for table in dict.fromkeys([*KINDS, *changes["table"]]):
        here = changes[changes["table"] == table]
        for op, word in (("added", "new"), ("changed", "changed"), ("removed", "removed")):
            keys = list(dict.fromkeys(here[here["op"] == op]["key"].tolist()))
            if keys:
                lines.append(f"{_count(table, len(keys))} {word}: {_some(keys)}")
    return lines


def cell_by_cell(changes: pd.DataFrame) -> pd.DataFrame:
    """Return changes as people read them: table, record, column, before, after, what (added, changed, removed)."""
    record = [" / ".join(str(v) for v in key if v not in (None, "")) for key in changes["key"]]
    titles = [
        KINDS[t].by_name[c].title if t in KINDS and c in KINDS[t].by_name else (c or "")
        for t, c in zip(changes["table"], changes["column"], strict=True)
    ]
    told = changes.assign(record=record, column=titles, what=changes["op"])
    return told[["table", "record", "column", "before", "after", "what"]]


def _count(table: str, n: int) -> str:
    kind = KINDS.get(table)  # none for a table whose plugin is not here
    if kind is None:
        return f"{n} of {table}"
    return f"{n} {kind.singular if n == 1 else kind.name.replace('_', ' ')}"


def _some(keys: Sequence[tuple[Any, ...]]) -> str:
    shown = [" / ".join(str(v) for v in k[1:] if v not in (None, "")) or str(k[0]) for k in keys]
    if len(shown) > 4:
        return f"{shown[0]} to {shown[-1]}"
    return ", ".join(shown)
