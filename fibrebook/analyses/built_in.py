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
    from fibrebook.analyses.acceptance import acceptance
    from fibrebook.analyses.advice import advice
    from fibrebook.analyses.cross_reference import cross_reference
    from fibrebook.analyses.headroom import headroom
    from fibrebook.analyses.loss_spread import loss_spread
    from fibrebook.analyses.polarity import polarity
    from fibrebook.analyses.room_for import room_for
    from fibrebook.analyses.spare import spare
    from fibrebook.analyses.spare_growth import spare_growth
    from fibrebook.analyses.splice_quality import splice_quality
    from fibrebook.analyses.splice_readings import splice_readings
    from fibrebook.analyses.untested import untested

    found = (
        acceptance, advice, cross_reference, headroom, loss_spread, polarity, room_for, spare, spare_growth,
        splice_quality, splice_readings, untested,
    )  # fmt: skip
    return {answer.__name__: answer for answer in found}
