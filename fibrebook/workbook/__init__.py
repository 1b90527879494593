"""Floor 4: workbooks out and in, and layouts that say how a firm's own spreadsheet is to be read."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "send_out": "fibrebook.workbook.send",
    "bring_in": "fibrebook.workbook.bring",
    "guess_layout": "fibrebook.workbook.guess",
    "Report": "fibrebook.workbook.report",
    "Layout": "fibrebook.workbook.layout",
    "read_layout": "fibrebook.workbook.layout_file",
    "read_with_layout": "fibrebook.workbook.with_layout",
}
__all__ = ["Layout", "Report", "bring_in", "guess_layout", "read_layout", "read_with_layout", "send_out"]


def __getattr__(name: str) -> Any:
    """Import each part when it is first asked for: a cold start must not pay for openpyxl."""
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
