"""A panel's ports in one action: from port 1 to port 24, duplex, all alike."""

from __future__ import annotations

import re
from typing import Any

from fibrebook.errors import InputError

MOST = 500
Row = dict[str, Any]


def port_rows(
    site: str,
    enclosure: str,
    first: str,
    last: str,
    duplex: bool,
    connector: str = "",
    polish: str = "",
    fibre: str = "",
) -> list[Row]:
    """Return one row for each position of the ports from `first` to `last` (labels that end in a number).

    Raises
    ------
    InputError : the two do not make a row of ports
    """
    if not enclosure:
        raise InputError("no enclosure is chosen for the ports: choose it first")
    ends = [re.fullmatch(r"(.*?)(\d+)", t.strip()) for t in (first, last)]
    if None in ends or ends[0][1] != ends[1][1]:  # type: ignore[index]
        raise InputError(f"from {first!r} to {last!r} is no row of ports: write such as 1 and 24, or A1 and A24")
    head, low, high = ends[0][1], int(ends[0][2]), int(ends[1][2])  # type: ignore[index]
    if not 0 <= high - low < MOST:
        raise InputError(
            f"from {first} to {last} are {max(0, high - low + 1)} ports: give 1 to {MOST}, the lower first"
        )
    about = {"connector": connector or None, "polish": polish or None, "fibre_class": fibre or None}
    return [
        {"site": site, "enclosure": enclosure, "port": f"{head}{n}", "position": position or None, **about}
        for n in range(low, high + 1)
        for position in (("A", "B") if duplex else ("",))
    ]
