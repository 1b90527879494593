"""How well the firm splices: by engineer, splicing machine, month or cable, with a control chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import check_site
from fibrebook.analyses.firm import by_the_firm, practice
from fibrebook.errors import NotFoundError
from fibrebook.light.chart import Chart, individuals_chart
from fibrebook.records import to_frame

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

BY = ("engineer", "splicer", "month", "cable")
COLUMNS = ("site", "enclosure", "loss_db", "loss_basis", "made_on", "made_by", "splicer")
SINGLE = pa.schema(
    [
        ("group", pa.string()), ("basis", pa.string()), ("site", pa.string()), ("enclosure", pa.string()),
        ("place", pa.string()), ("cable", pa.string()), ("made_on", pa.date32()), ("loss_db", pa.float64()),
        ("moving_range_db", pa.float64()), ("centre_db", pa.float64()), ("lower_db", pa.float64()),
        ("upper_db", pa.float64()), ("range_upper_db", pa.float64()), ("outside", pa.bool_()),
    ]
)  # fmt: skip


@by_the_firm
def splice_quality(reg: Register, by: str = "engineer", site: str | None = None) -> pd.DataFrame:
    """Sum up the losses of all splices, those of pigtails too, by group and by how the loss is known.

    Parameters
    ----------
    by : "engineer", "splicer" (machine), "month" (of making) or "cable" (a splice counts for both its cables)

    Returns
    -------
    DataFrame, one row a group and basis: group, basis (estimated by the splicer, measured), splices (with a loss),
    without_loss (of the group, not counted), mean_db, median_db, point_95_db, most_db, over (how many are over the
    usual limit), over_share, limit_db (that limit: practice, 0.1 dB), centre_db, lower_db, upper_db (of the control
    chart: mean +- 2.66 mean moving range), outside (how many lie outside it), gainers (below nothing).
    """
    splices = _splices(reg, site, by)
    rows = _charted(splices)
    limit_db = practice("splice usual limit")
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault((row["group"], row["basis"]), []).append(row)
    lacking: dict[str, int] = {}
    for row in splices:
        lacking[row["group"]] = lacking.get(row["group"], 0) + (row["loss_db"] is None)
    out = []
    for (group, basis), members in sorted(groups.items()):
        loss = np.array([r["loss_db"] for r in members])
        told = {k: members[0][k] for k in ("centre_db", "lower_db", "upper_db")}
        out.append(
            {
                "group": group, "basis": basis, "splices": len(loss), "without_loss": lacking.get(group, 0),
                "mean_db": loss.mean(), "median_db": float(np.median(loss)),
                "point_95_db": float(np.quantile(loss, 0.95)), "most_db": loss.max(),
                "over": int((loss > limit_db).sum()), "over_share": float((loss > limit_db).mean()),
                "limit_db": limit_db, **told, "outside": sum(bool(r["outside"]) for r in members),
                "gainers": int((loss < 0).sum()),
            }
        )  # fmt: skip
    names = (
        "group", "basis", "splices", "without_loss", "mean_db", "median_db", "point_95_db", "most_db", "over",
        "over_share", "limit_db", "centre_db", "lower_db", "upper_db", "outside", "gainers",
    )  # fmt: skip
    return to_frame(pa.table({n: pa.array([r[n] for r in out]) for n in names}))


@by_the_firm
def splice_chart(
    reg: Register, by: str = "engineer", group: str | None = None, site: str | None = None
) -> pd.DataFrame:
    """Give every splice with a loss, in the order of making, with the control limits of its group.

    Returns
    -------
    DataFrame, one row a splice: group, basis, site, enclosure, place (tray/slot, or port of a pigtail's), cable,
    made_on, loss_db, moving_range_db (against the splice before in the group), centre_db, lower_db, upper_db,
    range_upper_db, outside (its loss or its moving range is outside the limits).

    Raises NotFoundError where there is no such group.
    """
    rows = _charted(_splices(reg, site, by))
    if group is not None:
        there = sorted({r["group"] for r in rows})
        rows = [r for r in rows if r["group"] == group]
        if not rows:
            raise NotFoundError(f"no splice with a loss belongs to {by} {group!r}; there are: {', '.join(there)}")
    return to_frame(pa.Table.from_pylist([{k: r[k] for k in SINGLE.names} for r in rows], schema=SINGLE))


def _splices(reg: Register, site: str | None, by: str) -> list[dict[str, Any]]:
    """Every splice and pigtail splice with its group."""
    if by not in BY:
        raise NotFoundError(f"splice quality is not told by {by!r}; by {', '.join(BY)}")
    if site is not None:
        check_site(reg, site)
    tables = reg.tables(site, ["splices", "terminations"])
    joints = tables["splices"].select([*COLUMNS, "tray", "slot", "a_cable", "b_cable"]).to_pylist()
    pigtails = tables["terminations"].select([*COLUMNS, "port", "position", "cable", "method"]).to_pylist()
    found = [r | {"place": f"{r['tray']}/{r['slot']}", "cables": (r["a_cable"], r["b_cable"])} for r in joints]
    found += [
        r | {"place": "/".join(filter(None, (r["port"], r["position"]))), "cables": (r["cable"],)}
        for r in pigtails
        if r["method"] == "spliced pigtail" or (not r["method"] and r["loss_db"] is not None)
    ]
    out = []
    for row in found:
        basis = row["loss_basis"] or "basis not recorded"
        for group in _groups(row, by):
            out.append(row | {"group": group, "basis": basis, "cable": " to ".join(dict.fromkeys(row["cables"]))})
    return out


def _groups(row: dict[str, Any], by: str) -> list[str]:
    if by == "cable":
        return [f"{row['site']}: {cable}" for cable in dict.fromkeys(row["cables"])]
    if by == "month":
        return [f"{row['made_on']:%Y-%m}" if row["made_on"] else "not dated"]
    return [row["made_by" if by == "engineer" else "splicer"] or "not recorded"]


def _charted(splices: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those with a loss, group by group in the order of making, with their chart."""
    factor, range_factor = practice("individuals chart factor"), practice("moving range chart factor")
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in splices:
        if row["loss_db"] is not None:
            groups.setdefault((row["group"], row["basis"]), []).append(row)
    out: list[dict[str, Any]] = []
    for _, members in sorted(groups.items()):
        members.sort(key=lambda r: (str(r["made_on"] or ""), r["site"], r["enclosure"], r["place"]))
        chart = individuals_chart([r["loss_db"] for r in members], factor, range_factor)
        out += [row | _limits(chart, i, row["loss_db"]) for i, row in enumerate(members)]
    return out


def _limits(chart: Chart, i: int, loss_db: float) -> dict[str, Any]:
    moving = float(chart.moving_range[i])
    return {
        "moving_range_db": None if i == 0 else moving,
        "centre_db": chart.centre,
        "lower_db": chart.lower,
        "upper_db": chart.upper,
        "range_upper_db": chart.range_upper,
        "outside": bool(loss_db > chart.upper or loss_db < chart.lower or moving > chart.range_upper),
    }
