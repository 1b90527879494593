"""What the checks stand on: the shipped tables, a finding, and which class of fibre counts as what."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from fibrebook.reference import tables

Row = dict[str, Any]
Tables = Mapping[str, list[Row]]
NEAR = 1e-9


class Finding(NamedTuple):
    """One row as one check found it: whether it holds, and against what."""

    row: Row
    holds: bool
    against: str


Check = Callable[[Tables], Iterable[Finding]]


def shipped_tables() -> dict[str, list[Row]]:
    """Return all tables as the package ships them, by name."""
    return {name: tables.shipped(name) for name in tables.names()}


def key(row: Row) -> tuple[str, int]:
    """Return what tells a row from all others: its file and line."""
    return row["file"], row["line"]


def found(row: Row, value: float, low: float, high: float, against: str) -> Finding:
    """Return whether a value lies between two others, with the words for it."""
    return Finding(row, low - NEAR <= value <= high + NEAR, f"{against}: {value:g} in {low:.4g} to {high:.4g}")


def classes(t: Tables) -> dict[str, Row]:
    """Return the fibre classes by name."""
    return {row["fibre_class"]: row for row in t["fibre_classes"]}


def mode_of(t: Tables, name: str) -> str:
    """Return the mode of a fibre class; a mode is its own mode, anything else has none."""
    known = classes(t).get(name)
    return known["mode"] if known else name if name in ("multimode", "single-mode") else ""


def counts_as(t: Tables, name: str) -> tuple[str, ...]:
    """Return the names under which a table may hold a class's values, the nearest first."""
    known = classes(t).get(name)
    if known is None:
        return (name, "")
    core = (f"{known['core_um']:g} um",) if known["core_um"] else ()
    return (name, *core, known["mode"], "")


def default_db_per_km(t: Tables, name: str, wavelength_nm: float, grade: str) -> float | None:
    """Return the attenuation by default of a class in a window, 1300 and 1310 nm being one; None where none stands."""
    window = (1300.0, 1310.0) if wavelength_nm in (1300.0, 1310.0) else (wavelength_nm,)
    for known in counts_as(t, name):
        for row in t["attenuation"]:
            first, last = row["wavelength_nm"], row["wavelength_to_nm"] or row["wavelength_nm"]
            mine = row["fibre_class"] == known and row["grade"] == grade and row["default"]
            if mine and any(first <= nm <= last for nm in window):
                return float(row["attenuation_db_per_km"])
    return None
