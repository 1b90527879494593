"""What the owner's page shows and does, without any widget: sites by spare cores, growth, routes, reserving."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fibrebook.analyses.spare.growth import spare_growth
from fibrebook.analyses.spare.spare import STATE_COLUMNS, spare
from fibrebook.errors import InputError

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from fibrebook.register import Register

RANGE = re.compile(r"(\d+)\s*(?:-|–|to)\s*(\d+)|(\d+)")
MOST_CORES = 1728


def overview(reg: Register, today: dt.date | None = None) -> pd.DataFrame:
    """Return one row a site, none or nearly none spare first: site, spare, total, at_this_rate (when none is left, in
    words), growth_per_year [cores], known_from, counts by state."""
    counts = spare(reg, by="site")
    growth = spare_growth(reg, today=today)[["site", "growth_per_year", "said", "basis", "from_on"]]
    found = counts.merge(growth, on="site").rename(columns={"said": "at_this_rate", "basis": "known_from"})
    found["growth_per_year"] = found["growth_per_year"].round(1)
    found["known_from"] = [
        f"{basis} since {day}" if day == day and day is not None else "" for basis, day in _since(found)
    ]
    found = found.sort_values(["spare", "total"], ascending=[True, False], kind="stable")
    columns = ["site", "spare", "total", "at_this_rate", "growth_per_year", "known_from", *STATE_COLUMNS]
    return found[columns].reset_index(drop=True)


def _since(found: pd.DataFrame) -> list[tuple[str, object]]:
    days = [d.date().isoformat() if hasattr(d, "date") and d == d else d for d in found["from_on"].tolist()]
    return list(zip(found["known_from"].tolist(), days, strict=True))


def core_numbers(text: str) -> list[int]:
    """Read ``9 to 12, 15`` or ``9-12 15`` as core numbers, in order, each once.

    Raises
    ------
    InputError : something else stands there
    """
    left = re.sub(r"[\s,;]+|and", " ", RANGE.sub(" ", text)).strip()
    if left or not RANGE.search(text):
        raise InputError(f"{text!r} are no core numbers: write them as 9 to 12, 15")
    found: set[int] = set()
    for first, last, single in RANGE.findall(text):
        a, b = (int(first), int(last)) if first else (int(single), int(single))
        if not 1 <= a <= b <= MOST_CORES:
            raise InputError(
                f"{first or single} to {last or single} is no range of cores: write the smaller number first"
            )
        found.update(range(a, b + 1))
    return sorted(found)


def cable_cores(reg: Register, site: str, cable: str) -> pd.DataFrame:
    """Return a cable's cores: core, tube_colour, core_colour, state, spare, why_not, reserved_for."""
    found = spare(reg, by="core", site=site)
    found = found[found["cable"] == cable]
    told = reg.table("cores", site)
    told = told.loc[told["cable"] == cable, ["core", "tube_colour", "core_colour", "reserved_for"]]
    joined = found.merge(told, on="core")
    columns = ["core", "tube_colour", "core_colour", "state", "spare", "why_not", "reserved_for"]
    return joined[columns].reset_index(drop=True)


def reserve(
    reg: Register, site: str, cable: str, cores: Sequence[int], reserved_for: str, by: str, base: int
) -> int | None:
    """Reserve cores in one commit, or free them again where `reserved_for` is blank; return the commit.

    Parameters
    ----------
    base : the commit that the choice was made on: what others changed since is seen as a conflict

    Raises
    ------
    InputError : a core is not there, or is in use, faulty or reserved already; no initials
    ConflictError : somebody else reserved one of them meanwhile
    """
    now = cable_cores(reg, site, cable).set_index("core")
    missing = [c for c in cores if c not in now.index]
    if missing:
        raise InputError(f"cable {cable} has no core {missing[0]}: its cores are 1 to {len(now)}")
    wanted = " ".join(reserved_for.split())
    if wanted:
        taken = [(c, str(now.loc[c, "why_not"])) for c in cores if not now.loc[c, "spare"]]
        if taken:
            told = "; ".join(f"core {c}: {why}" for c, why in taken[:6])
            raise InputError(f"{len(taken)} of the cores cannot be reserved: {told}")
    else:
        free = [c for c in cores if not isinstance(now.loc[c, "reserved_for"], str)]
        if free:
            raise InputError(
                f"core {free[0]} of {cable} is not reserved itself, so it cannot be freed; say what the cores are for"
            )
    why = f"reserve for {wanted}" if wanted else "no longer reserved"
    edit = reg.edit(by=by, why=f"{why}: {cable} cores {_said(cores)}", base=base)
    edit.put("cores", [{"site": site, "cable": cable, "core": c, "reserved_for": wanted or None} for c in cores])
    return edit.finish()


def _said(cores: Sequence[int]) -> str:
    from fibrebook.words.lists import runs_of

    return runs_of(cores)
