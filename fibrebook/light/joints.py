"""The former name of `fibrebook.light.meeting`, which answers for one release."""

from __future__ import annotations

import warnings

from fibrebook.light.meeting import *  # noqa: F403

# Gone in this version: tests/test_aliases.py fails when fibrebook's version comes to it.
GONE_IN = "0.3.0"

warnings.warn("fibrebook.light.joints is now fibrebook.light.meeting", DeprecationWarning, stacklevel=2)
