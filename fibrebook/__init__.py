"""fibrebook: a firm's register of installed fibre.

Which core goes to which port, and what is at the far end of it; what is spare end to end; will the light get through.

The public face: `create` and `open` a register; `bring_in` and `send_out` workbooks; ask `which`, `trace`,
`cross_reference`, `spare`, `spare_between`, `headroom`, `advice`; of light also `contributions`, `loss_spread`,
`would_run`, `room_for`, `acceptance`, `failed_tests`, `untested`, `splice_quality`, `polarity`, `locate`,
`shared_by_dead`, `pedigree`; of work `van_list`, `invoice_lines`; hand out a `site_page`, a
`next_visit` or a `hand_over`.
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
    "bring_in_events": "fibrebook.readers.instruments.otdr_events",
    "read_events": "fibrebook.readers.instruments.otdr_events",
    "send_out": "fibrebook.workbook",
    "about_site": "fibrebook.analyses.visits.about_site",
    "acceptance": "fibrebook.analyses.tested.acceptance",
    "advice": "fibrebook.analyses.advice.advice",
    "contributions": "fibrebook.analyses.paths.contributions",
    "cross_reference": "fibrebook.analyses.paths.cross_reference",
    "failed_tests": "fibrebook.analyses.tested.failed",
    "find": "fibrebook.snapshot.find_in_firm",
    "goes_dark": "fibrebook.analyses.paths.goes_dark",
    "hand_over": "fibrebook.sheets.hand_over",
    "headroom": "fibrebook.analyses.budgets.headroom",
    "home": "fibrebook.screens.front_door.page",
    "in_use_by_year": "fibrebook.analyses.spare.growth",
    "invoice_lines": "fibrebook.analyses.work.invoice_lines",
    "locate": "fibrebook.analyses.tested.locate",
    "loss_by_lots": "fibrebook.analyses.budgets.loss_spread",
    "loss_spread": "fibrebook.analyses.budgets.loss_spread",
    "next_visit": "fibrebook.sheets",
    "pedigree": "fibrebook.reference.tables",
    "read_list": "fibrebook.readers.lists.reading",
    "month_of": "fibrebook.analyses.visits.month_of",
    "polarity": "fibrebook.analyses.paths.polarity",
    "room_for": "fibrebook.analyses.budgets.room_for",
    "shared_by_dead": "fibrebook.analyses.paths.common_points",
    "site_page": "fibrebook.sheets",
    "spare": "fibrebook.analyses.spare.spare",
    "spare_between": "fibrebook.analyses.spare.spare",
    "spare_growth": "fibrebook.analyses.spare.growth",
    "spare_routes": "fibrebook.analyses.spare.routes",
    "spare_strands": "fibrebook.analyses.visits.spare_strands",
    "splice_chart": "fibrebook.analyses.tested.splice_quality",
    "splice_quality": "fibrebook.analyses.tested.splice_quality",
    "splice_readings": "fibrebook.analyses.tested.splice_readings",
    "trace": "fibrebook.analyses.paths.trace",
    "untested": "fibrebook.analyses.tested.untested",
    "van_list": "fibrebook.analyses.work.van",
    "what_if": "fibrebook.analyses.budgets.what_if",
    "what_is_on": "fibrebook.analyses.visits.what_is_on",
    "which": "fibrebook.analyses.paths.which",
    "why_no_light": "fibrebook.analyses.visits.why_no_light",
    "would_run": "fibrebook.analyses.budgets.would_run",
    "AmbiguousError": "fibrebook.errors",
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
    "AmbiguousError",
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
    "about_site",
    "acceptance",
    "advice",
    "bring_in",
    "bring_in_events",
    "contributions",
    "create",
    "cross_reference",
    "failed_tests",
    "find",
    "goes_dark",
    "hand_over",
    "headroom",
    "home",
    "in_use_by_year",
    "invoice_lines",
    "locate",
    "loss_by_lots",
    "loss_spread",
    "month_of",
    "next_visit",
    "open",
    "pedigree",
    "polarity",
    "read_events",
    "read_list",
    "room_for",
    "send_out",
    "shared_by_dead",
    "site_page",
    "spare",
    "spare_between",
    "spare_growth",
    "spare_routes",
    "spare_strands",
    "splice_chart",
    "splice_quality",
    "splice_readings",
    "trace",
    "untested",
    "van_list",
    "what_if",
    "what_is_on",
    "which",
    "why_no_light",
    "would_run",
]

if TYPE_CHECKING:
    from fibrebook.analyses.advice.advice import advice
    from fibrebook.analyses.budgets.headroom import headroom
    from fibrebook.analyses.budgets.loss_spread import loss_by_lots, loss_spread
    from fibrebook.analyses.budgets.room_for import room_for
    from fibrebook.analyses.budgets.what_if import what_if
    from fibrebook.analyses.budgets.would_run import would_run
    from fibrebook.analyses.paths.common_points import shared_by_dead
    from fibrebook.analyses.paths.contributions import contributions
    from fibrebook.analyses.paths.cross_reference import cross_reference
    from fibrebook.analyses.paths.goes_dark import goes_dark
    from fibrebook.analyses.paths.polarity import polarity
    from fibrebook.analyses.paths.trace import trace
    from fibrebook.analyses.paths.which import which
    from fibrebook.analyses.spare.growth import in_use_by_year, spare_growth
    from fibrebook.analyses.spare.routes import spare_routes
    from fibrebook.analyses.spare.spare import spare, spare_between
    from fibrebook.analyses.tested.acceptance import acceptance
    from fibrebook.analyses.tested.failed import failed_tests
    from fibrebook.analyses.tested.locate import locate
    from fibrebook.analyses.tested.splice_quality import splice_chart, splice_quality
    from fibrebook.analyses.tested.splice_readings import splice_readings
    from fibrebook.analyses.tested.untested import untested
    from fibrebook.analyses.visits.about_site import about_site
    from fibrebook.analyses.visits.month_of import month_of
    from fibrebook.analyses.visits.spare_strands import spare_strands
    from fibrebook.analyses.visits.what_is_on import what_is_on
    from fibrebook.analyses.visits.why_no_light import why_no_light
    from fibrebook.analyses.work.invoice_lines import invoice_lines
    from fibrebook.analyses.work.van import van_list
    from fibrebook.errors import (
        AmbiguousError,
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
    from fibrebook.readers.instruments.otdr_events import bring_in_events, read_events
    from fibrebook.readers.lists.reading import read_list
    from fibrebook.reference.tables import pedigree
    from fibrebook.register import Register, create, open
    from fibrebook.screens.front_door.page import home
    from fibrebook.sheets import next_visit, site_page
    from fibrebook.sheets.hand_over import hand_over
    from fibrebook.snapshot.find_in_firm import find
    from fibrebook.workbook import bring_in, send_out


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'fibrebook' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
