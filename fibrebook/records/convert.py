"""Values as people give them (cells, dicts, DataFrames) to Arrow columns of the declared type, and back to pandas.

Nothing is repaired in silence: what does not fit comes back as a Problem that names row and column.
The same label in three dresses (``1``, ``1.0``, ``"1"``) is one label.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import difflib
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError, NotFoundError, Problem
from fibrebook.records.fields import Column, Kind
from fibrebook.records.kinds import KINDS

if TYPE_CHECKING:
    import pandas as pd

MAX_LABEL = 200
MAX_TEXT = 32_000  # a spreadsheet cell holds no more (32,767)
# Controls never stand in text; line breaks and tabs may stand in notes but not in a label.
CONTROL_IN_LABEL = r"[\x00-\x1f\x7f-\x9f\x{2028}\x{2029}]"
CONTROL_IN_TEXT = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]"
WHOLE = re.compile(r"-?\d+(\.0+)?")
YES_NO = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}
DATE_ALONE = "write the date alone, as 2026-03-31; a cell format for dates only hides the time"
Fault = tuple[int, str, str]  # row, what is wrong, what would be right


def kind_of(name: str) -> Kind:
    """Return the declared kind, or raise NotFoundError that suggests the nearest name."""
    if name in KINDS:
        return KINDS[name]
    near = difflib.get_close_matches(name, KINDS, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"there are: {', '.join(KINDS)}"
    raise NotFoundError(f"there is no table {name!r}; {hint}")


def to_table(kind: Kind, rows: Any, name_row: Callable[[int], str] | None = None) -> tuple[pa.Table, list[Problem]]:
    """Convert rows to an Arrow table that holds exactly the columns given, typed as declared.

    Parameters
    ----------
    rows : DataFrame, pyarrow Table, mapping of columns, or sequence of dicts with equal keys
    name_row : how a row is named in problems (default "row 1", "row 2", ...)

    Returns
    -------
    table : columns given, in declared order; a cell with a problem is null
    problems : unknown or missing key columns, and every cell that does not fit
    """
    columns, count = _as_columns(rows)
    name_row = name_row or (lambda i: f"{kind.name} row {i + 1}")
    problems: list[Problem] = []
    for name in columns:
        if name not in kind.by_name:
            near = difflib.get_close_matches(str(name), kind.names, n=1)
            remedy = f"did you mean {near[0]!r}?" if near else f"columns are: {', '.join(kind.names)}"
            problems.append(Problem(kind.name, f"there is no column {name!r}", remedy, kind.name, column=str(name)))
    for name in kind.key:
        if name not in columns and kind.by_name[name].required:
            problems.append(
                Problem(
                    kind.name, f"the key column {name!r} is missing", "give it for every row", kind.name, column=name
                )
            )
    if problems:
        return kind.empty().select([]), problems
    arrays: dict[str, pa.Array] = {}
    for column in kind.columns:
        if column.name in columns:
            is_key = column.name in kind.key
            array, faults = convert_column(column, columns[column.name], is_key)
            arrays[column.name] = array
            problems += [
                Problem(f"{name_row(i)}, column {column.name!r}", what, remedy, kind.name, column=column.name, row=i)
                for i, what, remedy in faults
            ]
        elif column.name in kind.key:  # a blank key, such as the position of a simplex port
            arrays[column.name] = pa.array([""] * count, pa.string())
    schema = pa.schema([pa.field(n, kind.by_name[n].arrow_type) for n in arrays])
    return pa.table(list(arrays.values()), schema=schema), problems


def checked_table(kind: Kind, rows: Any) -> pa.Table:
    """Convert as `to_table` does, and raise InputError with every problem if there is any."""
    table, problems = to_table(kind, rows)
    if problems:
        raise InputError(f"{len(problems)} value(s) do not fit the table {kind.name!r}", problems)
    return table


def _as_columns(rows: Any) -> tuple[dict[str, Any], int]:
    if isinstance(rows, pa.Table):
        return {n: rows.column(n) for n in rows.column_names}, rows.num_rows
    if hasattr(rows, "iloc"):  # a DataFrame, told without importing pandas
        return {str(n): rows[n].to_numpy(dtype=object) for n in rows.columns}, len(rows)
    if isinstance(rows, Mapping):
        values = {str(n): list(v) for n, v in rows.items()}
        return values, len(next(iter(values.values()), []))
    if isinstance(rows, Iterable):
        dicts = list(rows)
        names: dict[str, None] = {str(n): None for row in dicts for n in row}
        return {n: [row.get(n) for row in dicts] for n in names}, len(dicts)
    raise InputError(f"rows must be a DataFrame or a list of dicts, not {type(rows).__name__}")


def convert_column(column: Column, values: Any, is_key: bool = False) -> tuple[pa.Array, list[Fault]]:
    """Convert one column's values; return the Arrow array and the faults as (row, what, remedy)."""
    if isinstance(values, pa.ChunkedArray):
        values = values.combine_chunks()
    if isinstance(values, pa.Array):
        if pa.types.is_dictionary(values.type):
            values = values.dictionary_decode()
        fast = values
    else:
        fast = _plain_array(values)
    if fast is None:
        return _convert_slow(column, values, is_key)
    if column.type in ("label", "text") and (pa.types.is_string(fast.type) or pa.types.is_large_string(fast.type)):
        return _finish_text(column, fast.cast(pa.string()), is_key)
    if column.type in ("label", "text") and pa.types.is_integer(fast.type):
        return _finish_text(column, fast.cast(pa.string()), is_key)
    if column.type in ("integer", "number") and pa.types.is_integer(fast.type):
        return _finish_number(column, fast, is_key)
    if column.type == "number" and pa.types.is_floating(fast.type):
        return _finish_number(column, fast, is_key)
    if column.type == "date" and pa.types.is_date32(fast.type):
        return _finish(column, fast, is_key, [])
    if column.type == "yes/no" and pa.types.is_boolean(fast.type):
        return _finish(column, fast, is_key, [])
    if pa.types.is_date64(fast.type):  # counts milliseconds, so a time may hide in it
        fast = fast.cast(pa.timestamp("ms"))
    return _convert_slow(column, fast.to_pylist(), is_key)


