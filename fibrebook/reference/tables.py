"""Reference tables: CSV files read into pyarrow Tables, one row a value, each with its source and basis.

Numbers are read by the column's name (NUMBERS, WHOLE_NUMBERS); every other column is text, blank as "".
A plugin's file is named after the table that it extends and follows the built-in rows; a firm's own rows come last.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from fibrebook.errors import ValueSourceError
from fibrebook.plugins import BUILT_IN, files_by_plugin, note
from fibrebook.reference.firm import PUBLISHED, FirmValues
from fibrebook.regular_files import read_regular

if TYPE_CHECKING:
    import pyarrow as pa

NUMBERS = frozenset(
    [
        "wavelength_nm",
        "wavelength_to_nm",
        "attenuation_db_per_km",
        "value",
        "length_max_m",
        "insertion_loss_max_db",
        "penalty_db",
        "launch_min_dbm",
        "launch_max_dbm",
        "receive_min_dbm",
        "receive_max_dbm",
        "damage_dbm",
        "core_um",
        "mode_field_um",
        "numerical_aperture",
        "group_index",
        "modal_bandwidth_mhz_km",
    ]
)
WHOLE_NUMBERS = frozenset({"position", "fibres", "lanes"})
MOST_BYTES = 50_000_000  # of one file of reference values
LARGEST = 2**31  # of any number here; a whole one must fit the column
SEEN, SECOND_HAND = "seen", "seen in a secondary text"
BASES = (SEEN, SECOND_HAND, "memory", "calculated", "common practice")
UNITS = {
    "attenuation_db_per_km": "dB/km", "modal_bandwidth_mhz_km": "MHz.km", "length_max_m": "m", "wavelength_nm": "nm",
    "insertion_loss_max_db": "dB", "penalty_db": "dB", "launch_min_dbm": "dBm", "launch_max_dbm": "dBm",
    "receive_min_dbm": "dBm", "receive_max_dbm": "dBm", "damage_dbm": "dBm", "core_um": "um", "mode_field_um": "um",
}  # fmt: skip

_Function = TypeVar("_Function", bound=Callable[..., Any])


def cached(function: _Function) -> _Function:
    """Remember what is worked out of the published tables alone, until `forget`."""

    @wraps(function)
    def answer(*given: Any) -> Any:
        key = (function, given)
        if key not in PUBLISHED.kept:
            PUBLISHED.kept[key] = function(*given)
        return PUBLISHED.kept[key]

    return answer  # type: ignore[return-value]


def cached_by_values(function: _Function) -> _Function:
    """Remember the function's answers on the values that it is asked for; the published ones until `forget`."""

    @wraps(function)
    def answer(*given: Any, values: FirmValues = PUBLISHED) -> Any:
        key = (function, given)
        if key not in values.kept:
            values.kept[key] = function(*given, values=values)
        return values.kept[key]

    return answer  # type: ignore[return-value]


@cached_by_values
def table(name: str, *, values: FirmValues = PUBLISHED) -> pa.Table:
    """Return one reference table: the built-in rows, then those of plugins.

    Parameters
    ----------
    name : the file's name without ``.csv`` (``attenuation``, ``colour_codes``...); `names` lists them.

    Returns
    -------
    pyarrow Table; number columns float64 or int32 (blank = null), text columns string (blank = ""); always with
    the columns source and basis, and file and line (where the row stands).

    Raises
    ------
    ValueSourceError
        no such table; or, in a file of ours, a row without a source or basis, with a bad number or an unknown column:
        names file and line. A plugin's file with such a row is left out whole, and noted.
    """
    import pyarrow as pa

    found = rows(name, values=values)
    columns = [c for c in found[0] if c not in ("file", "line")] if found else ["source", "basis"]
    arrays = {c: pa.array([row[c] for row in found], type=_type(c)) for c in columns}
    arrays["file"] = pa.array([row["file"] for row in found], pa.string())
    arrays["line"] = pa.array([row["line"] for row in found], pa.int32())
    return pa.table(arrays)


