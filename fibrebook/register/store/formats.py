"""Registers of earlier formats: how a table of one format becomes a table of the next.

Reading works them out on the fly, so an older register can always be read; the first change to it is preceded by one
commit in today's format, which writes every table anew where rows read otherwise. Nothing of the past is rewritten.
"""

from __future__ import annotations

from collections.abc import Callable

import pyarrow as pa

from fibrebook.register.store import state

Step = Callable[[str, pa.Table], pa.Table]
# from format -> (table name, table as that format has it) -> as the next one has it; where none stands, rows are alike
STEPS: dict[int, Step] = {}


def upgraded(kind: str, table: pa.Table, form: int) -> pa.Table:
    """Return a table as read from a file of format `form` in today's format."""
    for earlier in range(form, state.FORMAT):
        if earlier in STEPS:
            table = STEPS[earlier](kind, table)
    return table


def changes_rows(form: int) -> bool:
    """Tell whether rows of a format read otherwise today."""
    return any(earlier in STEPS for earlier in range(form, state.FORMAT))
