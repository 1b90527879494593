"""Everything worth a second look, one row each: our checks and the plugins', by the same door."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import TYPE_CHECKING

import pyarrow as pa

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.plugins import MEND, AdviceCheck, code, faults, gathered, name_of, note
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import PlantSnapshot

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


def advice_table(reg: Register, site: str | None = None, today: dt.date | None = None) -> pa.Table:
    """As `advice`, as an Arrow table."""
    seen = PlantSnapshot.of(reg, site)
    situation = Situation(seen if today is None else seen.on(today))
    return pa.Table.from_pylist([asdict(a) for a in all_advice(situation)], schema=SCHEMA)


def all_advice(situation: Situation) -> list[Advice]:
    """Run every check at the door; one that breaks is left out, and that is advice too, with its plugin's name."""
    out: list[Advice] = []
    for plugin, checks in gathered("advice_checks"):
        for given in checks:
            check = given if isinstance(given, AdviceCheck) else AdviceCheck(name_of(given), given)
            part = f"the advice check {check.name}"
            try:
                out += [_proper(a) for a in code(check.run)(situation)]
                note(plugin, part)
            except Exception as error:  # whatever a stranger's function may raise
                note(plugin, part, f"{part} broke: {type(error).__name__}: {error}")
    out += [Advice("", "plugin", "", f.plugin, f"{f.why}; it is left out", MEND) for f in faults()]
    return sorted(out, key=lambda a: (a.site, a.check, a.table, a.record))


def _proper(given: object) -> Advice:
    """Return what a check gave if it is an Advice with a text in every field."""
    if not isinstance(given, Advice):
        raise TypeError(f"it gives {given!r} where an Advice is wanted")
    wrong = [name for name in SCHEMA.names if not isinstance(getattr(given, name), str)]
    if wrong:
        raise TypeError(f"{wrong[0]} of {given!r} is no text")
    return given
