"""fibrebook: a firm's register of installed fibre.

Which core goes to which port, and what is at the far end of it; what is spare end to end; will the light get through.

The public face: `create` and `open` a register; `bring_in` and `send_out` workbooks; ask `trace`, `cross_reference`,
`spare`, `spare_between`, `headroom`, `advice`. Everything a user can cause to go wrong is a `FibrebookError`.
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
    "send_out": "fibrebook.workbook",
    "advice": "fibrebook.analyses.advice",
    "cross_reference": "fibrebook.analyses.cross_reference",
    "headroom": "fibrebook.analyses.headroom",
    "spare": "fibrebook.analyses.spare",
    "spare_between": "fibrebook.analyses.spare",
    "trace": "fibrebook.analyses.trace",
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
    "advice",
    "bring_in",
    "create",
    "cross_reference",
    "headroom",
    "open",
    "send_out",
    "spare",
    "spare_between",
    "trace",
]

if TYPE_CHECKING:
    from fibrebook.analyses.advice import advice
    from fibrebook.analyses.cross_reference import cross_reference
    from fibrebook.analyses.headroom import headroom
    from fibrebook.analyses.spare import spare, spare_between
    from fibrebook.analyses.trace import trace
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
    from fibrebook.register import Register, create, open
    from fibrebook.workbook import bring_in, send_out


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'fibrebook' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
