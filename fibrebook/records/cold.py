"""Keeping a cold start short: pyarrow loads pandas at its first conversion, wanted or not."""

from __future__ import annotations

import importlib.abc
import sys
from typing import Any


class _NotYet(importlib.abc.MetaPathFinder):
    def find_spec(self, name: str, path: Any = None, target: Any = None) -> None:
        if name == "pandas":
            raise ImportError("left out of the cold start")


def leave_pandas_out() -> None:
    """Let pyarrow look for pandas now and not find it; it looks again when a DataFrame is really wanted.

    For a process of our own (the command line) only, and before other threads run: until the first DataFrame is made,
    pyarrow does not know a pandas Series when it is given one.
    """
    if "pandas" in sys.modules:
        return
    import pyarrow as pa

    finder = _NotYet()
    sys.meta_path.insert(0, finder)
    try:
        pa.array([0])
    finally:
        sys.meta_path.remove(finder)
