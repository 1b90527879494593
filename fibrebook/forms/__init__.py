"""Floor 5: the screens of the notebooks. Each public name is read when it is first asked for."""

from __future__ import annotations

import importlib
from typing import Any

# A module must not be named like the function in it: importing it would put the module in the function's place here.
_HOMES = {
    "bring_back": "fibrebook.forms.bring_back_screen",
    "bring_in": "fibrebook.forms.bring_in_screen",
    "form": "fibrebook.forms.form_screen",
    "headroom": "fibrebook.forms.headroom_screen",
    "history": "fibrebook.forms.history_screen",
    "record_visit": "fibrebook.forms.record_visit_screen",
    "return_visit": "fibrebook.forms.return_visit_screen",
    "site_picture": "fibrebook.forms.site_picture_screen",
    "spares": "fibrebook.forms.spares_screen",
    "which_register": "fibrebook.forms.base",
}

__all__ = ["which_register", *sorted(n for n in _HOMES if n != "which_register")]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'fibrebook.forms' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
