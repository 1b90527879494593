"""The time of day that a date brings along, told as it is refused."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    pass

DATE_ALONE = "write the date alone, as 2026-03-31; a cell format for dates only hides the time"


def time_of_day(value: dt.datetime) -> str:
    """Return the time of day as text, as 14:30; blank at midnight, which is how spreadsheets write a date alone."""
    time = value.time()
    if time == dt.time():
        return ""
    return time.isoformat("auto" if time.second or time.microsecond else "minutes")


def time_beside_date(time: str) -> str:
    """Return what is wrong with a date that has a time of day."""
    return f"holds a time of day ({time}) beside the date"
