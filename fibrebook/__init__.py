"""fibrebook: a firm's register of installed fibre.

Which core goes to which port, and what is at the far end of it; what is spare end to end; will the light get through.

The public face: `create` and `open` a register; `bring_in` and `send_out` workbooks; ask `trace`, `cross_reference`,
`spare`, `spare_between`, `headroom`, `advice`; of light also `contributions`, `loss_spread`, `would_run`, `room_for`,
`acceptance`, `untested`, `splice_quality`, `polarity`, `locate`, `shared_by_dead`, `pedigree`.
Everything a user can cause to go wrong is a `FibrebookError`.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# Where each public name lives; read when it is first asked for, so that a cold command pays only for what it uses.
_HOMES = {
    "Register": "fibrebook.register",
    "create": "fibrebook.register",
    "open": "fibrebook.register",
    "bring_in": "fibrebook.workbook",
    "bring_in_events": "fibrebook.workbook.otdr_events",
    "read_events": "fibrebook.workbook.otdr_events",
    "send_out": "fibrebook.workbook",
    "acceptance": "fibrebook.analyses.acceptance",
    "advice": "fibrebook.analyses.advice",
    "contributions": "fibrebook.analyses.contributions",
    "cross_reference": "fibrebook.analyses.cross_reference",
    "goes_dark": "fibrebook.analyses.goes_dark",
    "headroom": "fibrebook.analyses.headroom",
    "in_use_by_year": "fibrebook.analyses.spare_growth",
    "locate": "fibrebook.analyses.locate",
    "loss_by_lots": "fibrebook.analyses.loss_spread",
    "loss_spread": "fibrebook.analyses.loss_spread",
    "pedigree": "fibrebook.reference.tables",
    "polarity": "fibrebook.analyses.polarity",
    "room_for": "fibrebook.analyses.room_for",
    "shared_by_dead": "fibrebook.analyses.shared_by_dead",
    "spare": "fibrebook.analyses.spare",
    "spare_between": "fibrebook.analyses.spare",
    "spare_growth": "fibrebook.analyses.spare_growth",
    "spare_routes": "fibrebook.analyses.spare_routes",
    "splice_chart": "fibrebook.analyses.splice_quality",
    "splice_quality": "fibrebook.analyses.splice_quality",
    "splice_readings": "fibrebook.analyses.splice_readings",
    "trace": "fibrebook.analyses.trace",
    "untested": "fibrebook.analyses.untested",
    "what_if": "fibrebook.analyses.what_if",
    "would_run": "fibrebook.analyses.would_run",
    "BringInError": "fibrebook.errors",
    "ConflictError": "fibrebook.errors",
    "DamagedError": "fibrebook.errors",
    "FibrebookError": "fibrebook.errors",
    "FormatError": "fibrebook.errors",
    "InputError": "fibrebook.errors",
    "LayoutError": "fibrebook.errors",
    "NotCommittedError": "fibrebook.errors",
    "NotFoundError": "fibrebook.errors",
    "PluginError": "fibrebook.errors",
    "Problem": "fibrebook.errors",
    "ReadOnlyError": "fibrebook.errors",
    "RuleError": "fibrebook.errors",
    "UnknownOutcomeError": "fibrebook.errors",
    "ValueSourceError": "fibrebook.errors",
}

__all__ = [
    "BringInError",
    "ConflictError",
    "DamagedError",
    "FibrebookError",
    "FormatError",
    "InputError",
    "LayoutError",
    "NotCommittedError",
    "NotFoundError",
    "PluginError",
    "Problem",
    "ReadOnlyError",
    "Register",
    "RuleError",
    "UnknownOutcomeError",
    "ValueSourceError",
    "__version__",
    "acceptance",
    "advice",
    "bring_in",
    "bring_in_events",
    "contributions",
    "create",
    "cross_reference",
    "goes_dark",
    "headroom",
    "in_use_by_year",
    "locate",
    "loss_by_lots",
    "loss_spread",
    "open",
    "pedigree",
    "polarity",
    "read_events",
    "room_for",
    "send_out",
    "shared_by_dead",
    "spare",
    "spare_between",
    "spare_growth",
    "spare_routes",
    "splice_chart",
    "splice_quality",
    "splice_readings",
    "trace",
    "untested",
    "what_if",
    "would_run",
]

if TYPE_CHECKING:
    from fibrebook.analyses.acceptance import acceptance
    from fibrebook.analyses.advice import advice
    from fibrebook.analyses.contributions import contributions
    from fibrebook.analyses.cross_reference import cross_reference
    from fibrebook.analyses.goes_dark import goes_dark
    from fibrebook.analyses.headroom import headroom
    from fibrebook.analyses.locate import locate
    from fibrebook.analyses.loss_spread import loss_by_lots, loss_spread
    from fibrebook.analyses.polarity import polarity
    from fibrebook.analyses.room_for import room_for
    from fibrebook.analyses.shared_by_dead import shared_by_dead
    from fibrebook.analyses.spare import spare, spare_between
    from fibrebook.analyses.spare_growth import in_use_by_year, spare_growth
    from fibrebook.analyses.spare_routes import spare_routes
    from fibrebook.analyses.splice_quality import splice_chart, splice_quality
    from fibrebook.analyses.splice_readings import splice_readings
    from fibrebook.analyses.trace import trace
    from fibrebook.analyses.untested import untested
    from fibrebook.analyses.what_if import what_if
    from fibrebook.analyses.would_run import would_run
    from fibrebook.errors import (
        BringInError,
        ConflictError,
        DamagedError,
        FibrebookError,
        FormatError,
        InputError,
        LayoutError,
        NotCommittedError,
        NotFoundError,
        PluginError,
        Problem,
        ReadOnlyError,
        RuleError,
        UnknownOutcomeError,
        ValueSourceError,
    )
    from fibrebook.reference.tables import pedigree
    from fibrebook.register import Register, create, open
    from fibrebook.workbook import bring_in, send_out
    from fibrebook.workbook.otdr_events import bring_in_events, read_events


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'fibrebook' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
