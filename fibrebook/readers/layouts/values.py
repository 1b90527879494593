"""One cell's value as a field of a layout says it is to be read."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from typing import Any

from fibrebook.readers.files.sheets import shown
from fibrebook.readers.layouts.layout import Field, normalised
from fibrebook.readers.layouts.patterns import fits, replaced
from fibrebook.records.values.times import DATE_ALONE, time_beside_date, time_of_day
from fibrebook.reference.colours import read_colour

YES_NO = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}


class UnreadableError(ValueError):
    """A value that the field cannot be; says what would be right."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


def read_value(field: Field, value: Any, blank: Sequence[str]) -> tuple[Any, dict[str, str | None]]:
    """Read a cell: blank words, replacing, case, map, pattern, type, default; in that order.

    Returns
    -------
    the value (None = blank), and the texts of the pattern's named groups

    Raises
    ------
    UnreadableError
    """
    groups: dict[str, str | None] = dict.fromkeys(field.groups)
    if isinstance(value, dt.datetime | dt.date) and field.type == "date":
        return (_day(field, value) if isinstance(value, dt.datetime) else value), groups
    if isinstance(value, int | float) and not isinstance(value, bool) and field.type in ("number", "whole number"):
        value = repr(value).replace(".", field.decimal)  # a number cell: its decimals are sure
    text = _text(value)
    if text and any(normalised(text) == normalised(word) for word in (*blank, *field.blank)):
        text = ""
    for pattern, by in field.replace:
        text = replaced(pattern, by, text)
    text = " ".join(text.split()) if field.replace else text
    text = {"upper": text.upper, "lower": text.lower}.get(field.case, lambda: text)()
    if text and field.map:
        text = _mapped(field, text)
    if text and field.pattern is not None:
        text, groups = _matched(field, text, groups)
    if not text:
        text = field.default or ""
    if not text:
        if field.needed:
            raise UnreadableError("is blank", "it must be given")
        return None, groups
    return _typed(field, text), groups


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float) and not value.is_integer():
        return repr(value)
    return " ".join(shown(value).split())


def _mapped(field: Field, text: str) -> str:
    found = field.map.get(normalised(text))
    if found is None and field.only_mapped:
        if field.otherwise == "blank":
            return ""
        if field.otherwise == "problem":
            raise UnreadableError(f"{text!r} is not in the layout's map", f"it knows: {', '.join(field.map)}")
    return text if found is None else found


def _matched(field: Field, text: str, groups: dict[str, str | None]) -> tuple[str, dict[str, str | None]]:
    assert field.pattern is not None
    found = fits(field.pattern, text)
    if found:
        texts = {n: (t.strip() or None) if t else None for n, t in found.groupdict().items()}
        return (texts[field.name] or "" if field.name in texts else text), texts
    if field.otherwise == "problem":
        remedy = f"mend it, or the layout: the pattern is {field.pattern.pattern}"
        raise UnreadableError(f"{text!r} does not fit the pattern", remedy)
    return ("" if field.otherwise == "blank" else text), groups


def _typed(field: Field, text: str) -> Any:
    if field.type in ("number", "whole number"):
        return _number(field, text)
    if field.type == "date":
        return _date(field, text)
    if field.type == "colour":
        return _colour(text)
    if field.type == "yes/no":
        if text.casefold() not in YES_NO:
            raise UnreadableError(f"{text!r} is neither yes nor no", "map it to yes or no")
        return YES_NO[text.casefold()]
    return text


def _number(field: Field, text: str) -> int | float:
    plain = text
    for unit in sorted(field.unit, key=len, reverse=True):
        if plain.casefold().endswith(unit.casefold()):
            plain = plain[: -len(unit)].strip()
            break
    digits = plain.replace(" ", "").replace("\u2212", "-")  # the typographic minus sign
    thousands = "." if field.decimal == "," else ","
    whole = re.escape(thousands)
    form = rf"[-+]?(\d+|\d{{1,3}}({whole}\d{{3}})+)?({re.escape(field.decimal)}\d+)?"
    if not digits or not re.fullmatch(form, digits):
        raise UnreadableError(f"{text!r} is no number", _number_remedy(field))
    number = float(digits.replace(thousands, "").replace(field.decimal, "."))
    if not math.isfinite(number):
        raise UnreadableError(f"{text[:40]!r} is larger than any number here", _number_remedy(field))
    if field.type == "whole number":
        if not number.is_integer():
            raise UnreadableError(f"{text!r} is no whole number", "write a number like 12")
        return int(number)
    return number


def _number_remedy(field: Field) -> str:
    unit = f", with or without {' or '.join(field.unit)}" if field.unit else "; name a unit in the layout if it has one"
    return f"write a number like 0{field.decimal}35{unit}"


def _date(field: Field, text: str) -> dt.date:
    for form in field.dates or ("%Y-%m-%d",):
        try:
            found = dt.datetime.strptime(text, form)
        except ValueError:
            continue
        return _day(field, found)
    forms = " or ".join(field.dates or ("%Y-%m-%d",))
    raise UnreadableError(f"{text!r} is no date of the form {forms}", "mend it, or add its form to the layout")


def _day(field: Field, value: dt.datetime) -> dt.date:
    """Return the day; a time of day may be lost only where the layout says so."""
    time = time_of_day(value)
    if time and not field.drop_time:
        remedy = f"{DATE_ALONE}; or let the layout leave the time out: drop_time = true"
        raise UnreadableError(time_beside_date(time), remedy)
    return value.date()


def _colour(text: str) -> str:
    """Return the colour word; a tracer's words may follow ("red ring"). What is no colour stays as it stands."""
    words = text.split()
    for count in range(len(words), 0, -1):
        found = read_colour(" ".join(words[:count]).rstrip(".,;:"))
        if found:
            return found
    return text
