"""The sheet for the next visit: one A5, to be read in the van."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from fibrebook.analyses.advice.advice import advice_table
from fibrebook.analyses.work.van import van_list
from fibrebook.sheets.rendering import render, stand
from fibrebook.sheets.site_facts import open_snags

if TYPE_CHECKING:
    from fibrebook.register import Register

MOST = 4  # records named under one heading; the rest are counted


def next_visit(reg: Register, site: str, today: dt.date | None = None) -> str:
    """Return one HTML page, A5 when printed: whom to ask for, hazards, what the van must hold, what is open.

    What is open are the open snags and what `advice` says of the site; of each check the first records are named and
    the others counted.

    Parameters
    ----------
    site : label of the site; today : the day that advice reckons from, default now

    Returns
    -------
    The text of the file (UTF-8).

    Raises
    ------
    NotFoundError : there is no such site; the message names the nearest
    """
    tables = reg.tables(site, names=("sites", "snags", "visits"))
    visits = sorted(tables["visits"].to_pylist(), key=lambda v: str(v["visited_on"] or ""))
    return render(
        "next_visit.html",
        about=tables["sites"].to_pylist()[0],
        snags=open_snags(tables["snags"].to_pylist()),
        van=van_list(reg, site).to_dict("records"),
        open_things=_by_check(advice_table(reg, site, today).to_pylist()),
        last=visits[-1] if visits else None,
        stand=stand(reg),
    )


def _by_check(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for row in rows:
        one = found.setdefault(row["check"], {"check": row["check"], "do": row["do"], "records": [], "more": 0})
        if len(one["records"]) < MOST:
            one["records"].append(f"{row['record']}: {row['what']}")
        else:
            one["more"] += 1
    return list(found.values())
