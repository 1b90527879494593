"""How fast cores come into use at each site, and in which year the spare ones are gone at that rate.

Two ways to know how many cores were in use at a year's end, and the answer says which was taken: the register as it was
then (`commits`, where it is old enough), else the days in today's records (`dates`: a channel's in_use_since, a cord's
fitted_on). The first year is when the site was built: what came into use until its end is no growth.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.spare.spare import spare_counts
from fibrebook.errors import NotFoundError
from fibrebook.losses.tested_stretches import NO_DAY, days_of
from fibrebook.plant import Network, core_states
from fibrebook.plant.network import PATCH
from fibrebook.plant.states import IN_SERVICE, PATCHED, path_channel
from fibrebook.records import to_frame
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.snapshot import check_site, network
from fibrebook.words.matching import grouped

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

COMMITS, DATES = "commits", "dates"
LOOK_BACK = 5  # years: older growth says little of the next ones
LEAST_YEARS = 1.0  # less history than that gives no rate
FURTHEST = 50  # years ahead; beyond that no year is named
LEAST_DATED = 0.8  # share of the cores in use whose day is known
YEAR_DAYS = 365.25
GROWTH = pa.schema(
    [
        ("site", pa.string()), ("in_use", pa.int64()), ("spare", pa.int64()), ("growth_per_year", pa.float64()),
        ("runs_out", pa.int64()), ("said", pa.string()), ("basis", pa.string()), ("from_on", pa.date32()),
        ("from_in_use", pa.int64()),
    ]
)  # fmt: skip
USED = pa.schema([("site", pa.string()), ("year", pa.int64()), ("in_use", pa.int64()), ("basis", pa.string())])


@dataclass(frozen=True)
class Past:
    """Cores in use at a site at the ends of years, oldest first, and how that is known; `lacks` says why it is not."""

    days: list[dt.date]
    in_use: list[int]
    basis: str
    lacks: str = ""


def spare_growth(reg: Register, site: str | None = None, today: dt.date | None = None) -> pd.DataFrame:
    """Tell how many cores a year come into use at each site, and when none is left at that rate.

    Parameters
    ----------
    site : label of one site, or None for all
    today : the day counted to; default the real one

    Returns
    -------
    DataFrame, one row a site, those that run out first on top: site, in_use (in service or patched), spare,
    growth_per_year [cores], runs_out (year; blank where there is no growth or no answer), said (the answer in words, or
    why there is none), basis ("commits" or "dates"), from_on and from_in_use (what the rate was reckoned from).
    """
    day = today or dt.date.today()
    return to_frame(_growth_table(reg, _pasts(reg, site, day), site, day))


def in_use_by_year(reg: Register, site: str | None = None, today: dt.date | None = None) -> pd.DataFrame:
    """Return the cores in use at each year's end: site, year, in_use, basis; sites without an answer have no row."""
    rows = [
        {"site": name, "year": day.year, "in_use": count, "basis": past.basis}
        for name, past in _pasts(reg, site, today or dt.date.today()).items()
        for day, count in zip(past.days, past.in_use, strict=True)
    ]
    return to_frame(pa.Table.from_pylist(rows, schema=USED))


def _pasts(reg: Register, site: str | None, today: dt.date) -> dict[str, Past]:
    if site is not None:
        check_site(reg, site)
    known = _by_commits(reg, site, today)
    net = network(reg, site)
    lit = np.flatnonzero(np.isin(core_states(net), (IN_SERVICE, PATCHED)))
    sites, members = grouped(net.ends.cable_site[net.ends.core_cable[lit]])
    day = used_since(net)[lit]
    days = {site: day[own] for site, own in zip(sites.tolist(), members, strict=True)}
    ids = net.ends.site_ids("sites")
    for name, own in zip(net.ends.table("sites")["site"].to_pylist(), ids.tolist(), strict=True):
        if name not in known:
            known[name] = by_dates(days.get(own, day[:0]), today)
    return known


