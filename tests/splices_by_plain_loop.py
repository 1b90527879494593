"""How well the firm splices, row by row in plain Python: what the whole-table answer is held against."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

FACTOR, RANGE_FACTOR, LIMIT_DB = 2.66, 3.267, 0.1  # Montgomery, Statistical Quality Control; the firm's practice
ROUNDING = 1e-9


def splices(joints, pigtails, by):
    """Every splice and pigtail splice with its group, as dicts."""
    found = [r | {"place": f"{r['tray']}/{r['slot']}", "cables": (r["a_cable"], r["b_cable"])} for r in joints]
    found += [
        r | {"place": "/".join(filter(None, (r["port"], r["position"]))), "cables": (r["cable"],)}
        for r in pigtails
        if r["method"] == "spliced pigtail" or (not r["method"] and r["loss_db"] is not None)
    ]
    out = []
    for row in found:
        more = {"basis": row["loss_basis"] or "basis not recorded", "cable": " to ".join(dict.fromkeys(row["cables"]))}
        out += [row | more | {"group": group} for group in groups(row, by)]
    return out


def groups(row, by):
    """The groups that a splice counts in."""
    if by == "cable":
        return [f"{row['site']}: {cable}" for cable in dict.fromkeys(row["cables"])]
    if by == "month":
        return [f"{row['made_on']:%Y-%m}" if row["made_on"] else "not dated"]
    return [row["made_by" if by == "engineer" else "splicer"] or "not recorded"]


def charted(rows):
    """Those with a loss, group by group in the order of making, with the control limits of their group."""
    parts = {}
    for row in rows:
        if row["loss_db"] is not None:
            parts.setdefault((row["group"], row["basis"]), []).append(row)
    out = []
    for _, members in sorted(parts.items()):
        members.sort(key=lambda r: (str(r["made_on"] or ""), r["site"], r["enclosure"], r["place"]))
        loss = [r["loss_db"] for r in members]
        moving = [abs(b - a) for a, b in pairwise(loss)]
        centre, spread = sum(loss) / len(loss), sum(moving) / len(moving) if moving else float("nan")
        limits = {
            "centre_db": centre, "lower_db": centre - FACTOR * spread, "upper_db": centre + FACTOR * spread,
            "range_upper_db": RANGE_FACTOR * spread,
        }  # fmt: skip
        for row, move in zip(members, [float("nan"), *moving], strict=True):
            beyond = row["loss_db"] - limits["upper_db"] > ROUNDING or limits["lower_db"] - row["loss_db"] > ROUNDING
            leapt = move - limits["range_upper_db"] > ROUNDING
            out.append(row | limits | {"moving_range_db": move, "outside": beyond or leapt})
    return out


def quality(rows):
    """The summary, one dict a group and basis."""
    parts, out = {}, []
    for row in charted(rows):
        parts.setdefault((row["group"], row["basis"]), []).append(row)
    for (group, basis), members in parts.items():
        loss = np.array([r["loss_db"] for r in members])
        out.append(
            {
                "group": group, "basis": basis, "splices": len(loss),
                "without_loss": sum(r["group"] == group and r["loss_db"] is None for r in rows),
                "mean_db": loss.mean(), "median_db": np.median(loss), "point_95_db": np.quantile(loss, 0.95),
                "most_db": loss.max(), "over": (loss > LIMIT_DB).sum(), "over_share": (loss > LIMIT_DB).mean(),
                "limit_db": LIMIT_DB, **{n: members[0][n] for n in ("centre_db", "lower_db", "upper_db")},
                "outside": sum(r["outside"] for r in members), "gainers": (loss < 0).sum(),
            }
        )  # fmt: skip
    return out
