"""Text as a workbook must hold it, so that it comes back letter for letter and never runs as a formula."""

from __future__ import annotations

import re

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")  # what spreadsheets may take for the start of a formula
_CODED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")  # ECMA-376 part 1, 22.4.2.4: _xHHHH_ stands for a character
NOT_IN_XML = "[\\x{FFFE}\\x{FFFF}]"  # no XML 1.0 document may hold these (W3C XML 1.0, 2.2)


def looks_like_formula(text: str) -> bool:
    """Tell whether a spreadsheet might take this text for a formula."""
    return text.startswith(FORMULA_STARTS)


def escaped(text: str) -> str:
    """Return text as it is written into the file: what looks like a coded character is coded itself."""
    if "_x" in text:
        text = _CODED.sub("_x005F_", text)
    return text.replace("\r", "_x000D_") if "\r" in text else text
