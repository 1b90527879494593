"""What a layout that is kept says: as the guess, but by headings, so that it never fits a list of another shape."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fibrebook.readers.files.limits import column_number
from fibrebook.readers.files.sheets import Sheet, is_blank, shown
from fibrebook.readers.guess.as_layout import content_of
from fibrebook.readers.guess.what_it_holds import GuessData
from fibrebook.readers.layouts.layout import matches
from fibrebook.readers.layouts.lines import headings_of, row_with


def kept_content(guess: GuessData, sheets: Sequence[Sheet]) -> dict[str, Any]:
    """Return what the layout file holds; errors as `content_of`.

    The guess reads by column letter, this one by heading; the guess reads the sheets by name, this one all but those
    that were left out.
    """
    content = content_of(guess)
    read = [s for s in sheets if s.name in guess.header_row]
    tops = {s.name: guess.header_row[s.name] - guess.header_rows + 1 for s in read}
    headings = {column_number(c.letter): c.heading for c in guess.columns}
    if guess.header_rows > 1:
        headings = headings_of(read[0], tops[read[0].name], guess.header_rows)
    content["fields"] = {n: _by_heading(f, headings) for n, f in content["fields"].items()}
    words = _header_words(read[0], tops[read[0].name], guess, headings)
    if words and all(row_with(s, words) == tops[s.name] for s in read):
        content["table"] = {k: v for k, v in content["table"].items() if k != "header_row"} | {"header_has": words}
    del content["sheets"]
    if guess.left_out:
        content["sheets"] = {"except": list(guess.left_out)}
    return content


def _by_heading(field: Mapping[str, Any], headings: Mapping[int, str]) -> dict[str, Any]:
    """Return a field that stands under its heading instead of in its column."""
    if "letter" not in field:
        return dict(field)
    column = column_number(field["letter"])
    heading = headings.get(column)
    if heading is None:
        return dict(field)
    alike = [c for c, h in headings.items() if matches(heading, h)]
    told: dict[str, Any] = {"heading": heading}
    if alike.index(column):
        told["nth"] = alike.index(column) + 1
    return told | {k: v for k, v in field.items() if k != "letter"}


def _header_words(sheet: Sheet, top: int, guess: GuessData, headings: Mapping[int, str]) -> list[str]:
    """Words of the header's uppermost row that say which table it is."""
    if guess.header_rows == 1:
        wanted = [headings.get(column_number(c.letter), "") for c in guess.columns if c.meaning]
    else:
        wanted = [" ".join(shown(v).split()) for v in sheet.rows[top - 1] if not is_blank(v)]
    return list(dict.fromkeys(w for w in wanted if w))
