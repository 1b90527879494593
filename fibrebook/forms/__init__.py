"""The former name of `fibrebook.screens`, which answers for one release."""

from __future__ import annotations

import warnings
from typing import Any

from fibrebook import screens

# Gone in this version: tests/test_aliases.py fails when fibrebook's version comes to it.
GONE_IN = "0.3.0"
_PLACES = {*screens.__all__}

warnings.warn("fibrebook.forms is now fibrebook.screens", DeprecationWarning, stacklevel=2)

__all__ = list(screens.__all__)


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module 'fibrebook.forms' has no attribute {name!r}")
    return getattr(screens, name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_PLACES})
