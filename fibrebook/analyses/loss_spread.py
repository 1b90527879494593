"""What a channel will most likely lose: mean, spread and the loss that 97.7 and 99.9 % of such channels keep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import network
from fibrebook.analyses.beams import beams_of
from fibrebook.analyses.chances import Chances
from fibrebook.analyses.firm import by_the_firm
from fibrebook.analyses.headroom import headroom_table, load_of
from fibrebook.analyses.weights import Weights
from fibrebook.errors import NotFoundError
from fibrebook.light.chance import SHARES, draw_sum_db, point_db
from fibrebook.plant import Network
from fibrebook.plant.polarity import light_ways
from fibrebook.records import to_frame

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

BEAM = ("site", "channel", "application", "direction", "wavelength_nm")


@by_the_firm
def loss_spread(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Tell for every channel what it will most likely lose, beside the worst case.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a channel, direction and wavelength: site, channel, application, direction, wavelength_nm,
    worst_db (every element at its limit, as `headroom`), mean_db, deviation_db, loss_97_7_db, loss_99_9_db (what that
    share of such channels does not exceed), limit_db, headroom_99_9_db. Elements are independent; a connection's mean
    and spread come from the mean and 97 % figures of its grade (IEC 61753-1; ports.grade), fibre's from its usual and
    greatest attenuation, a recorded splice stands with the spread of how it was found. Sums by three moments.
    """
    return to_frame(spread_table(network(reg, site)))


def spread_table(net: Network) -> pa.Table:
    """As `loss_spread`, as an Arrow table, from a network."""
    weights, ways = Weights(net), light_ways(net)
    path = net.paths.label[ways.sender]
    beams = beams_of(net, weights, ways, path)
    load = load_of(net, ways, beams, path)
    sums = Chances(weights).sums(load.path, load.wavelength_nm)
    extra_db = weights.mismatch_db(load.path, load.outward)
    worst = headroom_table(net)
    table = {name: worst[name] for name in BEAM}
    unknown = np.where(load.complete, 0.0, np.nan) + extra_db
    points = {name: point_db(sums, share) + unknown for name, share in SHARES.items()}
    limit_db = worst["limit_db"].to_numpy()
    table |= {
        "worst_db": worst["loss_db"],
        "mean_db": pa.array(sums.mean_db + unknown),
        "deviation_db": pa.array(np.sqrt(sums.variance) + unknown * 0.0),
        **{f"loss_{name}_db": pa.array(value) for name, value in points.items()},
        "limit_db": worst["limit_db"],
        "headroom_99_9_db": pa.array(limit_db - points["99_9"]),
    }
    return pa.table(table)


@by_the_firm
def loss_by_lots(reg: Register, site: str, channel: str, trials: int = 20_000, seed: int = 1) -> pd.DataFrame:
    """Draw the losses of one channel's elements by lot, to set beside `loss_spread`.

    Returns
    -------
    DataFrame, one row a direction and wavelength: direction, wavelength_nm, trials, mean_db, deviation_db,
    loss_97_7_db, loss_99_9_db. The same seed gives the same figures.
    """
    net = network(reg, site)
    channels = net.ends.table("channels")
    row = [i for i, name in enumerate(channels["channel"].to_pylist()) if name == channel]
    if not row:
        raise NotFoundError(f"site {site!r} has no channel {channel!r}")
    weights, ways = Weights(net), light_ways(net)
    path = net.paths.label[ways.sender]
    beams = beams_of(net, weights, ways, path)
    chances, out = Chances(weights), []
    load = load_of(net, ways, beams, path)
    for i in np.flatnonzero((ways.channel[beams.way] == row[0]) & load.complete):
        each = chances.elements(int(load.path[i]), float(load.wavelength_nm[i]))
        drawn = draw_sum_db(each.mean_db, each.deviation_db, trials, seed)
        drawn = drawn + weights.mismatch_db(load.path[i : i + 1], load.outward[i : i + 1])
        points = {f"loss_{name}_db": float(np.quantile(drawn, share)) for name, share in SHARES.items()}
        told = {"direction": ("a to b", "b to a")[ways.direction[beams.way[i]]], "wavelength_nm": load.wavelength_nm[i]}
        out.append(told | {"trials": trials, "mean_db": drawn.mean(), "deviation_db": drawn.std()} | points)
    columns = ["direction", "wavelength_nm", "trials", "mean_db", "deviation_db", "loss_97_7_db", "loss_99_9_db"]
    return to_frame(pa.table({c: pa.array([r[c] for r in out]) for c in columns}))
