"""The sheet for the next visit: one A5, to be read in the van."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from fibrebook.analyses.advice.advice import advice_table
from fibrebook.analyses.visits.about_site import by_check, last_visit, open_snags
from fibrebook.analyses.work.van import van_list
from fibrebook.sheets.rendering import render, stand

if TYPE_CHECKING:
    from fibrebook.register import Register


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
    return render(
        "next_visit.html",
        about=tables["sites"].to_pylist()[0],
        snags=open_snags(tables["snags"].to_pylist()),
        van=van_list(reg, site).to_dict("records"),
        open_things=by_check(advice_table(reg, site, today).to_pylist()),
        last=last_visit(tables["visits"].to_pylist()),
        stand=stand(reg),
    )
