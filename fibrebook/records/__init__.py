"""What kinds of record there are, how values become rows, and the hard rules that they obey.

In come declarations and what people give; out go typed tables, and problems that name record and remedy.
No file is read here and no plant is walked.
"""

from fibrebook.records.kinds.built_in import BUILT_IN_KINDS, KINDS, referring_to
from fibrebook.records.kinds.declared import Column, Kind, Link
from fibrebook.records.values.one_value import as_label
from fibrebook.records.values.to_columns import checked_table, kind_of, to_table
from fibrebook.records.values.to_frame import to_frame

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
