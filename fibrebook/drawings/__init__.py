"""Floor 4: pictures as SVG text. Pure functions: rows of an analysis in, a Picture out; nothing is looked up here."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "Picture": "fibrebook.drawings.svg",
    "headroom_bars": "fibrebook.drawings.headroom_picture",
    "path_picture": "fibrebook.drawings.path_picture",
    "spare_bars": "fibrebook.drawings.spare_picture",
}
__all__ = ["Picture", "headroom_bars", "path_picture", "spare_bars"]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        # Not kept in globals(): importing the module of the same name would put itself there instead.
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
