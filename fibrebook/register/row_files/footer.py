"""What a Parquet file's footer says of its columns, looked at before a library does that ends the process over it.

pyarrow takes a column's metadata without catching what its C++ part throws (seen with 26.0.1: sizes of histograms that
do not fit the column, a size of texts for a column that has none, an encrypted column). Field numbers are those of
parquet.thrift of Apache Parquet.
"""

from __future__ import annotations

from typing import Any

from fibrebook.register.row_files.thrift import struct

ROW_GROUPS, COLUMNS, META_DATA, SIZE_STATISTICS = 4, 1, 3, 16  # of FileMetaData, RowGroup, ColumnChunk, ColumnMetaData
ENCRYPTED = (8, 9)  # of ColumnChunk: crypto_metadata, encrypted_column_metadata
TYPE = 1  # of ColumnMetaData
TYPES = (
    "BOOLEAN",
    "INT32",
    "INT64",
    "INT96",
    "FLOAT",
    "DOUBLE",
    "BYTE_ARRAY",
    "FIXED_LEN_BYTE_ARRAY",
)  # by their number
TEXT_BYTES, REPETITIONS, DEFINITIONS = 1, 2, 3  # of SizeStatistics


def check_footer(data: bytes, about: Any) -> None:
    """Refuse a footer that the library could not bear.

    Parameters
    ----------
    data : the whole file; about : its pyarrow FileMetaData, of which only the schema is looked at

    Raises
    ------
    ValueError : the footer contradicts itself, or is not as this package writes it
    """
    end = len(data) - 8
    begin = end - int.from_bytes(data[-8:-4], "little")
    try:
        footer, _ = struct(data, begin, end)
        for group in footer[ROW_GROUPS]:
            if len(group[COLUMNS]) != about.num_columns:
                raise ValueError("a part of it has other columns than the file")
            for number, column in enumerate(group[COLUMNS]):
                _check_column(column, about.schema.column(number))
    except (IndexError, KeyError, TypeError, AttributeError) as error:
        raise ValueError("its list of contents breaks off, or lacks parts") from error


def _check_column(column: dict[int, Any], declared: Any) -> None:
    if any(field in column for field in ENCRYPTED):
        raise ValueError(f"column {declared.name!r} is encrypted, which is never written")
    meta = column[META_DATA]
    if TYPES[meta[TYPE]] != declared.physical_type:
        raise ValueError(f"column {declared.name!r} is told to be of two types")
    sizes = meta.get(SIZE_STATISTICS)
    if sizes is None:
        return
    levels = ((REPETITIONS, declared.max_repetition_level), (DEFINITIONS, declared.max_definition_level))
    if any(len(sizes.get(field) or ()) not in (0, most + 1) for field, most in levels):
        raise ValueError(f"the sizes told of column {declared.name!r} do not fit it")
    if TEXT_BYTES in sizes and declared.physical_type != "BYTE_ARRAY":
        raise ValueError(f"column {declared.name!r} has no texts, but a size of them")
