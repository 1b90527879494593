"""Drop-downs and bounds on a sheet's columns, one rule a column."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from openpyxl.worksheet.datavalidation import DataValidation

from fibrebook.readers.files.limits import column_letter
from fibrebook.records import KINDS, Column, Kind

ROOM = 1_000  # rows below the last one that drop-downs reach to, for new rows
FIRST_DATE = dt.date(1900, 3, 1)  # spreadsheets number the days before it wrongly (1900 was no leap year)
INLINE = 250  # a list written into the rule itself may hold 255 characters
HOME_OF = {"ports": "enclosures", "cores": "cables", "interfaces": "equipment"}  # whose label stands first in a link
PLACES = "places"  # list of enclosures and equipment together


def rules(kind: Kind, lengths: Mapping[str, int], lists: Mapping[str, tuple[int, int]]) -> list[DataValidation]:
    """Return a sheet's rules.

    Parameters
    ----------
    lengths : rows of each table in the workbook
    lists : name -> (column number, count) of the lists on the hidden sheet
    """
    last = lengths[kind.name] + 1 + ROOM
    out = []
    for number, column in enumerate(kind.columns, 1):
        rule = _rule(kind, column, lengths, lists)
        if rule is not None:
            letter = column_letter(number)
            rule.add(f"{letter}2:{letter}{last}")
            out.append(rule)
    remove = _listed(["yes"])
    letter = column_letter(len(kind.columns) + 1)
    remove.add(f"{letter}2:{letter}{last}")
    return [*out, remove]


def _rule(
    kind: Kind, column: Column, lengths: Mapping[str, int], lists: Mapping[str, tuple[int, int]]
) -> DataValidation | None:
    if f"{kind.name}.{column.name}" in lists:
        return _range(_list_range(*lists[f"{kind.name}.{column.name}"]), "")
    if column.allowed:
        rule = _listed(column.allowed)
        rule.showErrorMessage = not column.open_list
        return rule if len(rule.formula1) <= INLINE else None
    if column.type == "yes/no":
        return _listed(["yes", "no"])
    target = key_sheet(kind, column.name)
    if target == PLACES:
        if PLACES not in lists:
            return None
        return _range(_list_range(*lists[PLACES]), "no enclosure or equipment is called so yet")
    if target:
        names = KINDS[target].names
        letter = column_letter(names.index((KINDS[target].own_key or KINDS[target].key)[0]) + 1)
        reach = f"'{target}'!${letter}$2:${letter}${lengths[target] + 1 + ROOM}"
        return _range(reach, f"there is no such {KINDS[target].singular} on the sheet {target!r} yet")
    return _bounds(column)


def key_sheet(kind: Kind, column: str) -> str:
    """Return the table whose labels a column holds, PLACES for enclosures or equipment, "" for neither."""
    if column == "site":
        return "" if kind.name == "sites" else "sites"
    for link in kind.links:
        if link.columns[0] == column:
            if len(link.to) > 1:
                return PLACES
            return HOME_OF.get(link.to[0], link.to[0])
    return ""


def _list_range(column: int, count: int) -> str:
    letter = column_letter(column)
    return f"'lists'!${letter}$2:${letter}${max(count, 1) + 1}"


def _range(reach: str, warning: str) -> DataValidation:
    """A list taken from cells; with a warning what is not listed is asked about, without it just taken."""
    rule = DataValidation(type="list", formula1=reach, allow_blank=True, errorStyle="warning")
    rule.showErrorMessage = bool(warning)
    if warning:
        rule.errorTitle, rule.error = "Not listed", f"{warning[:1].upper()}{warning[1:]}. Keep it all the same?"
    return rule


def _listed(words: Sequence[str]) -> DataValidation:
    """A list written into the rule; what is not in it is refused."""
    rule = DataValidation(type="list", formula1=f'"{",".join(words)}"', allow_blank=True, errorStyle="stop")
    rule.showErrorMessage = True
    rule.errorTitle, rule.error = "Not one of its values", f"It is one of: {', '.join(words)}"[:250]
    return rule


def _bounds(column: Column) -> DataValidation | None:
    if column.type == "date":
        rule = DataValidation(
            type="date", operator="greaterThanOrEqual", formula1=str((FIRST_DATE - dt.date(1899, 12, 30)).days),
            allow_blank=True, errorStyle="warning",
        )  # fmt: skip
        rule.errorTitle, rule.error = "No date", "Write a date, as 2026-03-31. Keep it all the same?"
    elif column.type in ("integer", "number"):
        low = column.minimum if column.minimum is not None else -1e9
        high = column.maximum if column.maximum is not None else 1e9
        kind = "whole" if column.type == "integer" else "decimal"
        rule = DataValidation(
            type=kind, operator="between", formula1=f"{low:.15g}", formula2=f"{high:.15g}", allow_blank=True,
            errorStyle="stop",
        )  # fmt: skip
        unit = f" {column.unit}" if column.unit else ""
        what = "A whole number" if kind == "whole" else "A number"
        rule.errorTitle, rule.error = "Out of range", f"{what} from {low:g} to {high:g}{unit}."
    else:
        return None
    rule.showErrorMessage = True
    return rule
