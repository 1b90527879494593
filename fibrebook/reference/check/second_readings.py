"""Values read a second time, in another text than the one that their row names (`second_readings.csv`)."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from fibrebook.reference.check.held import Finding, Row, Tables


@cache
def readings() -> list[dict[str, str]]:
    """Return the second readings: table, where (conditions), column, value, read_in."""
    text = Path(__file__).with_suffix(".csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines(), strict=True))


def matches(row: Row, conditions: dict[str, str]) -> bool:
    """Return whether a row has all of these values; numbers as they are written shortest, an empty text for none."""
    return all(written(row[column]) == value for column, value in conditions.items())


def written(value: object) -> str:
    """Return a cell as a condition writes it."""
    return f"{value:g}" if isinstance(value, float) else "" if value is None else str(value)


def conditions_of(where: str) -> dict[str, str]:
    """Return the conditions of `application = 10GBASE-LR; fibre = `."""
    pairs = (part.partition("=") for part in where.split(";"))
    return {column.strip(): value.strip() for column, _, value in pairs}


def read_again_elsewhere(t: Tables) -> Iterator[Finding]:
    """A second text prints the same value; colours of a code as their whole sequence."""
    for reading in readings():
        rows = [row for row in t[reading["table"]] if matches(row, conditions_of(reading["where"]))]
        wanted = reading["value"].split() if reading["table"] == "colour_codes" else [reading["value"]]
        if len(rows) != len(wanted):
            raise ValueError(f"{reading['where']} in {reading['table']}: {len(rows)} rows, {len(wanted)} readings")
        for row, value in zip(rows, wanted, strict=True):
            told = row[reading["column"]]
            same = told == float(value) if isinstance(told, float) else told == value
            yield Finding(row, same, f"{reading['column']} {value}, read in {reading['read_in']}")
