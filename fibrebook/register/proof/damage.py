"""What is not as it was written, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

STRANGE = "does not belong here: two people's saves, kept side by side by a synchronising drive? run mend"
DIFFERS = "is not what was written (digest differs)"
MISSING = "is missing"
UNREADABLE = "is not what was written (its own digest differs)"
FOLLOWS_NOT = "does not follow from the one before it (digest differs)"
STILL_THERE = "was to be removed and is still there: do the redaction again"
LINK = "is a link: a register holds only files of its own, and none is followed; take it away"


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is not as it was written."""

    what: str
    file: str
    table: str = ""
    segment: str = ""
    sites: str = ""


def to_frame(found: list[Damage]) -> pd.DataFrame:
    """Return damages as a DataFrame: what, file, table, segment, sites."""
    import pandas as pd

    columns = ["what", "file", "table", "segment", "sites"]
    return pd.DataFrame([[getattr(d, c) for c in columns] for d in found], columns=columns, dtype="str")
