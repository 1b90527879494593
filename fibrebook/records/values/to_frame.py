"""A table of the register as a DataFrame, for people who work with pandas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa

from fibrebook.records.kinds.declared import Kind

if TYPE_CHECKING:
    import pandas as pd


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
    frame: pd.DataFrame = plain.to_pandas(types_mapper={pa.int32(): pd.Int64Dtype(), pa.bool_(): pd.BooleanDtype()}.get)
    for name in keys & set(frame.columns):
        if str(frame[name].dtype) == "Int64":
            frame[name] = frame[name].astype("int64")
    return frame
