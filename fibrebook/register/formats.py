"""Registers of earlier formats: how a table of one format becomes a table of the next.

Reading works them out on the fly, so an older register can always be read; the first change to it is preceded by one
commit that writes every table anew in today's format. Nothing of the past is rewritten.
"""

from __future__ import annotations

from collections.abc import Callable

import pyarrow as pa

from fibrebook.register import state

Step = Callable[[str, pa.Table], pa.Table]
STEPS: dict[int, Step] = {}  # from format -> (table name, table as that format has it) -> as the next one has it


def upgraded(kind: str, table: pa.Table, form: int) -> pa.Table:
    """Return a table as read from a file of format `form` in today's format."""
    for earlier in range(form, state.FORMAT):
        table = STEPS[earlier](kind, table)
    return table
