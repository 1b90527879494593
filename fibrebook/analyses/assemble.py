"""From a register to the plant as one network, for one site or all; remembered for the commit it was made of."""

from __future__ import annotations

import difflib
from collections import OrderedDict
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from fibrebook.errors import NotFoundError
from fibrebook.plant import Network
from fibrebook.records.ends import Ints

if TYPE_CHECKING:
    from fibrebook.register import Register

PLANT_TABLES = (
    "sites", "enclosures", "ports", "cables", "cores", "splices", "terminations", "equipment", "interfaces", "patches",
    "channels",
)  # fmt: skip
KEPT = 4  # networks remembered: the one in hand and a few sites looked at just before
_made: OrderedDict[tuple[str, str, int, str | None], Network] = OrderedDict()


def network(reg: Register, site: str | None = None) -> Network:
    """Return the network of a site (None: of the whole register) at the register's newest commit.

    Raises NotFoundError where there is no such site.
    """
    if site is not None:
        check_site(reg, site)
    key = (reg.id, str(reg.where), reg.commit, site)
    if key in _made:
        _made.move_to_end(key)
        return _made[key]
    made = Network(reg.tables(site, names=PLANT_TABLES))
    _made[key] = made
    while len(_made) > KEPT:
        _made.popitem(last=False)
    return made


def forget() -> None:
    """Forget the networks remembered (benchmarks measure the first answer, not the second)."""
    _made.clear()


def check_site(reg: Register, site: str) -> None:
    """Raise NotFoundError, with the nearest names, where the register has no such site."""
    if reg.has_site(site):
        return
    known = reg.sites()
    near = (
        difflib.get_close_matches(site, known, n=3, cutoff=0.5) or [s for s in known if site.lower() in s.lower()][:3]
    )
    hint = f"did you mean {' or '.join(near)}?" if near else f"there are {len(known)} sites; see the table 'sites'"
    raise NotFoundError(f"there is no site {site!r}; {hint}")


def coded(codes: Ints, texts: Iterable[str]) -> pa.DictionaryArray:
    """Text column from integers into a list of texts; -1 is blank."""
    pool = [*texts, ""]
    return pa.DictionaryArray.from_arrays(
        pa.array(np.where(codes < 0, len(pool) - 1, codes).astype(np.int32)), pa.array(pool, pa.string())
    )


def taken(column: pa.ChunkedArray, rows: Ints) -> pa.Array:
    """Values of a text column at rows; a row of -1 is blank. Text stays dictionary-encoded."""
    from fibrebook.records.ends import Labels

    labels = Labels()
    ids = labels.ids(column)
    return pa.DictionaryArray.from_arrays(
        pa.array(np.append(ids, 0)[rows].astype(np.int32)), pa.array(labels.texts, pa.string())
    )
