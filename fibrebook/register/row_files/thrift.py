"""Structs in the compact form of Apache Thrift, as far as a Parquet file's headers and footer are made of them.

(thrift-compact-protocol.md of Apache Thrift.) Texts are passed over; whole numbers, structs and lists are returned.
"""

from __future__ import annotations

from typing import Any

DEEPEST = 16  # structs in structs
_TRUE, _FALSE, _BYTE, _DOUBLE, _BYTES, _LIST, _SET, _STRUCT = 1, 2, 3, 7, 8, 9, 10, 12
_NUMBERS = (4, 5, 6)  # whole numbers of any width
_FIXED = {_TRUE: 0, _FALSE: 0, _BYTE: 1, _DOUBLE: 8}  # bytes that follow a field's head


def struct(data: bytes, at: int, end: int, depth: int = 0) -> tuple[dict[int, Any], int]:
    """Return the fields of the struct that begins at a place by their number, and where it ends.

    Raises
    ------
    IndexError : it breaks off; ValueError : it has parts that no header and no footer has
    """
    if depth > DEEPEST:
        raise ValueError("a header nested too deep")
    found: dict[int, Any] = {}
    field = 0
    while True:
        if at >= end:
            raise IndexError
        head = data[at]
        at += 1
        if head == 0:
            return found, at
        if head >> 4:
            field += head >> 4
        else:
            number, at = _varint(data, at, end)
            field = (number >> 1) ^ -(number & 1)
        sort = head & 15
        if sort in _FIXED:
            found[field], at = None, at + _FIXED[sort]
        else:
            found[field], at = _value(data, at, end, sort, depth)


def _value(data: bytes, at: int, end: int, sort: int, depth: int) -> tuple[Any, int]:
    if sort in _NUMBERS:
        number, at = _varint(data, at, end)
        return (number >> 1) ^ -(number & 1), at
    if sort == _BYTES:
        length, at = _varint(data, at, end)
        return None, at + length
    if sort == _STRUCT:
        return struct(data, at, end, depth + 1)
    if sort in (_LIST, _SET):
        return _list(data, at, end, depth)
    raise ValueError("a header with parts that none has")


def _list(data: bytes, at: int, end: int, depth: int) -> tuple[list[Any], int]:
    if at >= end:
        raise IndexError
    count, sort = data[at] >> 4, data[at] & 15
    at += 1
    if count == 15:
        count, at = _varint(data, at, end)
    if count > end - at:  # each takes a byte at least
        raise IndexError
    if sort in _FIXED:
        return [None] * count, at + count * max(_FIXED[sort], 1)
    found = []
    for _ in range(count):
        one, at = _value(data, at, end, sort, depth)
        found.append(one)
    return found, at


def _varint(data: bytes, at: int, end: int) -> tuple[int, int]:
    number = shift = 0
    while at < end and shift < 70:
        byte = data[at]
        at += 1
        number |= (byte & 127) << shift
        if byte < 128:
            return number, at
        shift += 7
    raise IndexError