def _plain_array(values: Any) -> pa.Array | None:
    """An Arrow array where all values are of one plain type, else None (mixed cells take the slow way)."""
    try:
        array = pa.array(values, from_pandas=True)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError, OverflowError, UnicodeError):
        return None
    if pa.types.is_null(array.type):
        return None
    # pa.array turns [True, 1] or datetimes with times into something plain; only same-typed plain values are wanted
    wanted = (pa.types.is_string, pa.types.is_integer, pa.types.is_floating, pa.types.is_boolean, pa.types.is_date)
    return array if any(test(array.type) for test in wanted) else None


def _convert_slow(column: Column, values: Any, is_key: bool) -> tuple[pa.Array, list[Fault]]:
    out: list[Any] = []
    faults: list[Fault] = []
    one = _ONE[column.type]
    for i, value in enumerate(values):
        if _missing(value):
            out.append(None)
            continue
        try:
            out.append(one(value))
        except ValueError as error:
            out.append(None)
            what, _, remedy = str(error).partition(" → ")
            faults.append((i, what, remedy))
    try:
        array = pa.array(out, column.arrow_type)
    except (pa.ArrowInvalid, OverflowError, UnicodeError):
        return _one_by_one(column, out, faults)
    bad = {i for i, _, _ in faults}
    if column.type in ("label", "text"):
        return _finish_text(column, array, is_key, faults, bad)
    if column.type in ("integer", "number"):
        return _finish_number(column, array, is_key, faults, bad)
    return _finish(column, array, is_key, faults, bad)


def _one_by_one(column: Column, out: list[Any], faults: list[Fault]) -> tuple[pa.Array, list[Fault]]:
    """Find which values Arrow will not take (lone surrogates, numbers too large)."""
    for i, value in enumerate(out):
        try:
            pa.array([value], column.arrow_type)
        except (pa.ArrowInvalid, OverflowError, UnicodeError):
            faults.append((i, f"{str(value)[:40]!a} cannot be kept", "use ordinary characters and numbers"))
            out[i] = None
    return pa.array(out, column.arrow_type), faults


