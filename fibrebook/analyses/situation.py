"""The former name of `fibrebook.analyses.advice.situation`, which answers for one release."""

from __future__ import annotations

import warnings

from fibrebook.analyses.advice.situation import *  # noqa: F403

# Gone in this version: tests/test_aliases.py fails when fibrebook's version comes to it.
GONE_IN = "0.3.0"

warnings.warn(
    "fibrebook.analyses.situation is now fibrebook.analyses.advice.situation", DeprecationWarning, stacklevel=2
)
