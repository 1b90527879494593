"""A site in one look: whom to call, how to get in, its cables, what is open, who was there last."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.plant.states import SPARE_STATES, STATES
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema([(n, pa.string()) for n in ("site", "about", "name", "told")])
OF_SITE = ("name", "customer", "contact", "address", "access", "hazards", "notes")
MOST = 4  # records named of one check; the others are counted
Row = dict[str, Any]


def about_site(reg: Register, site: str, today: dt.date | None = None) -> pd.DataFrame:
    """Tell a site in one look, in the order in which it is asked for.

    Parameters
    ----------
    site : label of the site; today : the day that advice reckons from, default now

    Returns
    -------
    DataFrame, one row a matter: site, about (name, customer, contact, address, access, hazards, notes: as recorded;
    then cable, spare, snag, worth a second look, last visit), name (of the cable, the snag, the check, the visit),
    told (in words). What is not recorded has no row.

    Raises
    ------
    NotFoundError : there is no such site; the message names the nearest
    """
    seen = PlantSnapshot.of(reg, site)
    rows = [*_of_record(seen), *_cables(seen), *_open(seen if today is None else seen.on(today)), *_last_visit(seen)]
    return to_frame(pa.Table.from_pylist([{"site": site} | row for row in rows], schema=SCHEMA))


def open_snags(snags: list[Row]) -> list[Row]:
    """Return the snags that nobody has settled, oldest first."""
    return sorted((s for s in snags if s["done_on"] is None), key=lambda s: str(s["found_on"] or ""))


def by_check(rows: list[Row]) -> list[Row]:
    """Gather rows of advice by check: check, do, records (the first of them, in words), more (how many others)."""
    found: dict[str, Row] = {}
    for row in rows:
        one = found.setdefault(row["check"], {"check": row["check"], "do": row["do"], "records": [], "more": 0})
        if len(one["records"]) < MOST:
            one["records"].append(f"{row['record']}: {row['what']}")
        else:
            one["more"] += 1
    return list(found.values())


def last_visit(visits: list[Row]) -> Row | None:
    """Return the visit that was made last."""
    made = sorted(visits, key=lambda v: str(v["visited_on"] or ""))
    return made[-1] if made else None


def _of_record(seen: PlantSnapshot) -> list[Row]:
    (row,) = seen.tables["sites"].to_pylist()
    return [{"about": c, "told": str(row[c])} for c in OF_SITE if row[c]]


def _cables(seen: PlantSnapshot) -> list[Row]:
    counts: dict[str, Counter[int]] = defaultdict(Counter)
    for cable, state in zip(seen.cores["cable"].to_pylist(), seen.core_state.tolist(), strict=True):
        counts[cable][state] += 1
    out = []
    for row in sorted(seen.tables["cables"].to_pylist(), key=lambda r: natural(r["cable"])):
        ends = " to ".join(str(row[f"{e}_enclosure"] or "an end not recorded") for e in "ab")
        metres = f", {row['length_m']:g} m" if row["length_m"] is not None else ", length not recorded"
        mine = counts[row["cable"]]
        states = ", ".join(f"{mine[i]} {state}" for i, state in enumerate(STATES) if mine[i])
        fibre = row["fibre_class"] or "fibre class not recorded"
        told = f"{row['core_count']} cores {fibre}, {ends}{metres}: {states}"
        out.append({"about": "cable", "name": row["cable"], "told": told})
    spare = int(np.isin(seen.core_state, SPARE_STATES).sum())
    return [*out, {"about": "spare", "told": f"{spare} of {len(seen.core_state)} cores are spare"}]


def _open(seen: PlantSnapshot) -> list[Row]:
    out = []
    for snag in open_snags(seen.table("snags").to_pylist()):
        found = f", found {snag['found_on']}" if snag["found_on"] else ""
        where = f" ({snag['where']})" if snag["where"] else ""
        out.append({"about": "snag", "name": snag["snag"], "told": f"{snag['what'] or 'not said what'}{where}{found}"})
    rows = [{"check": a.check, "do": a.do, "record": a.record, "what": a.what} for a in all_advice(Situation(seen))]
    for one in by_check(rows):
        more = f"; and {one['more']} more" if one["more"] else ""
        out.append({"about": "worth a second look", "name": one["check"], "told": "; ".join(one["records"]) + more})
    return out


def _last_visit(seen: PlantSnapshot) -> list[Row]:
    visit = last_visit(seen.table("visits").to_pylist())
    if visit is None:
        return []
    who = f" by {visit['visited_by']}" if visit["visited_by"] else ""
    told = f"{visit['visited_on'] or 'day not recorded'}{who}{': ' + visit['done'] if visit['done'] else ''}"
    return [{"about": "last visit", "name": visit["visit"], "told": told}]