def _missing(value: Any) -> bool:
    if value is None or (isinstance(value, str) and not value.strip()):
        return True
    if isinstance(value, float):
        return math.isnan(value)
    return type(value).__name__ in ("NAType", "NaTType") or (isinstance(value, np.datetime64) and bool(np.isnat(value)))


def as_label(value: Any) -> str:
    """Return a value as label text: 1, 1.0 and "1" are the same; ValueError where it cannot be one."""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return str(int(value)) if float(value).is_integer() else repr(float(value))
    if isinstance(value, (dt.datetime, dt.date, dt.time, np.datetime64)):
        raise ValueError(f"{value} is a date here → format the cell as text and write the label again")
    if isinstance(value, str):
        text = value.strip()
        return text[: text.index(".")] if re.fullmatch(r"\d+\.0+", text) else text
    raise ValueError(f"{value!r} is no text → write a label")


def _as_text(value: Any) -> str:
    if isinstance(value, (dt.datetime, dt.date, dt.time, np.datetime64)):
        return str(value)
    return value.strip() if isinstance(value, str) else as_label(value)


def _as_integer(value: Any) -> int:
    if isinstance(value, (bool, np.bool_)):
        raise ValueError(f"{value} is no whole number → write a number like 12")
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)) and float(value).is_integer():
        return int(value)
    if isinstance(value, str) and WHOLE.fullmatch(value.strip()) and len(value) < 20:
        return int(value.strip().split(".")[0])
    raise ValueError(f"{str(value)[:40]!r} is no whole number → write a number like 12")


def _as_number(value: Any) -> float:
    if not isinstance(value, (bool, np.bool_)) and not (isinstance(value, str) and "_" in value):  # else 1_5 is 15
        try:
            number = float(value)
        except (TypeError, ValueError):
            pass
        else:
            if math.isfinite(number):
                return number
    raise ValueError(f"{str(value)[:40]!r} is no number → write a number like 0.35, with a point and no unit")


def _as_date(value: Any) -> dt.date:
    if hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime()
    if isinstance(value, np.datetime64):
        value = value.astype("datetime64[us]").item()
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            value = dt.datetime.fromisoformat(value.strip())
    if isinstance(value, dt.datetime):
        if time := time_of_day(value):
            raise ValueError(f"{time_beside_date(time)} → {DATE_ALONE}")
        return value.date()
    if isinstance(value, dt.date):
        return value
    raise ValueError(f"{str(value)[:40]!r} is no date → write it as 2026-03-31")


def time_of_day(value: dt.datetime) -> str:
    """Return the time of day as text, as 14:30; blank at midnight, which is how spreadsheets write a date alone."""
    time = value.time()
    if time == dt.time():
        return ""
    return time.isoformat("auto" if time.second or time.microsecond else "minutes")


def time_beside_date(time: str) -> str:
    """Return what is wrong with a date that has a time of day."""
    return f"holds a time of day ({time}) beside the date"


def _as_yes_no(value: Any) -> bool:
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, float, np.integer, np.floating)) and value in (0, 1):
        return bool(value)
    if isinstance(value, str) and value.strip().casefold() in YES_NO:
        return YES_NO[value.strip().casefold()]
    raise ValueError(f"{str(value)[:40]!r} is neither yes nor no → write yes or no")


_ONE: dict[str, Callable[[Any], Any]] = {
    "label": as_label, "text": _as_text, "integer": _as_integer, "number": _as_number, "date": _as_date,
    "yes/no": _as_yes_no,
}  # fmt: skip


