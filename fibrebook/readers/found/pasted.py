"""A table that was pasted as text: Markdown or drawn with lines, HTML, tabs or other separators, columns of spaces."""

from __future__ import annotations

import csv
import io
import itertools
import re
from html.parser import HTMLParser

from fibrebook.errors import InputError
from fibrebook.readers.files.limits import MOST_CELLS, MOST_COLUMNS, too_large
from fibrebook.readers.files.text_table import SEPARATORS

HTML_TABLE = re.compile(r"<t(?:able|r|d)[\s>]", re.IGNORECASE)
RULE = re.compile(r"[\s|+:=_\-─━│┼├┤┌┐└┘┬┴╔╗╚╝═║╬]*[\-=─━═]{2,}[\s|+:=_\-─━│┼├┤┌┐└┘┬┴╔╗╚╝═║╬]*")
GAP = re.compile(r"\S {2,}\S")
SAMPLE_LINES, SAMPLE_LETTERS = 60, 8_000  # of a text, from which its separator is told
LONGEST_CELL = 10_000_000  # letters
NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright lines"}


def read_pasted(name: str, text: str) -> tuple[list[list[str]], str]:
    """Return the rows of a text and in words what parts its cells.

    Raises
    ------
    InputError : it is empty, too large, or holds bytes that no text has
    """
    if "\0" in text:
        raise InputError(f"{name} holds bytes that no text has; save it again as text in UTF-8")
    if not text.strip():
        raise InputError(f"{name} is empty; save it again")
    if HTML_TABLE.search(text):
        rows, how = _html(text), "a table of a web page"
    elif _drawn(text):
        rows, how = _between_lines(text), "cells between upright lines"
    else:
        rows, how = _separated(text)
    if sum(max(len(r), 1) for r in rows) > MOST_CELLS or max(map(len, rows), default=0) > MOST_COLUMNS:
        raise too_large(name)
    return rows, how


def _drawn(text: str) -> bool:
    """Whether upright lines part the cells, with at least one line drawn across."""
    lines = text.splitlines()[: SAMPLE_LINES * 4]
    upright = sum(line.strip()[:1] in "|│║" or line.count("|") > 1 for line in lines if line.strip())
    return upright > 1 and any(RULE.fullmatch(line) and re.search(r"[|+│┼]", line) for line in lines)


def _between_lines(text: str) -> list[list[str]]:
    rows: list[list[str]] = []
    for line in text.splitlines():
        plain = re.sub(r"[│║]", "|", line.strip())
        if RULE.fullmatch(plain):
            rows.append([])  # numbers of rows stay those of the text's lines
        elif "|" in plain:
            cells = [c.strip().replace("\\|", "|") for c in re.split(r"(?<!\\)\|", plain)]
            cells = cells[1:] if plain.startswith("|") else cells
            rows.append([_unmarked(c) for c in (cells[:-1] if plain.endswith("|") else cells)])
        else:
            rows.append([_unmarked(plain.lstrip("# "))] if plain else [])
    return rows


def _unmarked(cell: str) -> str:
    return re.sub(r"^(\*\*|__|`)(.+)\1$", r"\2", cell)


