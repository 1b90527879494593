"""The register as a workbook: sheets with styles, drop-downs and a sheet that tells about it.

In comes a register, out goes an .xlsx file that may be changed and brought in again.
What comes in is read by `readers`; their public names may be had here too, each read when first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "send_out": "fibrebook.workbook.sheets_out",
    "bring_in": "fibrebook.readers.bring_in.bring_in",
    "guess_layout": "fibrebook.readers.guess.guess",
    "Report": "fibrebook.readers.files.report",
    "Layout": "fibrebook.readers.layouts.layout",
    "read_layout": "fibrebook.readers.layouts.file",
    "read_with_layout": "fibrebook.readers.layouts.apply",
}
__all__ = ["Layout", "Report", "bring_in", "guess_layout", "read_layout", "read_with_layout", "send_out"]


def __getattr__(name: str) -> Any:
    """Import each part when it is first asked for: a cold start must not pay for openpyxl."""
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
