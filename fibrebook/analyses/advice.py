"""Everything worth a second look, one row each: our checks and the plugins', by the same door."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import TYPE_CHECKING

import pyarrow as pa

from fibrebook.analyses.assemble import check_site
from fibrebook.analyses.firm import by_the_firm
from fibrebook.analyses.situation import Advice, Situation
from fibrebook.errors import PluginError
from fibrebook.plugins import gathered
from fibrebook.records import to_frame

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema([(name, pa.string()) for name in ("site", "check", "table", "record", "what", "do")])


def advice(reg: Register, site: str | None = None, today: dt.date | None = None) -> pd.DataFrame:
    """Tell what is worth a second look. Advice never refuses anything; the hard rules do that.

    Parameters
    ----------
    site : label of one site, or None for all
    today : the day that ages are told from; default the real one

    Returns
    -------
    DataFrame, one row a matter: site, check (its short name), table, record (label of what it is about), what, do
    """
    return to_frame(advice_table(reg, site, today))


@by_the_firm
def advice_table(reg: Register, site: str | None = None, today: dt.date | None = None) -> pa.Table:
    """As `advice`, as an Arrow table."""
    if site is not None:
        check_site(reg, site)
    situation = Situation(reg.tables(site), today or dt.date.today(), reg.own_codes())
    return pa.Table.from_pylist([asdict(a) for a in all_advice(situation)], schema=SCHEMA)


def all_advice(situation: Situation) -> list[Advice]:
    """Run every check at the door; a check that breaks is named, with its plugin."""
    out: list[Advice] = []
    for plugin, checks in gathered("advice_checks"):
        for check in checks:
            try:
                out += [_proper(a) for a in check(situation)]
            except Exception as error:
                name = f"{getattr(check, '__module__', '')}.{getattr(check, '__qualname__', repr(check))}"
                raise PluginError(
                    f"plugin {plugin!r}: the advice check {name} broke: {type(error).__name__}: {error}"
                ) from error
    return sorted(out, key=lambda a: (a.site, a.check, a.table, a.record))


def _proper(given: object) -> Advice:
    """Return what a check gave if it is an Advice with a text in every field."""
    if not isinstance(given, Advice):
        raise TypeError(f"it gives {given!r} where an Advice is wanted")
    wrong = [name for name in SCHEMA.names if not isinstance(getattr(given, name), str)]
    if wrong:
        raise TypeError(f"{wrong[0]} of {given!r} is no text")
    return given
