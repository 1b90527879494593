"""A firm's own reference rows and its choice between sources, in force while an answer for it is worked out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class FirmValues:
    """What a firm adds to the reference tables.

    token : tells one content from another (equal contents, equal tokens); "" = nothing is added
    rows : by reference table, each row with the columns that it fills, a source and a basis
    sources : whose figures go before where sources differ, best first
    """

    token: str = ""
    rows: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict, compare=False)
    sources: tuple[str, ...] = field(default=(), compare=False)


NOTHING_ADDED = FirmValues()
_in_force: ContextVar[FirmValues] = ContextVar("firm_values", default=NOTHING_ADDED)


def in_force() -> FirmValues:
    """Return the firm's values that look-ups honour now."""
    return _in_force.get()


@contextmanager
def honoured(values: FirmValues) -> Iterator[None]:
    """Let look-ups honour a firm's values inside a with block."""
    before = _in_force.set(values)
    try:
        yield
    finally:
        _in_force.reset(before)
