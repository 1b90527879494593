"""Floor 5: the screens of the notebooks. Each public name is read when it is first asked for."""

from __future__ import annotations

import importlib
from typing import Any

_HOMES = {
    "bring_in": "fibrebook.forms.bring_in",
    "form": "fibrebook.forms.form",
    "headroom": "fibrebook.forms.headroom",
    "history": "fibrebook.forms.history",
    "record_visit": "fibrebook.forms.record_visit",
    "return_visit": "fibrebook.forms.return_visit",
    "site_picture": "fibrebook.forms.site_picture",
    "spares": "fibrebook.forms.spares",
    "which_register": "fibrebook.forms.base",
}

__all__ = ["which_register", *sorted(n for n in _HOMES if n != "which_register")]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'fibrebook.forms' has no attribute {name!r}")
    # Not kept in globals(): importing the module of the same name would put itself there instead.
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
