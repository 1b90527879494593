"""Published values as data: colour codes, fibre classes, losses, applications; every row with its source.

The values stand in the CSV files beside this module (one row a value); a plugin adds rows by the hook
`reference_files`. `table` gives them, `colours` reads the colour codes, `choices` says whose figure wins.
"""

from __future__ import annotations
