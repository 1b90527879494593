"""Our own advice checks and analyses, through the same door as a plugin's."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from fibrebook.plugins import hookimpl


@hookimpl
def advice_checks() -> Iterable[Callable[..., Any]]:
    """Give the built-in checks."""
    from fibrebook.analyses.checks import CHECKS

    return CHECKS


@hookimpl
def analyses() -> Mapping[str, Callable[..., Any]]:
    """Give the built-in analyses that answer for a whole register."""
    from fibrebook.analyses.advice import advice
    from fibrebook.analyses.cross_reference import cross_reference
    from fibrebook.analyses.headroom import headroom
    from fibrebook.analyses.spare import spare

    return {"advice": advice, "cross_reference": cross_reference, "headroom": headroom, "spare": spare}
