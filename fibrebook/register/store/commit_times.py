"""When a commit counts as made: times that rise, and the commit that a number, a day or a time means.

A commit file says what the clock of its machine said (`time_utc`), and clocks are wrong now and then. In the order of
numbers a commit's *rising time* is its own time or that of a commit before it, whichever is later: one clock that
was slow makes nothing look older than what came before. New commits bear it (`rising_utc`), so that a day is found
among many thousands by reading some fifteen files; for earlier ones it is worked out.
"""

from __future__ import annotations

import datetime as dt
import numbers
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from fibrebook.errors import InputError, NotFoundError
from fibrebook.register.store.state import Json, utc_text

if TYPE_CHECKING:
    from fibrebook.register.store.log import Log

HOW = "write a commit's number (42), a day (2026-03-31) or a time (2026-03-31T14:00)"
MOST_DIGITS = 15  # of a commit number; more are a slip of the hand
MILLISECOND = dt.timedelta(milliseconds=1)  # times are written to the millisecond
FIRST = dt.datetime.min.replace(tzinfo=dt.UTC)


def own_time(content: Json) -> dt.datetime:
    """Return what the machine that made a commit took for the time, in UTC."""
    return dt.datetime.fromisoformat(content["time_utc"]).astimezone(dt.UTC)


def told_time(content: Json, otherwise: dt.datetime) -> dt.datetime:
    """Return the rising time that a commit bears; `otherwise` where it was made by an earlier fibrebook."""
    said = content.get("rising_utc")
    return otherwise if said is None else dt.datetime.fromisoformat(said).astimezone(dt.UTC)


def rising_times(log: Log, newest: int) -> list[dt.datetime]:
    """Return the rising time of commits 1 to `newest`, from their own times alone."""
    return list(accumulate((own_time(log.commit(n)) for n in range(1, newest + 1)), max))


def rising_time(log: Log, number: int) -> dt.datetime:
    """Return the rising time of one commit; reads back to the nearest one that bears it. Before the first: `FIRST`."""
    latest = FIRST
    for n in range(number, 0, -1):
        content = log.commit(n)
        latest = max(latest, own_time(content))
        if "rising_utc" in content:
            return max(latest, told_time(content, latest))
    return latest


def times_of_next(log: Log, number: int, now: str) -> Json:
    """Return the times that commit `number` is to bear when its machine's clock says `now`."""
    before = rising_time(log, number - 1)
    return {"time_utc": now, "rising_utc": max(now, utc_text(before)) if before > FIRST else now}


def commit_at(log: Log, at: Any) -> int:
    """Return the commit meant by a number, a time (UTC where no zone is given) or a day (its end, in UTC).

    A time means the last commit before the first one whose rising time is later; 0 = before the first commit.

    Raises
    ------
    InputError : it is no number, day or time
    NotFoundError : there is no commit of that number
    """
    newest = log.newest()
    number = commit_number(at)
    if number is not None:
        if not 0 <= number <= newest:
            raise NotFoundError(f"there is no commit {number}; the register has 0 (empty) to {newest}")
        return number
    limit = as_time(at)
    low, high = 0, newest  # rising(low) is no later than the limit; the one wanted is at most `high`
    while low < high:
        middle = (low + high + 1) // 2
        if rising_time(log, middle) <= limit:
            low = middle
        else:
            high = middle - 1
    return low


def commit_number(at: Any) -> int | None:
    """Return the commit number that something says; None where it says a day or time, or nothing that is one."""
    if isinstance(at, str):
        text = at.strip()
        return int(text) if text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS else None
    if isinstance(at, bool) or not isinstance(at, numbers.Integral):
        return None
    return int(at)


def as_time(at: Any) -> dt.datetime:
    """Return a time in UTC; a day means its end.

    Raises
    ------
    InputError : it is neither
    """
    said = at
    if isinstance(at, str):
        text = at.strip()
        try:
            at = dt.date.fromisoformat(text) if len(text) <= 10 else dt.datetime.fromisoformat(text)
        except ValueError:
            raise _refused(said) from None
    if not isinstance(at, dt.date) or at != at:  # pandas' "not a time" is a datetime and differs from itself
        raise _refused(said)
    if not isinstance(at, dt.datetime):
        at = dt.datetime.combine(at, dt.time.max)
    try:
        found: dt.datetime = at.astimezone(dt.UTC) if at.tzinfo else at.replace(tzinfo=dt.UTC)
        return found
    except (OverflowError, ValueError):
        raise _refused(said) from None


def _refused(said: Any) -> InputError:
    return InputError(f"{str(said)[:60]!r} is no commit and no time; {HOW}")
