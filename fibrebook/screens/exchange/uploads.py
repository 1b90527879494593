"""A file that somebody gave the page, as a file on this machine."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any


def laid_down(uploaded: Sequence[dict[str, Any]]) -> Path | None:
    """Lay the first file of an upload's value into a folder of its own under its own name; None where there is none."""
    if not uploaded:
        return None
    one = uploaded[0]
    name = Path(str(one["name"]).replace("\\", "/")).name or "upload"
    target = Path(tempfile.mkdtemp(prefix="fibrebook-")) / name
    target.write_bytes(bytes(one["content"]))
    return target
