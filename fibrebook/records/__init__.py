"""Floor 0: what kinds of record there are, how values become rows, and the hard rules they obey."""

from fibrebook.records.convert import as_label, checked_table, kind_of, to_frame, to_table
from fibrebook.records.fields import Column, Kind, Link
from fibrebook.records.kinds import BUILT_IN_KINDS, KINDS, referring_to

__all__ = [
    "BUILT_IN_KINDS",
    "KINDS",
    "Column",
    "Kind",
    "Link",
    "as_label",
    "checked_table",
    "kind_of",
    "referring_to",
    "to_frame",
    "to_table",
]
