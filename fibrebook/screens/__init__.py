"""The screens of the notebooks. Each public name is read when it is first asked for.

In comes a register; out goes a screen for one job of a person, which says what is wrong and loses nothing typed.
`recording`, `returning`, `testing`, `owner`, `exchange` and `records` hold the jobs; `frame` is what all stand on;
`front_door` is the one page from which all are reached.
"""

from __future__ import annotations

import importlib
from typing import Any

# A module must not be named like the function in it: importing it would put the module in the function's place here.
_HOMES = {
    "any_list": "fibrebook.screens.exchange.lists.any_list_screen",
    "bring_back": "fibrebook.screens.exchange.bring_back_screen",
    "bring_in": "fibrebook.screens.exchange.bring_in_screen",
    "form": "fibrebook.screens.records.screen",
    "headroom": "fibrebook.screens.owner.headroom_screen",
    "home": "fibrebook.screens.front_door.page",
    "history": "fibrebook.screens.records.history",
    "record_visit": "fibrebook.screens.recording.screen",
    "return_visit": "fibrebook.screens.returning.screen",
    "site_picture": "fibrebook.screens.returning.site_picture",
    "sites": "fibrebook.screens.records.screen",
    "spares": "fibrebook.screens.owner.spares_screen",
    "tests_and_faults": "fibrebook.screens.testing.screen",
    "which_register": "fibrebook.screens.frame.screen",
}

__all__ = ["which_register", *sorted(n for n in _HOMES if n != "which_register")]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'fibrebook.screens' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