def by_dates(day: Ints, today: dt.date) -> Past:
    """Cores in use at each year's end, from the day each core in use today came into use (NO_DAY: not known)."""
    dated = day[day != NO_DAY]
    if not len(day):
        return Past([], [], DATES, "no core in use")
    if len(dated) < LEAST_DATED * len(day):
        return Past([], [], DATES, f"no day is recorded for {len(day) - len(dated)} of {len(day)} cores in use")
    undated = len(day) - len(dated)
    first = (dt.date(1970, 1, 1) + dt.timedelta(days=int(dated.min()))).year
    ends = [dt.date(year, 12, 31) for year in range(first, today.year)]
    counts = [int((dated <= _day_number(end)).sum()) + undated for end in ends]
    return Past(ends, counts, DATES)


def used_since(net: Network) -> Ints:
    """Day [days since 1970] on which each core came into use: its channel's, else its newest cord's; NO_DAY unknown."""
    channels, cords = (
        days_of(net.ends.table(k)[c]) for k, c in (("channels", "in_use_since"), ("patches", "fitted_on"))
    )
    label = net.core_path
    is_cord = net.joints.what == PATCH
    newest = np.full(net.n_vertices, NO_DAY, np.int64)
    np.maximum.at(newest, net.joint_path[is_cord], cords[net.joints.row[is_cord]])
    channel = path_channel(net)[label]
    own = np.append(channels, NO_DAY)[channel]
    return np.where(own != NO_DAY, own, newest[label])


def _by_commits(reg: Register, site: str | None, today: dt.date) -> dict[str, Past]:
    """Cores in use at the years' ends that the register itself has seen; only where that spans two of them.

    A year's end whose state was tidied away is left out: nobody can count in it any more.
    """
    from fibrebook.register import open as open_register

    if not reg.commit:
        return {}
    first = int(open_register(reg.where, at=1).committed_utc[:4])
    ends = [dt.date(year, 12, 31) for year in range(max(first, today.year - LOOK_BACK), today.year)]
    if len(ends) < 2:
        return {}
    seen: dict[str, list[tuple[dt.date, int]]] = {}
    for end in ends:
        then = open_register(reg.where, at=end)
        if site is not None and not then.has_site(site):
            continue
        try:
            counts = spare_counts(network(then, site), "site").to_pydict()
        except NotFoundError:
            continue
        for name, serving, patched in zip(counts["site"], counts["in_service"], counts["patched"], strict=True):
            seen.setdefault(name, []).append((end, serving + patched))
    return {
        name: Past([d for d, _ in told], [c for _, c in told], COMMITS) for name, told in seen.items() if len(told) > 1
    }


def _growth_table(reg: Register, pasts: dict[str, Past], site: str | None, today: dt.date) -> pa.Table:
    net = network(reg, site)
    counts = spare_counts(net, "site").to_pylist()
    rows = [_growth(row, pasts[row["site"]], today) for row in counts]
    rows.sort(key=lambda r: (r["spare"] > 0, r.get("runs_out") or 9999, r["spare"], r["site"]))
    return pa.Table.from_pylist(rows, schema=GROWTH)


def _growth(row: dict[str, Any], past: Past, today: dt.date) -> dict[str, Any]:
    in_use = row["in_service"] + row["patched"]
    told = {"site": row["site"], "in_use": in_use, "spare": row["spare"], "basis": past.basis}
    start = next((i for i, d in enumerate(past.days) if (today - d).days <= LOOK_BACK * YEAR_DAYS), None)
    if past.lacks or start is None:
        return told | {"said": f"no answer: {past.lacks or 'too little history'}", "growth_per_year": None}
    since, years = past.days[start], (today - past.days[start]).days / YEAR_DAYS
    told |= {"from_on": since, "from_in_use": past.in_use[start]}
    if years < LEAST_YEARS:
        return told | {"said": "no answer: less than a year of history", "growth_per_year": None}
    rate = (in_use - past.in_use[start]) / years
    told["growth_per_year"] = rate
    if not row["spare"]:
        return told | {"said": "none left"}
    if rate <= 0:
        return told | {"said": "no growth"}
    ahead = row["spare"] / rate
    if ahead > FURTHEST:
        return told | {"said": f"not within {FURTHEST} years"}
    year = (today + dt.timedelta(days=ahead * YEAR_DAYS)).year
    return told | {"said": f"none left in {year}", "runs_out": year}


def _day_number(day: dt.date) -> int:
    return (day - dt.date(1970, 1, 1)).days
