"""Values as people give them (cells, dicts, DataFrames) to Arrow columns of the declared type, and back to pandas.

Nothing is repaired in silence: what does not fit comes back as a Problem that names row and column.
The same label in three dresses (``1``, ``1.0``, ``"1"``) is one label.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import InputError, NotFoundError, Problem
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Column, Kind
from fibrebook.records.values.one_value import AS_TYPE, is_missing
from fibrebook.words.lists import either
from fibrebook.words.nearest import did_you_mean
from fibrebook.words.printable import UNSEEN, first_unseen

MAX_LABEL = 200
MAX_TEXT = 32_000  # a spreadsheet cell holds no more (32,767)

# Controls never stand in text; line breaks and tabs may stand in notes but not in a label.
CONTROL_IN_LABEL = r"[\x00-\x1f\x7f-\x9f\x{2028}\x{2029}]"
CONTROL_IN_TEXT = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]"
SEEN_ALONE = "type it again; of blanks only the ordinary space may stand in a label"
Fault = tuple[int, str, str]  # row, what is wrong, what would be right


def kind_of(name: str) -> Kind:
    """Return the declared kind, or raise NotFoundError that suggests the nearest name."""
    if name in KINDS:
        return KINDS[name]
    hint = did_you_mean(name, KINDS, 1, f"there are: {', '.join(KINDS)}")
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
            remedy = did_you_mean(str(name), kind.names, 1, f"columns are: {', '.join(kind.names)}")
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
    one = AS_TYPE[column.type]
    for i, value in enumerate(values):
        if is_missing(value):
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


def _finish_text(
    column: Column, array: pa.Array, is_key: bool, faults: list[Fault] | None = None, bad: set[int] | None = None
) -> tuple[pa.Array, list[Fault]]:
    faults = faults or []
    array = pc.utf8_normalize(pc.utf8_trim_whitespace(array), form="NFC")
    if column.type == "label":
        array = pc.replace_substring_regex(array, r"^(\d+)\.0+$", r"\1")
    array = pc.if_else(pc.equal(array, ""), pa.scalar(None, pa.string()), array)
    control = CONTROL_IN_LABEL if column.type == "label" else CONTROL_IN_TEXT
    controls = pc.match_substring_regex(array, control)
    for i in _where(controls):
        faults.append((i, "holds a control character or line break", "type it again as plain text"))
    if column.type == "label":
        for i in _where(pc.and_not(pc.match_substring_regex(array, UNSEEN), controls)):
            faults.append((i, f"holds {first_unseen(array[i].as_py())}, which cannot be seen", SEEN_ALONE))
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
        faults.append((i, f"{array[i].as_py()[:40]!r} is not one of its values", f"write {either(column.allowed)}"))
    return pa.array(words, pa.string()).take(coded.indices) if len(words) else array


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
