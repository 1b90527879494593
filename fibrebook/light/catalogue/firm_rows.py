"""A firm's own reference rows and choices, judged one by one: what cannot be taken is named, and is in no answer."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import pyarrow as pa

from fibrebook.errors import Problem, ValueSourceError
from fibrebook.light.catalogue import editions
from fibrebook.light.catalogue.limits_and_powers import application_name
from fibrebook.records.kinds.firm import CHOICE_NAMES, PHOTO_DETAILS
from fibrebook.reference import choices, tables
from fibrebook.reference.colours import canonical_code
from fibrebook.reference.fibres import fibre_class
from fibrebook.register.row_files.cores import codes_in
from fibrebook.words.nearest import did_you_mean

ASIDE = ("row", "reference_table", "preferred_as", "notes")  # columns that are of the row, not of the table
NEEDED = {  # without these a row says nothing
    "attenuation": ("fibre_class", "wavelength_nm", "grade", "attenuation_db_per_km"),
    "component_losses": ("component", "quantity", "value"),
    "group_index": ("fibre_class", "wavelength_nm", "group_index"),
    "modal_bandwidth": ("fibre_class", "wavelength_nm", "modal_bandwidth_mhz_km"),
    "fibre_classes": ("fibre_class", "mode"),
    "applications": ("application", "mode", "wavelengths_nm", "fibres", "lanes"),
    "application_limits": ("application",),
    "application_powers": ("application",),
    "practice": ("name", "value"),
}
OF_APPLICATIONS = ("application_limits", "application_powers")
MODES = ("multimode", "single-mode")
ONE_OF = {"acceptance": editions.NAMES, "photo_details": PHOTO_DETAILS}
MOST_DB = 20.0  # a margin or an uncertainty above this is a slip of the pen
VALUES_THAT_FIT = "values that fit"  # the hard rule that `firm_problems` is
Tables = Mapping[str, pa.Table]


def firm_problems(found: Tables) -> list[Problem]:
    """Return what is wrong with the firm's tables `choices` and `reference_values`, one problem a row that is."""
    return [*_values(found), *_choices(found)]


def bad_rows(problems: list[Problem], table: str) -> set[Any]:
    """Return the labels of a table's rows that have a problem."""
    return {p.key[0] for p in problems if p.table == table}


def _rows(found: Tables, name: str) -> list[dict[str, Any]]:
    return found[name].to_pylist() if name in found else []


def _values(found: Tables) -> Iterator[Problem]:
    given = _rows(found, "reference_values")
    own: dict[str, set[str]] = {"applications": set(), "fibre_classes": set()}
    for row in sorted(given, key=lambda r: r["reference_table"] not in own):  # what others name comes first
        told = {c: v for c, v in row.items() if c not in ASIDE and v not in (None, "")}
        wrong = _fault(row["reference_table"], told, own)
        if wrong:
            what = f"the reference table {row['reference_table']!r} cannot take it: {wrong[1]}"
            yield _problem("reference_values", row["row"], wrong[0], what, "mend the row or take it out")
        elif row["reference_table"] in own:
            column = "application" if row["reference_table"] == "applications" else "fibre_class"
            own[row["reference_table"]].add(told[column])


def _fault(table: str, told: Mapping[str, Any], own: Mapping[str, set[str]]) -> tuple[str, str] | None:
    """Return the column that a table cannot take and why, None where it takes the row."""
    published = tables.rows(table) if table in tables.names() else []
    if not published:
        return "reference_table", "there is no such table"
    columns = [c for c in published[0] if c not in ("file", "line", "choice", "default")]
    for column in told:
        if column not in columns:
            return column, f"it has no column {column!r}; its columns are {', '.join(columns)}"
    for column in NEEDED.get(table, ()):
        if column not in told:
            return column, f"it needs {column!r}"
    return _value_fault(table, told, own)


def _value_fault(table: str, told: Mapping[str, Any], own: Mapping[str, set[str]]) -> tuple[str, str] | None:
    named = [c for c in ("component", "quantity") if table == "component_losses"]
    for column in (*named, "grade"):
        words = {str(r[column]) for r in tables.rows(table) if r.get(column)}
        if words and column in told and told[column] not in words:
            return column, f"{told[column]!r} is not known; {did_you_mean(str(told[column]), sorted(words))}"
    for mode in str(told.get("mode", MODES[0])).split(";") if table in ("applications", "fibre_classes") else ():
        if mode.strip() not in MODES:
            return "mode", f"{mode.strip()!r} is neither {' nor '.join(MODES)}"
    for column in ("wavelengths_nm", "receive_wavelengths_nm"):
        if not all(_is_number(part) for part in str(told.get(column, "1310")).split(";")):
            return column, f"{told[column]!r} are not numbers of nanometres parted by semicolons"
    return _name_fault(table, told, own)


def _name_fault(table: str, told: Mapping[str, Any], own: Mapping[str, set[str]]) -> tuple[str, str] | None:
    """A row that names what is there already, or belongs to what is not there."""
    for new, column, known in (
        ("applications", "application", application_name),
        ("fibre_classes", "fibre_class", fibre_class),
    ):
        name = told.get(column)
        there = name in own[new] or (name is not None and known(name) is not None)
        if table == new and there:
            return column, f"there is {name!r} already"
        if column == "application" and table in OF_APPLICATIONS and not there:
            everything = sorted({row["application"] for row in tables.rows("applications")} | own[new])
            return column, f"there is no application {name!r}; {did_you_mean(str(name), everything)}"
    return None


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text)) and 100 < float(text) < 10_000
    except ValueError:
        return False


def _choices(found: Tables) -> Iterator[Problem]:
    for row in _rows(found, "choices"):
        name, said = row["choice"], row["value"] or ""
        wrong = ""
        if name not in CHOICE_NAMES:
            wrong = f"there is no choice {name!r}; there are {', '.join(CHOICE_NAMES)}"
        elif name in ONE_OF and said not in ONE_OF[name]:
            wrong = f"{said!r} is none; it may be {' or '.join(ONE_OF[name])}"
        elif name in ("margin_db", "uncertainty_db"):
            wrong = _not_db(said)
        elif name == "colour_code":
            wrong = _unknown_code(said, codes_in(found["colour_codes"]) if "colour_codes" in found else {})
        elif name == "sources":
            wrong = _unknown_source(said, _rows(found, "reference_values"))
        if wrong:
            yield _problem("choices", name, "value" if name in CHOICE_NAMES else "choice", wrong, "mend or remove it")


def _unknown_code(said: str, own: Mapping[str, list[str]]) -> str:
    try:
        canonical_code(said, own)
    except ValueSourceError as error:
        return f"{error.message}"
    return ""


def _not_db(said: str) -> str:
    try:
        value = float(said.replace(",", ".").removesuffix("dB"))
    except ValueError:
        return f"{said!r} is not a number of dB"
    return "" if 0 <= value <= MOST_DB else f"{value:g} dB is impossible: it must lie from 0 to {MOST_DB:g} dB"


def _unknown_source(said: str, own: list[dict[str, Any]]) -> str:
    names = {*choices.names(), *(row["preferred_as"] or "the firm's own" for row in own)}
    strange = [s.strip() for s in said.split(";") if s.strip() and s.strip() not in names]
    if not strange:
        return ""
    return f"no reference value has the choice {strange[0]!r}; {did_you_mean(strange[0], sorted(names))}"


def _problem(table: str, label: str, column: str, what: str, remedy: str) -> Problem:
    return Problem(f"{table} {label}", what, remedy, table, (label,), column)
