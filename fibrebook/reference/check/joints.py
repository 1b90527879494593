"""Checks of joints and of practice: grades in order, two standards against each other, factors of control charts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import NormalDist

from fibrebook.reference.check.held import Finding, Row, Tables, found


def _connections(t: Tables) -> list[Row]:
    return [row for row in t["component_losses"] if row["component"] == "connection"]


def grades_stand_in_order(t: Tables) -> Iterator[Finding]:
    """Within a grade the mean is below the 97 % figure, twice at most; grades B, C, D go from better to worse."""
    table = {(r["grade"], r["quantity"]): r for r in _connections(t)}
    for family in (("B", "C", "D"), ("Bm", "Cm")):
        for quantity in ("mean", "97 %"):
            values = [table[grade, quantity]["value"] for grade in family]
            for i, grade in enumerate(family):
                row = table[grade, quantity]
                ordered = all(values[j] < values[i] for j in range(i)) and all(v > values[i] for v in values[i + 1 :])
                ratio = table[grade, "97 %"]["value"] / table[grade, "mean"]["value"]
                holds = ordered and 1.9 <= ratio <= 2.2
                yield Finding(row, holds, f"the order of the grades, and {ratio:.2f} x between its mean and 97 %")


def shares_of_random_mating_stand_in_order(t: Tables) -> Iterator[Finding]:
    """Half of all pairs lose less than 95 % of them do, those less than the limit; the mean is the median."""
    mine = [r for r in _connections(t) if not r["grade"] and not r["mode"] and r["quantity"] != "typical"]
    by = {r["quantity"]: r["value"] for r in mine if r["default"]}
    holds = by["50 %"] == by["mean"] < by["95 %"] < by["limit"]
    yield from (Finding(r, holds, "50 % = mean < 95 % < limit") for r in mine if r["quantity"] in by)


def usual_joints_keep_their_limits(t: Tables) -> Iterator[Finding]:
    """A usual connection or fusion splice loses no more than the standard's limit of it, by another publisher."""
    limit = {"connection": 0.75, "array connection": 0.75, "splice": 0.3, "fusion splice": 0.3}  # TIA-568.3-D
    for row in t["component_losses"]:
        if row["component"] in limit and row["quantity"] == "typical":
            yield found(row, row["value"], 0.0, limit[row["component"]], "TIA-568.3 limit, dB")


def two_standards_agree(t: Tables) -> Iterator[Finding]:
    """ISO/IEC 11801-1 and TIA-568.3 print the same limit for splices and for connections."""
    table = [r for r in t["component_losses"] if r["quantity"] == "limit" and not r["grade"] and not r["mode"]]
    for component in ("connection", "splice", "fusion splice", "mechanical splice"):
        mine = [r for r in table if r["component"] == component and r["choice"] in ("ISO/IEC 11801-1", "TIA-568.3-D")]
        same = len({r["value"] for r in mine}) == 1 and len(mine) == 2
        yield from (Finding(r, same, "the other of ISO/IEC 11801-1 and TIA-568.3") for r in mine)


def reference_plugs_are_better(t: Tables) -> Iterator[Finding]:
    """Reference to reference loses less than reference to standard, and that no more than standard to standard."""
    for mode in ("multimode", "single-mode"):
        mine = [r for r in _connections(t) if r["mode"] == mode]
        best = [r for r in mine if r["grade"] == "reference to reference"]
        good = [r for r in mine if r["grade"] == "reference to standard"]
        least = max(r["value"] for r in best)
        yield from (Finding(r, r["value"] < min(g["value"] for g in good), "reference to standard") for r in best)
        yield from (found(r, r["value"], least + 0.01, 0.75, "above reference to reference, to 0.75 dB") for r in good)


