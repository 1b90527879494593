"""Somebody's month: what was saved under their initials, day by day."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError
from fibrebook.records import KINDS, to_frame
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema(
    [("day", pa.date32()), ("sites", pa.string()), ("commit", pa.int64()), ("why", pa.string()), ("work", pa.string())]
)


def month_of(reg: Register, by: str, month: str | None = None) -> pd.DataFrame:
    """Tell what somebody recorded in a month, from the register's own history.

    Parameters
    ----------
    by : their initials, as they stand in the history; case aside
    month : "2026-10"; None = the month of their newest commit

    Returns
    -------
    DataFrame, one row a commit, oldest first: day (UTC, when it was made), sites, commit, why, work ("12 splices added,
    2 cords changed"). What nobody recorded is not in it; hours and travel are not recorded.

    Raises
    ------
    InputError : `month` is no month; NotFoundError : nothing in the history is by them
    """
    log = reg.log()
    known = log["by"].dropna().unique().tolist()
    mine = log[log["by"].str.casefold() == by.strip().casefold()]
    if mine.empty:
        raise NotFoundError(f"nothing was saved by {by!r}; {did_you_mean(by, sorted(known))}")
    first = _first_day(month) if month else mine["time_utc"].iloc[-1].date().replace(day=1)
    days = mine["time_utc"].dt.date
    mine = mine[(days >= first) & (days < _next_month(first))]
    rows = [
        {
            "day": one["time_utc"].date(),
            "sites": one["sites"],
            "commit": int(one["commit"]),
            "why": one["why"],
            "work": _work(reg, int(one["commit"])),
        }
        for one in mine.to_dict("records")
    ]
    return to_frame(pa.Table.from_pylist(rows, schema=SCHEMA))


def _work(reg: Register, commit: int) -> str:
    found = reg.differences(commit - 1, commit)
    once = dict.fromkeys(zip(found["table"], found["key"], found["op"], strict=True))
    counts: Counter[tuple[str, str]] = Counter((table, op) for table, _, op in once)
    return ", ".join(f"{n} {_kind(table, n)} {op}" for (table, op), n in counts.items())


def _kind(table: str, count: int) -> str:
    kind: Any = KINDS.get(table)
    return table if kind is None or count != 1 else str(kind.singular)


def _first_day(month: str) -> dt.date:
    if not re.fullmatch(r"\d{4}-\d{2}", month):
        raise InputError(f"{month!r} is no month: write it as 2026-10")
    try:
        return dt.date.fromisoformat(f"{month}-01")
    except ValueError as error:
        raise InputError(f"{month!r} is no month: write it as 2026-10") from error


def _next_month(first: dt.date) -> dt.date:
    return (first + dt.timedelta(days=32)).replace(day=1)
