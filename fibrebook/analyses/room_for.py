"""How much more a channel would bear: splices, connections, metres of its own fibre."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import network, taken
from fibrebook.analyses.beams import beams_of
from fibrebook.analyses.firm import by_the_firm, firm_choices
from fibrebook.analyses.headroom import headroom_table
from fibrebook.analyses.start import channel_row
from fibrebook.analyses.weighing import LENGTH
from fibrebook.analyses.weights import Weights
from fibrebook.light.catalogue import attenuation_db_per_km, connection_db, splice_db
from fibrebook.plant import Network
from fibrebook.plant.polarity import light_ways
from fibrebook.records import to_frame

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

TINY_DB = 1e-9  # rounding must not cost a joint


@by_the_firm
def room_for(reg: Register, site: str | None = None, channel: str | None = None) -> pd.DataFrame:
    """Tell how many more splices, or connections, or metres each channel would bear, one of them at a time.

    Parameters
    ----------
    site : label of one site, or None for all; channel : one channel of that site

    Returns
    -------
    DataFrame, one row a channel: site, channel, application, headroom_db (least of its directions and wavelengths),
    binding, splices, connections (whole numbers, each at its published limit), metres_m (of the poorest fibre on its
    path), metres_binding (what would stop it: a limit, or length). All blank where no headroom can be told.
    """
    net = network(reg, site)
    table = room_table(net, firm_choices(reg).margin_db)
    if channel is not None:
        row = channel_row(net, str(site), channel)
        named = net.ends.table("channels")["channel"][row].as_py()
        table = table.filter(pa.array([c == named for c in table["channel"].to_pylist()], pa.bool_()))
    return to_frame(table)


def room_table(net: Network, margin_db: float = 0.0) -> pa.Table:
    """As `room_for`, as an Arrow table, from a network."""
    weights, ways = Weights(net), light_ways(net)
    path = net.paths.label[ways.sender]
    beams = beams_of(net, weights, ways, path)
    found = headroom_table(net, margin_db)
    left = found["headroom_db"].to_numpy()
    per_km = np.zeros(len(left))
    names = weights.class_names
    for wavelength in np.unique(beams.wavelength_nm):
        at = np.flatnonzero(beams.wavelength_nm == wavelength)
        figures = np.asarray(attenuation_db_per_km(names, np.full(len(names), wavelength)))
        per_km[at] = np.where(weights.present[path[beams.way[at]]], figures, -np.inf).max(axis=1, initial=-np.inf)
    spare_m = found["length_max_m"].to_numpy() - found["length_m"].to_numpy()
    with np.errstate(invalid="ignore", divide="ignore"):
        by_loss_m = np.maximum(left, 0.0) / per_km * 1000.0
    by_length = spare_m < by_loss_m
    metres = np.where(np.isnan(left), np.nan, np.maximum(np.where(by_length, spare_m, by_loss_m), 0.0))
    channel = ways.channel[beams.way]
    order = np.lexsort((np.where(np.isnan(left), -np.inf, left), channel))
    first = order[np.unique(channel[order], return_index=True)[1]]  # the worst beam of each channel
    least_m = np.full(net.ends.table("channels").num_rows, np.inf)
    np.minimum.at(least_m, channel, np.where(np.isnan(metres), -1.0, metres))
    stops = np.zeros(len(least_m), bool)
    stops[channel[by_length & (metres == least_m[channel])]] = True
    rows, worst = channel[first], left[first]
    channels, binding = net.ends.table("channels"), found["binding"].take(pa.array(first)).to_pylist()
    binds = [LENGTH if stops[r] else b for r, b in zip(rows, binding, strict=True)]
    known = ~np.isnan(worst)
    counts = [np.floor(np.maximum(worst, 0.0) / each + TINY_DB) for each in (splice_db("fusion"), connection_db())]
    whole = [pa.array(np.where(known, c, 0).astype(np.int64), mask=~known) for c in counts]
    return pa.table(
        {
            "site": taken(channels["site"], rows),
            "channel": taken(channels["channel"], rows),
            "application": found["application"].take(pa.array(first)),
            "headroom_db": worst,
            "binding": pa.array(binding, pa.string()),
            "splices": whole[0],
            "connections": whole[1],
            "metres_m": np.where(known, least_m[rows], np.nan),
            "metres_binding": pa.array(binds, pa.string()),
        }
    )
