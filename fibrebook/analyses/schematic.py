"""The former name of `fibrebook.analyses.spare.site_schematic`, which answers for one release."""

from __future__ import annotations

import warnings

from fibrebook.analyses.spare.site_schematic import *  # noqa: F403

# Gone in this version: tests/test_aliases.py fails when fibrebook's version comes to it.
GONE_IN = "0.3.0"

warnings.warn(
    "fibrebook.analyses.schematic is now fibrebook.analyses.spare.site_schematic", DeprecationWarning, stacklevel=2
)
