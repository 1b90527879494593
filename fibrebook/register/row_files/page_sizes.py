"""How much a Parquet file holds once it is unpacked, read off its page headers before anything is unpacked.

The footer only tells what its writer wished; a reader unpacks what the header before each page says. So these are
walked through. They are structs in the compact form of Apache Thrift (the field numbers below are those of PageHeader
in parquet.thrift of Apache Parquet). Only what this package writes is taken: flat columns of plain types, plain or
dictionary-coded; other codings can expand without end, or need more than a page's own header to be measured.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fibrebook.register.row_files.thrift import struct

DATA, DICTIONARY, DATA_V2 = 0, 2, 3  # PageType
SIZE, PACKED, IN_DATA, IN_DICTIONARY, IN_DATA_V2 = 2, 3, 5, 7, 8  # fields of PageHeader
NUM_VALUES, ENCODING = 1, 2  # fields of DataPageHeader and DictionaryPageHeader
ENCODING_V2 = 4  # field of DataPageHeaderV2
PLAIN_OR_CODED = {0, 2, 3, 4, 8}  # Encoding: PLAIN, PLAIN_DICTIONARY, RLE, BIT_PACKED, RLE_DICTIONARY
WIDTHS = {"BOOLEAN": 1, "INT32": 4, "INT64": 8, "DOUBLE": 8, "BYTE_ARRAY": 4}  # least bytes of a value in a dictionary
LONGEST = 1 << 20  # bytes of a header


@dataclass(frozen=True, slots=True)
class ColumnPage:
    """What one page's header says."""

    sort: int
    size: int  # unpacked
    values: int
    encoding: int


def unpacked_size(data: bytes, about: Any) -> int:
    """Return the bytes that a file's pages have once unpacked.

    Parameters
    ----------
    data : the whole file; about : its pyarrow FileMetaData

    Raises
    ------
    ValueError : a page is not what this package writes, or headers and footer contradict each other
    """
    size = 0
    for group in range(about.num_row_groups):
        said = about.row_group(group)
        for number in range(said.num_columns):
            size += _of_column(data, said.column(number), said.num_rows)
    return size


def _of_column(data: bytes, chunk: Any, rows: int) -> int:
    name, width = chunk.path_in_schema, WIDTHS.get(chunk.physical_type)
    if width is None:
        raise ValueError(f"column {name!r} is of the type {chunk.physical_type}, which is never written")
    if chunk.num_values != rows:
        raise ValueError(f"column {name!r} has {chunk.num_values:,} values for {rows:,} rows")
    size, values = 0, 0
    for page in _pages(data, chunk, rows):
        size += page.size
        if page.sort == DICTIONARY:
            if page.values * width > page.size:
                raise ValueError(f"the dictionary of column {name!r} has fewer values than it says")
        else:
            values += page.values
    if values != rows:
        raise ValueError(f"column {name!r} has {values:,} values for {rows:,} rows")
    return size


def _pages(data: bytes, chunk: Any, rows: int) -> Iterator[ColumnPage]:
    """Give the pages of a column as a reader meets them: until it has all values, none where there are none."""
    if not rows:
        return
    at = chunk.data_page_offset
    if chunk.has_dictionary_page and 0 < chunk.dictionary_page_offset < at:
        at = chunk.dictionary_page_offset
    end = at + chunk.total_compressed_size
    if not 0 < at <= end <= len(data):
        raise ValueError(f"column {chunk.path_in_schema!r} lies outside the file")
    seen = 0
    while seen < rows:
        page, packed, at = _page(data, at, end)
        at += packed
        if page.sort in (DATA, DATA_V2):
            seen += page.values
            if page.values == 0 and packed == 0:
                raise ValueError("pages without anything in them")
        yield page


def _page(data: bytes, at: int, end: int) -> tuple[ColumnPage, int, int]:
    """Return the page whose header begins at a place, its packed size, and where its content begins."""
    try:
        header, after = struct(data, at, min(end, at + LONGEST))
        sort = header[1]
        inner = header[{DATA: IN_DATA, DICTIONARY: IN_DICTIONARY, DATA_V2: IN_DATA_V2}[sort]]
        page = ColumnPage(sort, header[SIZE], inner[NUM_VALUES], inner[ENCODING_V2 if sort == DATA_V2 else ENCODING])
        packed = header[PACKED]
        if min(page.size, page.values, packed) < 0 or after + packed > end:
            raise ValueError("a page that reaches beyond its column")
    except (IndexError, KeyError, TypeError) as error:
        raise ValueError("a page header that breaks off, or of no known sort") from error
    if page.encoding not in PLAIN_OR_CODED:
        raise ValueError(f"a page in the coding {page.encoding}, which is never written")
    return page, packed, after
