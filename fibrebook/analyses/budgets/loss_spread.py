"""What a channel will most likely lose: mean, spread and the loss that 97.7 and 99.9 % of such channels keep."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.analyses.budgets.headroom import case_of, headroom_table
from fibrebook.light.moments import SHARES, draw_sum_db, point_db
from fibrebook.losses.budget import BudgetCase
from fibrebook.losses.channel_wavelengths import beams_of
from fibrebook.losses.distributions import Distributions
from fibrebook.losses.table import LossTable
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

BEAM = ("site", "channel", "application", "direction", "wavelength_nm")


@analysis
def loss_spread(seen: PlantSnapshot, site: str | None = None) -> pa.Table:
    """Tell for every channel what it will most likely lose, beside the worst case.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a channel, direction and wavelength: site, channel, application, direction, wavelength_nm,
    worst_db (every element at its limit, as `headroom`), mean_db, deviation_db, loss_97_7_db, loss_99_9_db (what that
    share of such channels does not exceed; never more than the worst case, for a joint above its limit is made again),
    limit_db, headroom_99_9_db, not_known (elements whose loss nobody can tell: all figures are then at least that).
    What loss tests found more than the records say is added, and where they found less nothing exceeds that.
    `deviation_db` is that of the elements by the records, whatever tests found of them.
    Elements are independent; a connection's mean
    and spread come from the mean and 97 % figures of its grade (IEC 61753-1; ports.grade), fibre's from its usual and
    greatest attenuation, a recorded splice stands with the spread of how it was found. Sums by three moments.
    """
    return spread_table(seen)


def spread_table(seen: PlantSnapshot) -> pa.Table:
    """As `loss_spread`, as an Arrow table."""
    losses, ways = seen.losses, seen.light_ways
    path = seen.network.paths.label[ways.sender]
    beams = beams_of(losses, ways, path)
    case = case_of(seen, beams, path)
    sums = Distributions(losses).sums(case.path, case.wavelength_nm)
    extra_db = _beside_elements_db(losses, case)
    worst = headroom_table(seen, 0.0)
    table = {name: worst[name] for name in BEAM}
    unknown = np.where(case.complete, 0.0, np.nan) + extra_db
    worst_db = worst["loss_db"].to_numpy(zero_copy_only=False).astype(float)
    points = {name: np.minimum(point_db(sums, share) + unknown, worst_db) for name, share in SHARES.items()}
    limit_db = worst["limit_db"].to_numpy()
    table |= {
        "worst_db": worst["loss_db"],
        "mean_db": pa.array(np.minimum(sums.mean_db + unknown, worst_db)),
        "deviation_db": pa.array(np.sqrt(sums.variance) + unknown * 0.0),
        **{f"loss_{name}_db": pa.array(value) for name, value in points.items()},
        "limit_db": worst["limit_db"],
        "headroom_99_9_db": pa.array(limit_db - points["99_9"]),
        "not_known": worst["not_known"],
    }
    return pa.table(table)


def _beside_elements_db(losses: LossTable, case: BudgetCase) -> npt.NDArray[np.float64]:
    """What comes to the losses of elements: where unlike cores meet, and what tests found more than the records say."""
    records = losses.by_records(case.path, case.outward, case.wavelength_nm)
    told = losses.of_paths(case.path, case.outward, case.wavelength_nm)
    return np.asarray(records.mismatch_db + np.maximum(told.loss_db - records.loss_db, 0.0))


@analysis
def loss_by_lots(seen: PlantSnapshot, site: str, channel: str, trials: int = 20_000, seed: int = 1) -> pa.Table:
    """Draw the losses of one channel's elements by lot, to set beside `loss_spread`.

    Returns
    -------
    DataFrame, one row a direction and wavelength: direction, wavelength_nm, trials, mean_db, deviation_db,
    loss_97_7_db, loss_99_9_db. The same seed gives the same figures.
    """
    net = seen.network
    row = seen.names.channel_row(site, channel)
    losses, ways = seen.losses, seen.light_ways
    path = net.paths.label[ways.sender]
    beams = beams_of(losses, ways, path)
    distributions, out = Distributions(losses), []
    worst_db = headroom_table(seen, 0.0)["loss_db"].to_numpy(zero_copy_only=False).astype(float)
    case = case_of(seen, beams, path)
    extra_db = _beside_elements_db(losses, case)
    for i in np.flatnonzero((ways.channel[beams.way] == row) & case.complete):
        each = distributions.elements(int(case.path[i]), float(case.wavelength_nm[i]))
        drawn = draw_sum_db(each.mean_db, each.deviation_db, trials, seed)
        drawn = np.fmin(drawn + extra_db[i], worst_db[i])  # a joint above its limit is made again
        points = {f"loss_{name}_db": float(np.quantile(drawn, share)) for name, share in SHARES.items()}
        told = {"direction": ("a to b", "b to a")[ways.direction[beams.way[i]]], "wavelength_nm": case.wavelength_nm[i]}
        out.append(told | {"trials": trials, "mean_db": drawn.mean(), "deviation_db": drawn.std()} | points)
    columns = ["direction", "wavelength_nm", "trials", "mean_db", "deviation_db", "loss_97_7_db", "loss_99_9_db"]
    return pa.table({c: pa.array([r[c] for r in out]) for c in columns})