@cached_by_values
def rows(name: str, *, values: FirmValues = PUBLISHED) -> list[dict[str, Any]]:
    """Return the same table as a list of dicts, for small look-ups without pyarrow; do not change it."""
    found, columns = _published(name)
    if not values.rows.get(name):
        return found
    blank = {c: _blank(c) for c in columns}
    return found + [blank | _of_firm(name, row, columns) for row in values.rows[name]]


@cached
def _published(name: str) -> tuple[list[dict[str, Any]], list[str]]:
    """The rows of one table, the built-in ones and then those of plugins, and its columns."""
    files = _files().get(name)
    if not files:
        raise ValueSourceError(f"There is no reference table {name!r}. Known: {', '.join(names())}.")
    found: list[dict[str, Any]] = []
    columns: list[str] = []
    for plugin, path in files:
        try:
            found += _read(path, columns)
        except ValueSourceError as error:
            if plugin in BUILT_IN:
                raise
            note(plugin, f"the file {path.name}", error.message)
        else:
            note(plugin, f"the file {path.name}")
    blank = {c: _blank(c) for c in columns}
    return [blank | row for row in found], columns


def _of_firm(name: str, row: Mapping[str, Any], columns: list[str]) -> dict[str, Any]:
    """Return a firm's own row with the table's columns; what the table has no column for is an error."""
    told = {c: v for c, v in row.items() if v not in (None, "")}
    strange = [c for c in told if c not in columns and c not in ("file", "line", "choice", "default")]
    if strange:
        raise ValueSourceError(f"{row['file']}: {name} has no column {strange[0]!r}. Columns: {', '.join(columns)}.")
    return {c: v for c, v in told.items() if c in columns or c in ("file", "line")}


def how_known(row: Mapping[str, Any]) -> str:
    """Tell how a row's value is known: its basis, and the text that it was read in where that was not the source."""
    return f"{row['basis']}: {row['read_in']}" if row.get("read_in") else str(row["basis"])


def shipped(name: str) -> list[dict[str, Any]]:
    """Return the rows of one table as this package ships them, without a plugin's or a firm's."""
    return _read(Path(__file__).with_name(f"{name}.csv"), [])


def names() -> list[str]:
    """Return the names of all reference tables."""
    return sorted(_files())


def forget() -> None:
    """Read everything anew at the next call (after a plugin was registered by hand)."""
    PUBLISHED.kept.clear()


def pedigree(source_table: str | pa.Table, *, values: FirmValues = PUBLISHED, **where: Any) -> str:
    """Tell where values come from: a line for each row that matches `where`, with value, unit, source and basis.

    >>> print(pedigree("attenuation", fibre_class="OM5", wavelength_nm=850))
    OM5, 850 nm, maximum: 3 dB/km (ISO/IEC 11801-1; ISO/IEC 11801-1:2017 as AS/NZS/ISO 11801-1:2017; seen in a \
secondary text: a cabling supplier's page on the standard)
    """
    found = table(source_table, values=values) if isinstance(source_table, str) else source_table
    unknown = [column for column in where if column not in found.column_names]
    if unknown:
        raise ValueSourceError(f"No column {unknown[0]!r} here; there are {', '.join(found.column_names)}.")
    kept = [row for row in found.to_pylist() if all(row[c] == value for c, value in where.items())]
    return "\n".join(_line_of_pedigree(row) for row in kept) or "no row with " + ", ".join(
        f"{c} = {v}" for c, v in where.items()
    )


