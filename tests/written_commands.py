"""What the documents tell people to type: every command and piece of Python in them, exactly as it is written.

Fenced blocks without a language are commands, one a line; those of language ``python`` are one piece each. In running
text and in the text of notebooks, what stands between backquotes and begins with a program's name and more is a command,
and a call of `fibrebook` or `reg` is Python. Blocks between ``<!-- output: ... -->`` and ``<!-- end -->`` show what a
command prints; the command named there is one too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).parent.parent
DOCUMENTS = (
    "README.md",
    "fibrebook/readers/layouts/LAYOUTS.md",
    "fibrebook/records/RECORDS.md",
    "DEVELOPERS.md",
    "data/README.md",
    "tests/old_lists/README.md",
)
LANGUAGES = ("", "python", "toml")  # the layouts in toml are read by test_layouts
PROGRAMS = "fibrebook|python|pip|pytest|jupyter|ruff|mypy|lint-imports|bash|apt-get|export"
SHOWN = re.compile(r"<!-- output: (fibrebook .*?) -->\n```.*?```\n<!-- end -->", re.DOTALL)
FENCED = re.compile(r"^```(\w*)\n(.*?)^```", re.DOTALL | re.MULTILINE)
COMMAND = re.compile(rf"(?:[A-Z_]+=\S* )?(?:\.venv/bin/)?(?:{PROGRAMS}) .+|lint-imports")
CALL = re.compile(r"(?:fibrebook|reg)(?:\.\w+)+\(.*\)")


@dataclass(frozen=True)
class Written:
    """One thing to type: the document, whether it is Python, and its text."""

    document: str
    python: bool
    text: str


def written(document: str) -> list[Written]:
    """Return all that a document, or a notebook's text, tells to type, in its order."""
    return [Written(document, python, text) for python, text in _found(text_of(document))]


def text_of(document: str) -> str:
    """Return a document's text; of a notebook that of its cells of text."""
    text = (TOP / document).read_text(encoding="utf-8")
    if not document.endswith(".ipynb"):
        return text
    return "\n\n".join("".join(c["source"]) for c in json.loads(text)["cells"] if c["cell_type"] == "markdown")


def code_of(notebook: str) -> list[str]:
    """Return the code of a notebook's cells, in order."""
    cells = json.loads((TOP / notebook).read_text(encoding="utf-8"))["cells"]
    return ["".join(c["source"]) for c in cells if c["cell_type"] == "code"]


def notebooks() -> list[str]:
    """Return the notebooks, by letter."""
    return sorted(p.relative_to(TOP).as_posix() for p in (TOP / "notebooks").rglob("*.ipynb"))


def everything() -> list[Written]:
    """Return what all documents and notebooks tell to type."""
    return [one for document in (*DOCUMENTS, *notebooks()) for one in written(document)]


def _found(text: str) -> Iterator[tuple[bool, str]]:
    at = 0
    for block in re.finditer(rf"{SHOWN.pattern}|{FENCED.pattern}", text, re.DOTALL | re.MULTILINE):
        yield from _in_running_text(text[at : block.start()])
        at = block.end()
        if block[1]:
            yield False, block[1]
        elif block[2] == "python":
            yield True, block[3]
        elif block[2] == "":
            yield from ((False, line) for line in _lines(block[3]))
        elif block[2] not in LANGUAGES:
            raise ValueError(f"a block of language {block[2]!r}: say in this module how it is proved")
    yield from _in_running_text(text[at:])


def _in_running_text(text: str) -> Iterator[tuple[bool, str]]:
    for span in re.findall(r"`([^`]+)`", text):
        words = " ".join(span.split())
        if COMMAND.fullmatch(words):
            yield False, words
        elif CALL.fullmatch(words):
            yield True, words


def _lines(block: str) -> list[str]:
    """A block's commands, each without the remark behind it, those over several lines as one."""
    whole = re.sub(r" *\\\n *", " ", block)
    return [bare for line in whole.splitlines() if (bare := re.sub(r"(^|\s+)# .*$", "", line).strip())]
