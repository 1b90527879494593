"""All checks, what they hold, and what CHECKS.md says of the rows that none holds."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import fibrebook.reference
from fibrebook.reference.check.applications import APPLICATION_CHECKS
from fibrebook.reference.check.colours import COLOUR_CHECKS
from fibrebook.reference.check.glass import GLASS_CHECKS
from fibrebook.reference.check.held import Check, Row, Tables, key
from fibrebook.reference.check.joints import JOINT_CHECKS
from fibrebook.reference.check.second_readings import conditions_of, matches, read_again_elsewhere
from fibrebook.reference.tables import NUMBERS, UNITS, how_known

CHECKS: tuple[Check, ...] = (
    *GLASS_CHECKS, *APPLICATION_CHECKS, *JOINT_CHECKS, *COLOUR_CHECKS, read_again_elsewhere
)  # fmt: skip
DOCUMENT = Path(fibrebook.reference.__file__).with_name("CHECKS.md")
ASIDE = frozenset(["source", "basis", "read_in", "certainty", "default", "file", "line"])


class Excuse(NamedTuple):
    """One line of CHECKS.md: rows of a table that no check holds, and why."""

    table: str
    conditions: dict[str, str]
    reason: str


class Walked(NamedTuple):
    """One reference row: its table, the row, what it is held against (check and words), and why it is not."""

    table: str
    row: Row
    held_by: list[tuple[str, str]]
    fails: list[tuple[str, str]]
    excuse: str


def excuses() -> list[Excuse]:
    """Return the lines of CHECKS.md's table of rows that no check covers."""
    lines = re.findall(r"^\| `(\w+)` \| (.+?) \| (.+?) \|$", DOCUMENT.read_text(encoding="utf-8"), re.M)
    return [Excuse(name, conditions_of(";".join(re.findall(r"`([^`]+)`", where))), why) for name, where, why in lines]


def walk(t: Tables) -> Iterator[Walked]:
    """Tell of every row of every table what holds it."""
    held: dict[tuple[str, int], list[tuple[bool, str, str]]] = {}
    for check in CHECKS:
        for finding in check(t):
            told = (finding.holds, check.__name__.replace("_", " "), finding.against)
            held.setdefault(key(finding.row), []).append(told)
    known = excuses()
    for name, rows in t.items():
        for row in rows:
            mine = held.get(key(row), [])
            why = next((e.reason for e in known if e.table == name and matches(row, e.conditions)), "")
            good = [(check, against) for holds, check, against in mine if holds]
            bad = [(check, against) for holds, check, against in mine if not holds]
            yield Walked(name, row, good, bad, why)


def value_of(row: Row) -> str:
    """Tell a row's subject and figures in one line."""
    told = {c: v for c, v in row.items() if c not in ASIDE and c != "unit" and v not in (None, "")}
    parts = [_cell(c, v, str(row.get("unit") or UNITS.get(c, ""))) for c, v in told.items()]
    return ", ".join(parts)


def lines_of(walked: Walked) -> list[str]:
    """Tell one row: its value, its source, its checks or why it has none."""
    row = walked.row
    certainty = f"; certainty {row['certainty']}" if row.get("certainty") else ""
    out = [
        f"{walked.table}, line {row['line']}: {value_of(row)}",
        f"    source: {row['source']} ({how_known(row)}{certainty})",
    ]
    out += [f"    FAILS: {check}: {against}" for check, against in walked.fails]
    out += [f"    check: {check}: {against}" for check, against in walked.held_by]
    if not walked.held_by and not walked.fails:
        out.append(f"    no check: {walked.excuse or 'AND NO REASON GIVEN'}")
    return out


def _cell(column: str, value: object, unit: str) -> str:
    if column in NUMBERS and isinstance(value, float):
        plain = column in ("value", "attenuation_db_per_km", "group_index") or column.startswith("wavelength")
        named = "" if plain else column.rsplit("_", 1)[0].replace("_", " ") + " "
        return f"{named}{value:g} {unit}".strip()
    return f"{column} {value}" if isinstance(value, int) else str(value)
