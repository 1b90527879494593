"""What asks for attention in a firm: each a function of a register, a table out; plugins add theirs by the same hook.

Columns of each: site, what (a few words), and, where there is a better place than the site's page, address.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from fibrebook.errors import FibrebookError
from fibrebook.plugins import gathered_attention
from fibrebook.screens.front_door.addresses import Address
from fibrebook.snapshot.find import Start

if TYPE_CHECKING:
    from fibrebook.register import Register

FEW = 2  # cores left at a site that runs out
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class AttentionLine:
    """One thing that asks for attention: title, how many there are, (site, what, address) of each."""

    title: str
    rows: list[tuple[str, str, Address]]
    trouble: str = ""


def lines(reg: Register) -> list[AttentionLine]:
    """Return what asks for attention, ours first; what nothing is found of is left out.

    What cannot be worked out (a site that cannot be read, a plugin that breaks) is a line that says so.
    """
    found = []
    for title, asked in gathered_attention().items():
        try:
            rows = [_row(r) for r in asked.function(reg).to_dict("records")]
        except FibrebookError as error:
            found.append(AttentionLine(title, [], f"cannot be told: {error}"))
        except Exception as error:  # a plugin's own fault must not hide the other lines
            log.exception("the line %r of the front page broke", title)
            found.append(AttentionLine(title, [], f"cannot be told: {type(error).__name__}: {error}"))
        else:
            if rows:
                found.append(AttentionLine(title, rows))
    return found


def _row(row: dict[Any, Any]) -> tuple[str, str, Address]:
    address = row.get("address")
    site = str(row["site"])
    return site, str(row["what"]), address if isinstance(address, Address) else Address("return-visit", site)


def no_spare(reg: Register) -> pd.DataFrame:
    """Sites without a spare core: site, what, address."""
    from fibrebook.analyses.spare.spare import spare

    found = spare(reg, by="site")
    found = found[(found["spare"] == 0) & (found["total"] > 0)]
    return _table(found["site"], [f"{n} cores in all" for n in found["total"]], "spares")


def running_out(reg: Register) -> pd.DataFrame:
    """Sites with a core or two left, or that run out this year or next at the pace so far: site, what, address."""
    from fibrebook.analyses.spare.growth import spare_growth

    found = spare_growth(reg)
    soon = found["runs_out"] <= pd.Timestamp.now().year + 1
    found = found[(found["spare"] > 0) & ((found["spare"] <= FEW) | soon)]
    what = [
        f"{n} left{f', none in {int(year)} at this pace' if year == year else ''}"
        for n, year in zip(found["spare"], found["runs_out"], strict=True)
    ]
    return _table(found["site"], what, "spares")


def over_the_limit(reg: Register) -> pd.DataFrame:
    """Channels whose loss or length is over their limit: site, what, address."""
    from fibrebook.analyses.budgets.headroom import headroom
    from fibrebook.losses.budget import falls_short

    found = headroom(reg)
    found = found[falls_short(found["headroom_db"], found["over_m"])]
    worst = found.sort_values(["headroom_db", "over_m"]).drop_duplicates(["site", "channel"])
    things = [("channel", c) for c in worst["channel"]]
    what = [
        f"{c} by {f'{-h:.2f} dB' if h < 0 else f'{m:.0f} m'}"
        for c, h, m in zip(worst["channel"], worst["headroom_db"], worst["over_m"], strict=True)
    ]
    return _table(worst["site"], what, "headroom", things)


def failed_tests(reg: Register) -> pd.DataFrame:
    """Tests of any method that failed and that no later one of the stretch stands against: site, what, address."""
    from fibrebook.analyses.tested.failed import OVER
    from fibrebook.analyses.tested.failed import failed_tests as answer

    failed = answer(reg)
    what = [
        f"{t}{f' at {w:g} nm' if w == w else ''}, {f'{-m:.2f} dB over' if why == OVER else f'{method}, {why}'}"
        for t, w, method, why, m in zip(
            failed["test"], failed["wavelength_nm"].astype(float), failed["method"], failed["why"], failed["margin_db"],
            strict=True,
        )
    ]  # fmt: skip
    return _table(failed["site"], what, "tests-and-faults", [("test", t) for t in failed["test"]])


def not_tested(reg: Register) -> pd.DataFrame:
    """Channels in use that were never accepted since they were last disturbed: site, what, address."""
    from fibrebook.analyses.tested.untested import untested

    found = untested(reg)
    return _table(found["site"], [str(c) if isinstance(c, str) else "" for c in found["channel"]], "tests-and-faults")


def temporary_cords(reg: Register) -> pd.DataFrame:
    """Cords meant for a while only: site, what, address."""
    cords = reg.table("patches")
    cords = cords[cords["temporary"].fillna(False).astype(bool)].drop_duplicates(["site", "cord"])
    what = [
        f"{c}{f' since {d:%Y-%m-%d}' if d == d and d is not None else ''}"
        for c, d in zip(cords["cord"], cords["fitted_on"], strict=True)
    ]
    return _table(cords["site"], what, "return-visit", [("cord", c) for c in cords["cord"]])


def open_snags(reg: Register) -> pd.DataFrame:
    """What was left open: site, what, address; the oldest first."""
    snags = reg.table("snags")
    snags = snags[snags["done_on"].isna()].sort_values("found_on", kind="stable")
    return _table(snags["site"], [w if isinstance(w, str) else "" for w in snags["what"]], "return-visit")


def _table(sites: Any, what: list[str], screen: str, things: list[Start] | None = None) -> pd.DataFrame:
    labels = [str(s) for s in sites]
    at = [Address(screen, s, t) for s, t in zip(labels, things or [()] * len(labels), strict=True)]
    return pd.DataFrame({"site": labels, "what": what, "address": at})
