"""JSON from files that others may have prepared: its parts are counted before any of them is made."""

from __future__ import annotations

import json
from typing import Any

MOST_PARTS = 4_000_000  # values in it; each may cost a hundred bytes and more once it is made


def bounded_json(data: bytes) -> Any:
    """Return what a JSON text says.

    Raises
    ------
    ValueError : it is no JSON, nested too deep, or holds more parts than any file of ours
    """
    parts = sum(data.count(sign) for sign in (b",", b"[", b"{"))
    if parts > MOST_PARTS:
        raise ValueError(f"it holds {parts:,} parts, more than any file of ours")
    try:
        plain = data.isascii() and b"\0" not in data[:4]  # else it may be in UTF-16 or UTF-32
        return json.loads(data.decode() if plain else data)  # a large one in half the time
    except RecursionError as error:
        raise ValueError("it is nested too deep") from error
    except MemoryError as error:
        raise ValueError("there is not memory enough for it") from error
