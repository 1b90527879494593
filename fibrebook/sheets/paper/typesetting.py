"""Setting: sections of data into the bytes of a PDF, by the template beside this module.

The fonts are those that the typesetter's wheel brings: Libertinus Serif for text, DejaVu Sans Mono for codes and what
is read from afar. Fonts of the machine are not looked at. A letter that neither has is shown as an empty box.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.errors import FibrebookError, InputError
from fibrebook.sheets.paper.place_codes import MISSING, qr_picture
from fibrebook.sheets.paper.printed_text import LONG, MOST, break_long, printed
from fibrebook.sheets.paper.sections import PaperSection
from fibrebook.sheets.paper.wording import Wording

if TYPE_CHECKING:
    from fibrebook.register import Register

FONTS = ("Libertinus Serif", "DejaVu Sans Mono")
PAPERS = {"A4": "a4", "A5": "a5", "Letter": "us-letter"}
AT_THE_HEAD = 70  # letters of site and heading at the head of each page, which has two lines for them
AS_IT_IS = ("coats", "widths", "kind")  # of a block: ours, no text of anybody's
LETTERS_OF_A_LINE = 80  # of a table, broad ones: words that are longer than their column may break in it
AS_IT_IS = ("coats", "widths", "kind")  # of a block: ours, no text of anybody's
WHOLE = 2_000_000  # letters of a text that is printed to its end
TEMPLATE = Path(__file__).parent / "templates" / "sheet.typ"


@dataclass(frozen=True)
class PaperLook:
    """How a sheet looks: the paper, its words, and whether the PDF is tagged for screen readers (then far larger)."""

    paper: str = "A4"
    wording: Wording = field(default_factory=Wording)
    tagged: bool = False

    def __post_init__(self) -> None:
        """Refuse a paper that is not known."""
        if self.paper not in PAPERS:
            raise InputError(f"there is no paper {self.paper!r}; there are: {', '.join(PAPERS)}")


def typeset(reg: Register, site: str, title: str, sections: Iterable[PaperSection], look: PaperLook) -> bytes:
    """Return the PDF of sections, each on pages of its own; a section without content is left out.

    Each page tells site, register, commit, the day of that commit, page x of y, and bears the code of its place.

    Raises
    ------
    FibrebookError : the typesetter is not installed; what to install is said
    """
    try:
        import typst
    except ImportError:
        raise FibrebookError(MISSING) from None
    kept = [s for s in sections if s.blocks]
    files: dict[str, bytes] = {}
    content = {
        "title": printed(title),
        "firm": printed(reg.name),
        "site": break_long(printed(site, AT_THE_HEAD)),
        "stand": look.wording.say("as of {day}, commit {commit}", day=str(reg.committed_utc)[:10], commit=reg.commit),
        "page": look.wording.say("page {x} of {y}", x="\ufffdx", y="\ufffdy"),
        "paper": PAPERS[look.paper],
        "contents": look.wording.say("Contents"),
        "sections": [_section(s, files) for s in kept],
    }
    with tempfile.TemporaryDirectory(prefix="fibrebook-paper-") as folder:
        root = Path(folder)
        (root / "sheet.typ").write_bytes(TEMPLATE.read_bytes())
        (root / "data.json").write_text(json.dumps(content, ensure_ascii=True), encoding="ascii")
        for name, data in files.items():
            (root / name).write_bytes(data)
        made = typst.compile(
            root / "sheet.typ", root=root, ignore_system_fonts=True, format="pdf", pdf_tags=look.tagged
        )
    return bytes(made)


def _section(section: PaperSection, files: dict[str, bytes]) -> Mapping[str, Any]:
    """A section as the template reads it; its pictures go into `files` under names of ours."""
    return {
        "heading": break_long(printed(section.heading)),
        "short": break_long(printed(section.heading, AT_THE_HEAD)),
        "in_contents": section.in_contents,
        "heading_shown": section.heading_shown,
        "landscape": section.landscape,
        "paper": PAPERS.get(section.paper, ""),
        "code": _file(files, qr_picture(section.code), "svg"),
        "code_text": section.code,
        "blocks": [_block(block, files) for block in section.blocks],
    }


def _block(block: Mapping[str, Any], files: dict[str, bytes]) -> Mapping[str, Any]:
    most = WHOLE if block.get("whole") else MOST
    told = {key: _as_data(value, LONG, most) for key, value in block.items() if key not in ("data", "rows")}
    if "rows" in block:
        whole = sum(block["widths"])
        longs = [max(4, min(LONG, int(LETTERS_OF_A_LINE * width / whole))) for width in block["widths"]]
        told["rows"] = [[_as_data(c, long) for c, long in zip(row, longs, strict=True)] for row in block["rows"]]
    if "data" in block:
        told["file"] = _file(files, block["data"], block["sort"])
    return told


def _as_data(value: Any, long: int, most: int = MOST) -> Any:
    if isinstance(value, str):
        return break_long(printed(value, most), long)
    if isinstance(value, Mapping):
        return {key: inner if key in AS_IT_IS else _as_data(inner, long, most) for key, inner in value.items()}
    if isinstance(value, Sequence):
        return [_as_data(inner, long, most) for inner in value]
    return value if isinstance(value, bool | int | float) else printed(value)


def _file(files: dict[str, bytes], data: bytes, sort: str) -> str:
    """Name a file by what is in it, so that a picture on every page is kept once."""
    from hashlib import sha256

    name = f"{sha256(data).hexdigest()[:24]}.{sort}"
    files[name] = data
    return name