def _finish_text(
    column: Column, array: pa.Array, is_key: bool, faults: list[Fault] | None = None, bad: set[int] | None = None
) -> tuple[pa.Array, list[Fault]]:
    faults = faults or []
    array = pc.utf8_normalize(pc.utf8_trim_whitespace(array), form="NFC")
    if column.type == "label":
        array = pc.replace_substring_regex(array, r"^(\d+)\.0+$", r"\1")
    array = pc.if_else(pc.equal(array, ""), pa.scalar(None, pa.string()), array)
    control = CONTROL_IN_LABEL if column.type == "label" else CONTROL_IN_TEXT
    for i in _where(pc.match_substring_regex(array, control)):
        faults.append((i, "holds a control character or line break", "type it again as plain text"))
    limit = MAX_LABEL if column.type == "label" else MAX_TEXT
    for i in _where(pc.greater(pc.utf8_length(array), limit)):
        faults.append((i, f"is longer than {limit} characters", "shorten it"))
    if column.allowed and not column.open_list:
        array = _match_allowed(column, array, faults)
    return _finish(column, array, is_key, faults, bad)


def _match_allowed(column: Column, array: pa.Array, faults: list[Fault]) -> pa.Array:
    """Take the declared spelling; capital or small letters do not matter, any other word is a fault."""
    known = {a.casefold(): a for a in column.allowed}
    coded = array.dictionary_encode()
    words: list[str | None] = [known.get(w.casefold()) for w in coded.dictionary.to_pylist()]
    for i in _where(pc.and_(array.is_valid(), pa.array([w is None for w in words] or [False]).take(coded.indices))):
        faults.append((i, f"{array[i].as_py()[:40]!r} is not one of its values", f"write {_listed(column.allowed)}"))
    return pa.array(words, pa.string()).take(coded.indices) if len(words) else array


def _listed(words: Sequence[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


def _finish_number(
    column: Column, array: pa.Array, is_key: bool, faults: list[Fault] | None = None, bad: set[int] | None = None
) -> tuple[pa.Array, list[Fault]]:
    faults = faults or []
    wide = array.cast(pa.float64()) if pa.types.is_integer(array.type) or pa.types.is_floating(array.type) else array
    outside = pa.array(np.zeros(len(array), bool))
    if pa.types.is_floating(array.type):
        outside = pc.or_kleene(outside, pc.invert(pc.is_finite(wide)))
    low = column.minimum if column.minimum is not None else -1e9
    high = column.maximum if column.maximum is not None else 1e9
    outside = pc.or_kleene(outside, pc.or_kleene(pc.less(wide, low), pc.greater(wide, high)))
    for i in _where(outside):
        unit = f" {column.unit}" if column.unit else ""
        faults.append((i, f"{array[i].as_py()} is out of range", f"it lies between {low:g} and {high:g}{unit}"))
    array = pc.if_else(outside.fill_null(False), pa.scalar(None, array.type), array)
    return _finish(column, array.cast(column.arrow_type), is_key, faults, bad)


def _finish(
    column: Column, array: pa.Array, is_key: bool, faults: list[Fault], bad: set[int] | None = None
) -> tuple[pa.Array, list[Fault]]:
    told = {i for i, _, _ in faults} | (bad or set())
    if column.required:
        for i in _where(array.is_null()):
            if i not in told:
                faults.append((i, "is blank", f"it must be given: {column.help[:1].lower()}{column.help[1:]}"))
    if is_key and pa.types.is_string(array.type):
        array = array.fill_null("")
    return array, faults


def _where(mask: pa.Array) -> list[int]:
    return np.flatnonzero(mask.fill_null(False).to_numpy(zero_copy_only=False)).tolist()


def to_frame(table: pa.Table, kind: Kind | None = None) -> pd.DataFrame:
    """Return an Arrow table as a DataFrame: text as ``str``, whole numbers nullable, dates as datetime64."""
    import pandas as pd

    arrays = []
    for f, column in zip(table.schema, table.columns, strict=True):
        if pa.types.is_dictionary(f.type):
            column = column.cast(f.type.value_type)
        if pa.types.is_date(f.type):
            column = column.cast(pa.timestamp("s"))
        arrays.append(column)
    keys = set(kind.key) if kind else set()
    plain = pa.table(arrays, names=table.column_names)
    frame = plain.to_pandas(types_mapper={pa.int32(): pd.Int64Dtype(), pa.bool_(): pd.BooleanDtype()}.get)
    for name in keys & set(frame.columns):
        if str(frame[name].dtype) == "Int64":
            frame[name] = frame[name].astype("int64")
    return frame
