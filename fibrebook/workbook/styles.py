"""How the cells of a workbook look, each style made once and shared."""

from __future__ import annotations

from typing import Any

from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

from fibrebook.errors import ValueSourceError
from fibrebook.records import Column, Kind
from fibrebook.reference.colours import hex_of, text_on
from fibrebook.workbook.escape import escaped, looks_like_formula

HEAD, KEY, MADE = "DDE3EA", "C3CEDA", "EEEEEE"  # ordinary heading, key heading, made from other records
TYPE = {"name": "Calibri", "size": 11}  # said each time: a font without a name is drawn in another
LINE = Side(style="thin", color="808080")


class Styles:
    """Styles of one workbook; a cell gets a ready style, for styling one by one costs most of the time."""

    def __init__(self, sheet: Any) -> None:
        self._sheet = sheet
        self._made: dict[tuple[Any, ...], Any] = {}

    def cell(self, sheet: Any, value: Any, style: tuple[Any, ...] = ()) -> Any:
        """Return a cell; text is always data, never a formula."""
        cell = WriteOnlyCell(sheet)
        if isinstance(value, str):
            if looks_like_formula(value):
                style = (*style, "quoted")
            cell._value, cell.data_type = escaped(value), "s"
        elif value is not None:
            cell.value = value
        cell._style = self._style(style)
        return cell

    def head(self, sheet: Any, kind: Kind, column: Column) -> Any:
        """Return the heading cell of a column, its help as a note on it."""
        style = "key" if column.name in kind.key else "made" if column.generated else "head"
        cell = self.cell(sheet, column.name, (style,))
        cell.comment = note(help_of(kind, column))
        return cell

    def _style(self, wanted: tuple[Any, ...]) -> Any:
        if wanted not in self._made:
            cell = WriteOnlyCell(self._sheet)
            for part in wanted:
                _apply(cell, part)
            self._made[wanted] = cell._style
        return self._made[wanted]


def note(text: str) -> Comment:
    """Return a note of a size that shows its text."""
    return Comment(text, "fibrebook", width=280, height=24 + 18 * (len(text) // 38 + text.count("\n") + 1))


def help_of(kind: Kind, column: Column) -> str:
    """Return what a column is, in a few lines: help, unit, values, whether it must be given."""
    lines = [column.help]
    if column.unit:
        lines.append(f"In {column.unit}.")
    if column.allowed:
        lines.append(f"{'For example' if column.open_list else 'One of'}: {', '.join(column.allowed)}.")
    if column.type == "date":
        lines.append("A date.")
    if column.type == "yes/no":
        lines.append("yes or no.")
    if column.name in kind.key:
        lines.append("Part of the key: it says which record the row is.")
    elif column.required:
        lines.append("Must be given.")
    if column.generated:
        lines.append("Made from the cable unless it is overruled.")
    return "\n".join(lines)


def format_of(column: Column) -> str:
    """Return the number format of a column: labels stay text, units show beside numbers."""
    if column.type in ("label", "text"):
        return "@"
    if column.type == "date":
        return "yyyy-mm-dd"
    return f'General" {column.unit}"' if column.unit else "General"


def colour_style(word: str | None) -> tuple[str, str, str] | None:
    """Return the style part that paints a cell in a fibre's colour; None for what is no colour word."""
    if not word:
        return None
    try:
        return ("colour", hex_of(word).lstrip("#").upper(), text_on(word).lstrip("#").upper())
    except ValueSourceError:
        return None


def _apply(cell: Any, part: Any) -> None:
    if part == "quoted":
        cell.quotePrefix = True
    elif part == "unlocked":
        cell.protection = Protection(locked=False)
    elif part == "wrapped":
        cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal="left")
    elif part == "bold":
        cell.font = Font(bold=True, **TYPE)
        cell.alignment = Alignment(vertical="top")
    elif part in ("head", "key", "made"):
        cell.font = Font(bold=True, italic=part == "made", **TYPE)
        cell.fill = PatternFill("solid", fgColor={"head": HEAD, "key": KEY, "made": MADE}[part])
        cell.border = Border(bottom=LINE)
        cell.alignment = Alignment(vertical="center")
    elif isinstance(part, tuple) and part[0] == "colour":
        cell.fill = PatternFill("solid", fgColor=part[1])
        cell.font = Font(color=part[2], **TYPE)
        cell.border = Border(left=LINE, right=LINE, top=LINE, bottom=LINE)
    else:
        cell.number_format = part