class _Table(HTMLParser):
    """Gathers cells; a cell over several columns or rows counts at its first."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.rows: list[list[str]] = []
        self._cell: list[str] | None = None
        self._below: dict[int, int] = {}  # column -> rows for which a cell above still stands there
        self._span = (1, 1)
        self._loose: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style", "head"):
            self._silent += 1
        elif tag == "tr":
            self._flush()
            self.rows.append([])
        elif tag in ("td", "th"):
            self._end_cell()
            self._cell = []
            said = dict(attrs)
            self._span = _times(said.get("colspan")), _times(said.get("rowspan"))
        elif tag == "br" and self._cell is not None:
            self._cell.append("\n")
        elif tag in ("p", "div", "table", "h1", "h2", "h3", "h4") and self._cell is None:
            self._flush()

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style", "head"):
            self._silent = max(self._silent - 1, 0)
        elif tag in ("td", "th", "tr"):
            self._end_cell()
        elif tag == "table":
            self._end_cell()
            self.rows.append([])
            self._below = {}

    def handle_data(self, data: str) -> None:
        if not self._silent:
            (self._loose if self._cell is None else self._cell).append(data)

    def _end_cell(self) -> None:
        if self._cell is None:
            return
        row = self.rows[-1] if self.rows else []
        if not self.rows:
            self.rows.append(row)
        while self._below.get(len(row), 0) and len(row) < MOST_COLUMNS:
            self._below[len(row)] -= 1
            row.append("")
        text = "\n".join(" ".join(part.split()) for part in "".join(self._cell).split("\n")).strip()
        for i in range(self._span[0]):
            if self._span[1] > 1:
                self._below[len(row)] = self._span[1] - 1
            row.append("" if i else text)
        self._cell = None

    def _flush(self) -> None:
        """Text outside the cells is a row of its own: a title."""
        text = " ".join("".join(self._loose).split())
        self._loose = []
        if text:
            self.rows.append([text])

    def finish(self) -> list[list[str]]:
        self._end_cell()
        self._flush()
        return self.rows


def _times(text: str | None) -> int:
    return min(int(text), 100) if text and text.isascii() and text.isdecimal() and len(text) < 5 and int(text) else 1


def _html(text: str) -> list[list[str]]:
    table = _Table()
    table.feed(text)
    table.close()
    return table.finish()


def _separated(text: str) -> tuple[list[list[str]], str]:
    lines = text.splitlines()
    sample = [line for line in lines if line.strip()][:SAMPLE_LINES]
    gaps = sum(bool(GAP.search(line.strip())) for line in sample)
    separator, quote = _separator(sample)
    parted = sum(line.count(separator) > 0 for line in sample) if separator else 0
    if gaps * 2 > len(sample) and gaps > parted:
        return _columns_of_spaces(lines), "columns of spaces"
    if not separator:
        return [[line.strip()] if line.strip() else [] for line in lines], "one cell a line"
    usual = csv.field_size_limit(LONGEST_CELL)  # the whole process's: other readers count on the usual one
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=separator, quoting=csv.QUOTE_MINIMAL if quote else csv.QUOTE_NONE
    )
    rows, at = [], 0
    try:
        for row in reader:  # a cell of several lines: the row stands at its first
            rows.append(row)
            at = reader.line_num
    except csv.Error as error:
        raise InputError(f"line {at + 1}: {error}; look at the quotation marks there") from error
    finally:
        csv.field_size_limit(usual)
    return rows, NAMES.get(separator, repr(separator))


def _separator(sample: list[str]) -> tuple[str, bool]:
    """Return what parts the cells of these lines ("" = nothing does), and whether some stand in quotation marks."""
    import clevercsv

    text = "\n".join(sample)[:SAMPLE_LETTERS]
    there = [s for s in (*SEPARATORS, "|") if s in text]
    if not there:
        return "", False
    try:
        dialect = clevercsv.Sniffer().sniff(text, delimiters=there)
    except Exception:  # it gives up on some texts by one error or another
        dialect = None
    if dialect is not None and dialect.delimiter in there:
        return str(dialect.delimiter), '"' in text
    return max(there, key=lambda s: sum(line.count(s) > 0 for line in sample)), '"' in text


def _columns_of_spaces(lines: list[str]) -> list[list[str]]:
    """Part the lines of each paragraph where all of them have two blanks or more, or a blank beside an edge."""
    rows: list[list[str]] = []
    paragraph: list[str] = []
    for line in [*lines, ""]:
        plain = line.expandtabs().rstrip()
        if plain and not RULE.fullmatch(plain):
            paragraph.append(plain)
            continue
        rows += _parted(paragraph)
        rows.append([])
        paragraph = []
    return rows[:-1]


def _parted(paragraph: list[str]) -> list[list[str]]:
    table = [line for line in paragraph if GAP.search(line.strip())]
    width = max(map(len, table), default=0)
    used = [any(i < len(line) and line[i] != " " for line in table) for i in range(width)]
    starts = [i for i in range(width) if used[i] and not any(used[max(i - 2, 0) : i])]
    cuts = [0, *starts[1:], None]
    out = []
    for line in paragraph:
        if line not in table:
            out.append([line.strip()])
        else:
            out.append([line[a:b].strip() for a, b in itertools.pairwise(cuts)])
    return out