def _line_of_pedigree(row: dict[str, Any]) -> str:
    values = [c for c in row if c in NUMBERS and not c.startswith("wavelength") and row[c] is not None]
    shown = [f"{row[c]:g} {row.get('unit') or UNITS.get(c, '')}".strip() for c in values]
    if len(values) > 1:
        shown = [f"{c.rsplit('_', 1)[0].replace('_', ' ')} {s}" for c, s in zip(values, shown, strict=True)]
    aside = {"source", "basis", "read_in", "certainty", "choice", "default", "unit", "file", "line", *values}
    subject = [_worded(c, v) for c, v in row.items() if c not in aside and v not in ("", None)]
    marks = [row.get("choice"), row["source"], how_known(row), row.get("certainty") and "certainty " + row["certainty"]]
    return f"{', '.join(subject)}: {', '.join(shown)} ({'; '.join(m for m in marks if m)})".replace(":  (", " (")


def _worded(column: str, value: Any) -> str:
    number = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{number} nm" if column.startswith("wavelength") and column in NUMBERS else number


@cached
def _files() -> dict[str, list[tuple[str, Path]]]:
    found: dict[str, list[tuple[str, Path]]] = {}
    for plugin, path in files_by_plugin("reference_files"):
        found.setdefault(path.stem, []).append((plugin, path))
    return found


def _read(path: Path, columns: list[str]) -> list[dict[str, Any]]:
    """Return one file's rows; the first file of a table decides its columns (filled in here)."""
    try:
        text = read_regular(path, MOST_BYTES).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ValueSourceError(f"Reference file {path} cannot be read: {error}. Save it as UTF-8 text.") from error
    reader = csv.DictReader(text.splitlines(), strict=True)
    try:
        return _rows_of(reader, path, columns)
    except csv.Error as error:
        raise ValueSourceError(f"{path.name}, after line {reader.line_num}: is no CSV: {error}.") from error


def _rows_of(reader: csv.DictReader[str], path: Path, columns: list[str]) -> list[dict[str, Any]]:
    header = [column or "" for column in reader.fieldnames or []]
    if not columns:
        columns += header
    unknown = [c for c in header if c not in columns]
    lacking = [c for c in ("source", "basis") if c not in header]
    if unknown or lacking or len(set(header)) != len(header):
        wrong = f"has unknown columns {unknown}" if unknown else f"lacks {lacking}" if lacking else "repeats a column"
        raise ValueSourceError(f"{path.name}, line 1: the header {wrong}. Columns: {', '.join(columns)}.")
    return [_row(raw, path, reader.line_num) for raw in reader if any(raw.values())]


def _row(raw: dict[str | None, Any], path: Path, line: int) -> dict[str, Any]:
    where = f"{path.name}, line {line}"
    if None in raw or None in raw.values():
        raise ValueSourceError(f"{where}: more or fewer cells than the header has. Quote a text that holds a comma.")
    row: dict[str, Any] = {str(c): _cell(str(c), value.strip(), where) for c, value in raw.items()}
    for column in ("source", "basis"):
        if not row[column]:
            raise ValueSourceError(f"{where}: no {column}. Every value must say where it comes from.")
    if row["basis"] not in BASES:
        raise ValueSourceError(f"{where}: basis {row['basis']!r} is none of {', '.join(BASES)}.")
    if row["basis"] == SECOND_HAND and not row.get("read_in"):
        raise ValueSourceError(f"{where}: seen in a secondary text, but read_in does not say in which.")
    row["file"], row["line"] = path.name, line
    return row


def _cell(column: str, text: str, where: str) -> Any:
    if column not in NUMBERS and column not in WHOLE_NUMBERS:
        return text
    if not text:
        return None
    try:
        number = float(text) if column in NUMBERS else int(text)
        if math.isfinite(number) and abs(number) < LARGEST:
            return number
    except (ValueError, OverflowError):
        pass
    raise ValueSourceError(f"{where}: {column} is {text!r}, not a number (decimal point, no unit).")


def _blank(column: str) -> str | None:
    return None if column in NUMBERS or column in WHOLE_NUMBERS else ""


def _type(column: str) -> pa.DataType:
    import pyarrow as pa

    return pa.float64() if column in NUMBERS else pa.int32() if column in WHOLE_NUMBERS else pa.string()
