"""What a sheet is made of: sections on pages of their own, each a list of blocks of plain data.

A block says by its `kind` how the template shows it. Every text in it is data.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fibrebook.drawings.fibre import coats

Block = Mapping[str, Any]


@dataclass(frozen=True)
class PaperSection:
    """A heading, the code of its place, and its blocks; without blocks it is left out.

    Attributes
    ----------
    heading : as it stands above and in the contents
    code : the code of the place that it tells of (`place_codes.place_code`)
    blocks : what it shows
    landscape : whether its pages lie on their side
    in_contents : whether the contents name it
    paper : a paper of its own ("A5"), "" = as the whole
    heading_shown : whether it stands large above the first page, besides at the head of each
    """

    heading: str
    code: str
    blocks: Sequence[Block] = field(default_factory=tuple)
    landscape: bool = False
    in_contents: bool = True
    paper: str = ""
    heading_shown: bool = True


def table(
    heads: Sequence[str], widths: Sequence[float], rows: Iterable[Sequence[Any]], roomy: bool = False
) -> list[Block]:
    """Return a table as blocks: none where there are no rows; widths are shares of the line; roomy: to write on."""
    found = [list(row) for row in rows]
    told = {"kind": "table", "heads": list(heads), "widths": list(widths), "rows": found, "roomy": roomy}
    return [told] if found else []


def facts(pairs: Iterable[tuple[str, Any]]) -> list[Block]:
    """Return pairs of a word and what is so, as blocks; a pair without content is left out."""
    found = [[word, value] for word, value in pairs if value not in (None, "") and value == value]
    return [{"kind": "facts", "pairs": found}] if found else []


def heading(text: str) -> Block:
    """Return a heading within a section."""
    return {"kind": "heading", "text": text}


def words(text: str) -> Block:
    """Return a paragraph."""
    return {"kind": "words", "text": text}


def whole_text(text: str) -> Block:
    """Return a paragraph that is printed to its end, however long."""
    return {"kind": "words", "text": text, "whole": True}


def caution(text: str) -> Block:
    """Return a caution in its frame."""
    return {"kind": "caution", "text": text}


def picture(data: bytes, sort: str, caption: str = "", share: float = 1.0) -> Block:
    """Return a picture with its caption; `share` of the page's height at most."""
    return {"kind": "picture", "data": data, "sort": sort, "caption": caption, "share": share}


def fibre(told: str | None) -> Mapping[str, Any]:
    """Return a cell with a chip of each colour, and the colours in words."""
    said = told or ""
    return {
        "kind": "fibre",
        "words": said,
        "coats": [{"part": part, "fill": coat.colour, "tracer": coat.tracer} for part, coat in coats(said).items()],
    }
