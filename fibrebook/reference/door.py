"""Our own reference tables, handed in by the same hook that a plugin uses."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from fibrebook.plugins import hookimpl


@hookimpl
def reference_files() -> Iterable[Path]:
    """Give the CSV files that stand beside this module."""
    return sorted(Path(__file__).parent.glob("*.csv"))
