"""Commands and notebooks in a process that may not write to a register; started by test_documents.

Reads from standard input as JSON: `register`, a file in it; `commands`, lists of words; `cells`, lists of pieces of code by
name. Writes as JSON for each what came of it. The process has given up root's right to write what is not its to write.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import traceback
from pathlib import Path
from typing import Any


def command(words: list[str]) -> tuple[int, str]:
    """Run a command as its entry point does; return its exit code and what it said."""
    from fibrebook.cli import main

    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        try:
            main(words)
        except SystemExit as ended:
            return int(ended.code or 0), said.getvalue()
        except BaseException:
            return -1, traceback.format_exc()
    return 0, said.getvalue()


def notebook(cells: list[str]) -> tuple[int, str]:
    """Run a notebook's code; return 0, or -1 and the traceback."""
    names: dict[str, Any] = {}
    with contextlib.redirect_stdout(io.StringIO()):
        try:
            for cell in cells:
                exec(cell, names)
        except BaseException:
            return -1, traceback.format_exc()
    return 0, ""


def main() -> None:
    """Do what is asked."""
    asked = json.load(sys.stdin)
    refused = []
    for folder in ("", "commits", "tables"):
        try:
            (Path(asked["register"]) / folder / "probe").write_bytes(b"")
        except PermissionError:
            refused.append(folder)
    answers = [command(words) for words in asked["commands"]]
    ran = {name: notebook(cells) for name, cells in asked["cells"].items()}
    json.dump({"refused": refused, "commands": answers, "cells": ran}, sys.stdout)


if __name__ == "__main__":
    main()
