"""What was done that can be charged: counted from the register's own history."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.errors import InputError, NotFoundError
from fibrebook.records import KINDS, to_frame
from fibrebook.register import open as open_register

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

Row = dict[str, Any]
TEXT, NUMBER = pa.string(), pa.float64()
LINES = pa.schema(
    [("site", TEXT), ("work", TEXT), ("quantity", NUMBER), ("unit", TEXT), ("price", NUMBER), ("amount", NUMBER)]
)
_WORK: dict[str, Callable[[Row], Sequence[tuple[str, float, str]]]] = {
    "cables": lambda r: [
        (f"cable of {r['core_count']} cores installed", 1.0, "piece"),
        *([("cable pulled", float(r["length_m"]), "m")] if r["length_m"] else []),
    ],
    "enclosures": lambda r: [(f"{r['kind'] or 'enclosure'} fitted", 1, "piece")],
    "splices": lambda r: [(f"{r['method'] or 'fusion or mechanical'} splice", 1, "piece")],
    "terminations": lambda r: [("core made off at a port", 1, "piece")],
    "patches": lambda r: [("cord fitted", 1, "piece")],
    "tests": lambda r: [(f"test, {r['method'] or 'method not recorded'}", 1, "piece")],
}
_COUNTED_BY = {"patches": ("site", "cord")}  # a cord of two strands is one cord


def invoice_lines(
    reg: Register,
    earlier: Any = None,
    later: Any = None,
    site: str | None = None,
    visit: str | None = None,
    prices: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """Count the work that came into the register between two commits or days, or with one visit.

    Records that are new count; one that was taken back again between the two does not; snags that were settled count.
    Work that nobody recorded is not in it, hours and travel are not recorded.

    Parameters
    ----------
    earlier, later : commit number, time or day; None = the beginning, and the commit that is shown
    site : one site only
    visit : label of a visit at `site`: the work of the commit that recorded it, instead of `earlier` and `later`
    prices : work -> price of one unit, in the firm's money; work without a price has none, and no amount

    Returns
    -------
    DataFrame, one row a site and kind of work: site, work, quantity, unit ("piece", "m"), price, amount.

    Raises
    ------
    InputError : a visit without a site, or together with days; NotFoundError : there is no such commit, site or visit
    """
    if visit is not None:
        if site is None or earlier is not None or later is not None:
            raise InputError("a visit is named by its site and its label alone: leave earlier and later out")
        later = _commit_of(reg, site, visit)
        earlier = later - 1
    if site is not None:
        reg.tables(site, names=("sites",))  # names the nearest where there is no such site
    before = open_register(reg.where, at=0 if earlier is None else earlier)
    after = open_register(reg.where, at=reg.commit if later is None else later)
    done: defaultdict[tuple[str, str, str], float] = defaultdict(float)
    for kind in _WORK:
        for row in _new_rows(before, after, kind, site):
            for work, quantity, unit in _WORK[kind](row):
                done[row["site"], work, unit] += quantity
    for row in _settled(before, after, site):
        done[row["site"], "snag settled", "piece"] += 1
    known = prices or {}
    rows = [
        {"site": where, "work": work, "quantity": quantity, "unit": unit, "price": known.get(work),
         "amount": None if work not in known else round(quantity * known[work], 2)}
        for (where, work, unit), quantity in sorted(done.items())
    ]  # fmt: skip
    return to_frame(pa.Table.from_pylist(rows, schema=LINES))


def _rows(reg: Register, kind: str, site: str | None) -> dict[tuple[Any, ...], Row]:
    if site is not None and not reg.has_site(site):
        return {}
    table = reg.arrow(kind, site) if site is not None else reg.arrow(kind)
    key = _COUNTED_BY.get(kind, KINDS[kind].key)
    return {tuple(row[k] for k in key): row for row in table.to_pylist()}


def _new_rows(before: Register, after: Register, kind: str, site: str | None) -> list[Row]:
    old = _rows(before, kind, site)
    return [row for key, row in _rows(after, kind, site).items() if key not in old]


def _settled(before: Register, after: Register, site: str | None) -> list[Row]:
    old = _rows(before, "snags", site)
    found = _rows(after, "snags", site).items()
    return [row for key, row in found if row["done_on"] and not (key in old and old[key]["done_on"])]


def _commit_of(reg: Register, site: str, visit: str) -> int:
    told = reg.history("visits", site=site)
    mine = told[told["key"].map(lambda key: key[-1] == visit)] if len(told) else told
    if not len(mine):
        raise NotFoundError(f"no commit recorded a visit {visit!r} at {site!r}; see the site's visits")
    return int(mine["commit"].iloc[0])