def reference_limits_are_read_twice(t: Tables) -> Iterator[Finding]:
    """Editions print 0.3, 0.5, 0.65 and 0.75 dB only, and none of ISO/IEC 14763-3 less than the one before it."""
    mine = [r for r in _connections(t) if r["grade"] == "reference to standard"]
    year = {"ISO/IEC 14763-3:2006": 2006, "ISO/IEC 14763-3:2014": 2014, "ISO/IEC 14763-3:2014/Cor 1": 2015}
    for row in mine:
        others = [r for r in mine if r["mode"] == row["mode"] and r["choice"] in year]
        earlier = [r["value"] for r in others if year[r["choice"]] < year.get(row["choice"], 0)]
        holds = row["value"] in (0.3, 0.5, 0.65, 0.75) and row["value"] >= max(earlier, default=0.0)
        yield Finding(row, holds, "one of the editions' 0.3, 0.5, 0.65 and 0.75 dB, and none less than before")


def return_loss_grades_stand_in_order(t: Tables) -> Iterator[Finding]:
    """Grades 1 to 4 of return loss fall, and the last is above the 14 dB of an open glass end."""
    rows = sorted((r for r in t["component_losses"] if r["grade"].startswith("return loss")), key=lambda r: r["grade"])
    values = [r["value"] for r in rows]
    holds = values == sorted(values, reverse=True) and len(set(values)) == len(values) and values[-1] > 14.0
    yield from (Finding(r, holds, "the order of the grades, above 14 dB of an open end") for r in rows)


def allowance_rebuilds_channel_losses(t: Tables) -> Iterator[Finding]:
    """The allowance of 1.5 and 2.0 dB rebuilds the losses of 10GBASE-SR on OM3 and 10GBASE-LR to 0.25 dB."""
    want = {"multimode": 2.6 - 0.3 * 3.5, "single-mode": 6.2 - 10 * 0.4}
    for row in t["component_losses"]:
        if row["quantity"] == "allowance":
            told = want[row["mode"]]
            yield found(row, row["value"], told - 0.25, told + 0.25, "channel loss less fibre, dB")


def splice_chances_lie_in_the_trade_s_range(t: Tables) -> Iterator[Finding]:
    """Mean and 97 % figure of a splice lie in the trade's ranges: fusion 0.02 to 0.1, mechanical 0.1 to 0.5 dB."""
    ranges = {"fusion splice": (0.02, 0.1), "mechanical splice": (0.1, 0.5), "splice": (0.1, 0.5)}
    for row in t["component_losses"]:
        if row["component"] in ranges and row["quantity"] in ("mean", "97 %"):
            yield found(row, row["value"], *ranges[row["component"]], "the trade's range, dB")


def practice_follows_from_what_it_says(t: Tables) -> Iterator[Finding]:
    """Factors of charts of pairs (d2 = 2 / sqrt pi, D4), 0.002 of 1.48 of index, two deviations, half a range."""
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    want = {
        "individuals chart factor": (3 / d2, 0.003),
        "moving range chart factor": (1 + 3 * d3 / d2, 0.003),
        "index uncertainty": (100 * 0.002 / 1.48, 0.07),
        "maximum as share of loss": (100 * NormalDist().cdf(2.0), 0.05),
        "fibre longer than sheath": (0.5 * (1.0 + 2.0), 0.0),
        "fibre longer than sheath spread": (0.5 * (2.0 - 1.0), 0.0),
    }
    for row in t["practice"]:
        if row["name"] in want:
            value, near = want[row["name"]]
            yield found(row, row["value"], value - near, value + near, "as reckoned from what its source says")


JOINT_CHECKS = (
    grades_stand_in_order, shares_of_random_mating_stand_in_order, usual_joints_keep_their_limits, two_standards_agree,
    reference_plugs_are_better, reference_limits_are_read_twice, return_loss_grades_stand_in_order,
    allowance_rebuilds_channel_losses, splice_chances_lie_in_the_trade_s_range, practice_follows_from_what_it_says,
)  # fmt: skip
