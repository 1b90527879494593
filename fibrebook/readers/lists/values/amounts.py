"""Losses, lengths, days and conditions as lists have them; only by forms that can be read in one way."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import lru_cache

from fibrebook.readers.guess.headings import FAULTY, SOUND
from fibrebook.readers.lists.values.numbers import NOTHING

ENGLISH = "january february march april may june july august september october november december"
MONTHS = {
    **{name: i for i, name in enumerate(ENGLISH.split(), 1)},
    **{name[:3]: i for i, name in enumerate(ENGLISH.split(), 1)},
    "mrz": 3, "mär": 3, "mai": 5, "okt": 10, "dez": 12, "sept": 9,
}  # fmt: skip
BAD = {*FAULTY, "u/s", "unserviceable", "not working", "no continuity", "high loss", "defekt", "kaputt", "gebrochen",
       "kein licht", "hs", "coupé", "rota", "damaged", "no signal"}  # fmt: skip
GOOD = {*SOUND, "✓", "✔", "okay", "i.o.", "io", "tested ok", "light ok", "bon"}  # fmt: skip
IN_USE = {"live", "in use", "used", "lit", "active", "belegt", "tested", "connected", "in service", "patched", "aktiv"}
_AMOUNT = re.compile(r"([-+−]?\d[\d.,' ]*)\s*(db|m|km|metres|meters|mtr|mtrs)?\.?", re.IGNORECASE)
_FAULT_AT = re.compile(r"(.+?)\s*(?:at|@|,|bei|after|nach|:)?\s*(\d+(?:[.,]\d+)?)\s*(m|metres|meters)", re.IGNORECASE)
_RESERVED = re.compile(
    r"(?:reserved|reserviert|kept|held|réservé|res\.?)\s*(?:for|für|pour|:|-)?\s*(.+)", re.IGNORECASE
)


@lru_cache(maxsize=50_000)
def amount(text: str, decimal: str = "") -> float | None:
    """Return a number with its unit, metres for km; None where it can be read in two ways or is none.

    decimal : the mark that the column is known to use; blank = not known: 1.031 and 1,031 are read in neither way
    """
    found = _AMOUNT.fullmatch(text.strip())
    if not found:
        return None
    digits = re.sub(r"[ ']", "", found[1]).replace("−", "-")
    marks = [c for c in digits if c in ".,"]
    if len(set(marks)) == 2:
        decimal = marks[-1]
        if marks[:-1].count(decimal):
            return None
    elif len(marks) == 1 and not decimal:
        head, tail = re.split(r"[.,]", digits)
        if len(tail) == 3 and head.strip("+-") not in ("", "0"):
            return None
        decimal = marks[0]
    elif len(marks) > 1 and marks[0] == decimal:
        return None
    thousands = "," if decimal == "." else "." if decimal == "," else marks[0] if marks else ""
    plain = digits.replace(thousands, "") if thousands else digits
    try:
        number = float(plain.replace(decimal, ".") if decimal else plain)
    except ValueError:
        return None
    return number * 1000 if (found[2] or "").casefold() == "km" else number


@dataclass(frozen=True, slots=True)
class WrittenDay:
    """A day; `other` is the day that it would be with day and month the other way round, where that can be."""

    day: dt.date
    other: dt.date | None = None


@lru_cache(maxsize=20_000)
def day(text: str) -> WrittenDay | None:
    """Return the day of 2019-03-31, 31.03.2019, 31/3/19, 31 Mar 2019; None for anything else, June 2019 too."""
    plain = text.strip()
    found = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", plain)
    if found:
        return _made(int(found[1]), int(found[2]), int(found[3]))
    found = re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})", plain)
    if found:
        year = int(found[4]) + (2000 if len(found[4]) == 2 else 0)
        a, b = int(found[1]), int(found[3])
        first = _made(year, b, a)
        second = _made(year, a, b) if found[2] != "." and a != b else None
        if first and second:
            return WrittenDay(first.day, second.day)
        return first or second
    found = re.fullmatch(r"(\d{1,2})[.\s-]\s*([^\W\d_]+)\.?[\s-](\d{4}|\d{2})", plain)
    if found and found[2].casefold() in MONTHS:
        year = int(found[3]) + (2000 if len(found[3]) == 2 else 0)
        return _made(year, MONTHS[found[2].casefold()], int(found[1]))
    return None


def _made(year: int, month: int, day_: int) -> WrittenDay | None:
    try:
        return WrittenDay(dt.date(year, month, day_))
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class CoreRemark:
    """What a remark says of a core: "faulty", "sound" or "" (nothing of it), where, and what it is reserved for."""

    condition: str = ""
    fault_m: float | None = None
    reserved_for: str = ""


@lru_cache(maxsize=20_000)
def state(text: str) -> CoreRemark | None:
    """Return what a whole text says of a core's state; None where it says anything else, or more than that."""
    plain = " ".join(text.casefold().split()).strip(" .!")
    if plain in BAD:
        return CoreRemark("faulty")
    if plain in GOOD:
        return CoreRemark("sound")
    if plain in NOTHING:
        return CoreRemark()
    reserved = _RESERVED.fullmatch(" ".join(text.split()))
    if reserved and len(reserved[1]) <= 60:
        return CoreRemark(reserved_for=reserved[1])
    at = _FAULT_AT.fullmatch(plain)
    if at and at[1].strip() in BAD:
        return CoreRemark("faulty", amount(at[2]))
    return None


def speaks_of_fault(text: str) -> bool:
    """Whether a text holds a word of a fault: it is then no mere note."""
    words = re.sub(r"[^\w/✓]+", " ", text.casefold()).split()
    plain = f" {' '.join(words)} "
    return any(f" {word} " in plain for word in BAD if len(word) > 2)
