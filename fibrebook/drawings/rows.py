"""Rows for a picture, from whatever an analysis gave: Arrow table, DataFrame or list of dicts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any


def as_rows(table: Any) -> list[dict[str, Any]]:
    """Return rows as dicts, missing values as None."""
    if hasattr(table, "to_pylist"):
        found: Iterable[Mapping[Any, Any]] = table.to_pylist()
    elif hasattr(table, "to_dict"):
        found = table.astype(object).to_dict("records")
    else:
        found = table
    return [{str(k): _plain(v) for k, v in row.items()} for row in found]


def _plain(value: Any) -> Any:
    if value is None:
        return None
    try:
        return value if bool(value == value) else None  # NaN, NaT and NA differ from themselves
    except (TypeError, ValueError):
        return None


def number_of(value: Any, places: int) -> str:
    """Return a figure as text; blank where there is none."""
    return "" if value is None else f"{float(value):.{places}f}"


def metres(value: Any) -> str:
    """Return a length in metres, tenths only where it is short."""
    if value is None:
        return ""
    return f"{value:.0f} m" if value >= 100 or float(value).is_integer() else f"{value:.1f} m"
