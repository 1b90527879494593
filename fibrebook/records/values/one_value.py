"""One value as people give it, as the type that its column declares."""

from __future__ import annotations

import contextlib
import datetime as dt
import math
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    pass
from fibrebook.records.values.times import DATE_ALONE, time_beside_date, time_of_day

WHOLE = re.compile(r"-?\d+(\.0+)?")
YES_NO = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}


def is_missing(value: Any) -> bool:
    """Whether a cell holds nothing: None, blank text, NaN, a missing time."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return True
    if isinstance(value, float):
        return math.isnan(value)
    return type(value).__name__ in ("NAType", "NaTType") or (isinstance(value, np.datetime64) and bool(np.isnat(value)))


def as_label(value: Any) -> str:
    """Return a value as label text: 1, 1.0 and "1" are the same; ValueError where it cannot be one."""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return str(int(value)) if float(value).is_integer() else repr(float(value))
    if isinstance(value, (dt.datetime, dt.date, dt.time, np.datetime64)):
        raise ValueError(f"{value} is a date here → format the cell as text and write the label again")
    if isinstance(value, str):
        text = value.strip()
        return text[: text.index(".")] if re.fullmatch(r"\d+\.0+", text) else text
    raise ValueError(f"{value!r} is no text → write a label")


def _as_text(value: Any) -> str:
    if isinstance(value, (dt.datetime, dt.date, dt.time, np.datetime64)):
        return str(value)
    return value.strip() if isinstance(value, str) else as_label(value)


def _as_integer(value: Any) -> int:
    if isinstance(value, (bool, np.bool_)):
        raise ValueError(f"{value} is no whole number → write a number like 12")
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)) and float(value).is_integer():
        return int(value)
    if isinstance(value, str) and WHOLE.fullmatch(value.strip()) and len(value) < 20:
        return int(value.strip().split(".")[0])
    raise ValueError(f"{str(value)[:40]!r} is no whole number → write a number like 12")


def _as_number(value: Any) -> float:
    if not isinstance(value, (bool, np.bool_)) and not (isinstance(value, str) and "_" in value):  # else 1_5 is 15
        try:
            number = float(value)
        except (TypeError, ValueError):
            pass
        else:
            if math.isfinite(number):
                return number
    raise ValueError(f"{str(value)[:40]!r} is no number → write a number like 0.35, with a point and no unit")


def _as_date(value: Any) -> dt.date:
    if hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime()
    if isinstance(value, np.datetime64):
        value = value.astype("datetime64[us]").item()
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            value = dt.datetime.fromisoformat(value.strip())
    if isinstance(value, dt.datetime):
        if time := time_of_day(value):
            raise ValueError(f"{time_beside_date(time)} → {DATE_ALONE}")
        return value.date()
    if isinstance(value, dt.date):
        return value
    raise ValueError(f"{str(value)[:40]!r} is no date → write it as 2026-03-31")


def _as_yes_no(value: Any) -> bool:
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, float, np.integer, np.floating)) and value in (0, 1):
        return bool(value)
    if isinstance(value, str) and value.strip().casefold() in YES_NO:
        return YES_NO[value.strip().casefold()]
    raise ValueError(f"{str(value)[:40]!r} is neither yes nor no → write yes or no")


AS_TYPE: dict[str, Callable[[Any], Any]] = {
    "label": as_label, "text": _as_text, "integer": _as_integer, "number": _as_number, "date": _as_date,
    "yes/no": _as_yes_no,
}  # fmt: skip
