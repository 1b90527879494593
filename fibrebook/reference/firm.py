"""What a firm adds to the reference tables, and what was worked out of them together: nothing is ambient.

Every look-up takes the values that hold for it. What is remembered of them is kept on the object that it is true of.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class FirmValues:
    """The published values, with a firm's own rows and its choice between sources.

    token : tells one content from another (equal contents, equal tokens); "" = nothing is added
    rows : by reference table, each row with the columns that it fills, a source and a basis
    sources : whose figures go before where sources differ, best first
    kept : what look-ups worked out of these values, by function and what it was asked
    """

    token: str = ""
    rows: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict, compare=False)
    sources: tuple[str, ...] = field(default=(), compare=False)
    kept: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)


PUBLISHED = FirmValues()  # what holds where no register is at hand: the tables as they are shipped
