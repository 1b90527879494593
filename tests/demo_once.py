"""The demo register made once a process, and laid as a copy wherever a test's own is wanted."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from functools import cache
from pathlib import Path

from fibrebook.demo import make_demo as make


@cache
def _made() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="demo-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    make(folder / "register")
    return folder / "register"


def make_demo(where: str | os.PathLike[str]) -> None:
    """Lay the demo register, as `fibrebook.demo.make_demo` makes it, into a new folder."""
    shutil.copytree(_made(), where)
