"""Entry for atheris: any bytes as a layout, a list of decisions, a commit file, a .csv; run by test_hostile."""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["fibrebook", "tomllib", "csv", "json"]):
    from fibrebook.errors import FibrebookError
    from fibrebook.readers.files.parsed import take_sheets
    from fibrebook.readers.files.sheets import read_sheets
    from fibrebook.readers.layouts.file import read_layout
    from fibrebook.register.commits.decisions import read_decisions
    from fibrebook.register.store.commit_files import checked
    from fibrebook.register.store.state import State, digest_checked

ROOT = Path(tempfile.mkdtemp())


def one(data: bytes) -> None:
    """Try one input with every reader; only errors of our family may leave."""
    if not data:
        return
    which, rest = data[0] % 4, data[1:]
    with contextlib.suppress(FibrebookError):
        if which == 0:
            (ROOT / "layout.toml").write_bytes(rest)
            read_layout(ROOT / "layout.toml")
        elif which == 1:
            (ROOT / "d.csv").write_bytes(b"table,key,column,base,theirs,mine,decision\n" + rest)
            read_decisions(ROOT / "d.csv")
        elif which == 2:
            digest_checked(rest)
            State().after(checked(rest, 1))
        else:
            (ROOT / "cables.csv").write_bytes(b"site,cable,core_count\n" + rest)
            take_sheets(read_sheets(ROOT / "cables.csv"))


atheris.Setup(sys.argv, one)
atheris.Fuzz()
