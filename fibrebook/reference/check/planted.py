"""Wrong values put into the tables, one at a time: which are noticed, and which only memory or one text holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from fibrebook.reference.check.held import Check, Row, Tables, key
from fibrebook.reference.check.second_readings import written
from fibrebook.reference.check.walk import CHECKS

# How wrong a plant is: what somebody might mistype or misremember, not a figure that anybody sees to be absurd.
ADDED = {
    "launch_min_dbm": 1.0, "launch_max_dbm": 1.0, "receive_min_dbm": 1.0, "receive_max_dbm": 1.0, "damage_dbm": 1.0,
    "insertion_loss_max_db": 0.5, "penalty_db": 1.0, "group_index": 0.005,
}  # fmt: skip
TIMES = {
    "attenuation_db_per_km": 1.25, "length_max_m": 1.5, "value": 1.5, "modal_bandwidth_mhz_km": 1.25, "core_um": 1.25,
    "numerical_aperture": 1.25, "mode_field_um": 1.15,
}  # fmt: skip


class Plant(NamedTuple):
    """One wrong value: where it was put, what stood there, what was put, and who noticed (nobody: "")."""

    table: str
    row: Row
    column: str
    right: str
    wrong: str
    noticed_by: str


def plants(t: Tables) -> Iterator[Plant]:
    """Put every number too high and too low, swap every two neighbouring colours; tell who notices.

    A plant is noticed where a check fails, breaks, or no longer covers a row that it covered before.
    """
    readers = _readers(t)
    before = {check: _covered(check, t) for check in CHECKS}
    for name, rows in t.items():
        for place, row in enumerate(rows):
            for column, changed, wrong in _mistakes(name, rows, place):
                planted = {**t, name: changed}
                who = next((c for c in readers[name] if _notices(c, planted, before[c])), None)
                told = who.__name__.replace("_", " ") if who else ""
                yield Plant(name, row, column, written(row[column]), wrong, told)


def not_held(t: Tables) -> dict[tuple[str, int, str], list[str]]:
    """Return the cells (table, line, column) in which at least one wrong value passes unnoticed, with those values."""
    out: dict[tuple[str, int, str], list[str]] = {}
    for plant in plants(t):
        if not plant.noticed_by:
            out.setdefault((plant.table, plant.row["line"], plant.column), []).append(plant.wrong)
    return out


def _mistakes(name: str, rows: list[Row], place: int) -> Iterator[tuple[str, list[Row], str]]:
    row = rows[place]
    for column, value in row.items():
        if isinstance(value, float) and (column in ADDED or column in TIMES):
            more, times = ADDED.get(column), TIMES.get(column, 1.0)
            wrongs = (value + more, value - more) if more else (value * times, value / times)
            for wrong in wrongs:
                if wrong != value:
                    yield column, [*rows[:place], row | {column: wrong}, *rows[place + 1 :]], written(wrong)
    following = rows[place + 1] if place + 1 < len(rows) else None
    if name == "colour_codes" and following is not None and following["code"] == row["code"]:
        swapped = [row | {"colour": following["colour"]}, following | {"colour": row["colour"]}]
        yield "colour", [*rows[:place], *swapped, *rows[place + 2 :]], f"{following['colour']}, swapped with the next"


class _Watched(dict[str, list[Row]]):
    """Tables that remember which were read."""

    def __init__(self, t: Tables) -> None:
        super().__init__(t)
        self.read: set[str] = set()

    def __getitem__(self, name: str) -> list[Row]:
        self.read.add(name)
        return super().__getitem__(name)


def _readers(t: Tables) -> dict[str, list[Check]]:
    readers: dict[str, list[Check]] = {name: [] for name in t}
    for check in CHECKS:
        watched = _Watched(t)
        list(check(watched))
        for name in watched.read:
            readers[name].append(check)
    return readers


def _covered(check: Check, t: Tables) -> set[tuple[str, int]]:
    return {key(finding.row) for finding in check(t)}


def _notices(check: Check, t: Tables, before: set[tuple[str, int]]) -> bool:
    """Return whether the check fails, breaks, or lets go of a row."""
    now: set[tuple[str, int]] = set()
    try:
        for finding in check(t):
            if not finding.holds:
                return True
            now.add(key(finding.row))
    except (ValueError, KeyError, ZeroDivisionError):
        return True
    return not before <= now
