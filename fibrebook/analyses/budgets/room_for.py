"""How much more a channel would bear: splices, connections, metres of its own fibre."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.losses.budget import LENGTH, tightness
from fibrebook.losses.channel_wavelengths import beams_of
from fibrebook.records.references.columns import taken
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

TINY_DB = 1e-9  # rounding must not cost a joint


@analysis
def room_for(seen: PlantSnapshot, site: str | None = None, channel: str | None = None) -> pa.Table:
    """Tell how many more splices, or connections, or metres each channel would bear, one of them at a time.

    Parameters
    ----------
    site : label of one site, or None for all; channel : one channel of that site

    Returns
    -------
    DataFrame, one row a channel: site, channel, application, headroom_db (least of its directions and wavelengths),
    over_m (metres already longer than the application allows: there is room for nothing more), binding, tests_binding
    (loss tests that failed or found more than the records say), splices, connections (whole numbers, each at its
    published limit), metres_m (of the poorest fibre on its path), metres_binding
    (what would stop it: a limit, or length). All blank where no headroom can be told.
    """
    table = room_table(seen)
    if channel is not None:
        row = seen.names.channel_row(str(site), channel)
        named = seen.network.ends.table("channels")["channel"][row].as_py()
        table = table.filter(pa.array([c == named for c in table["channel"].to_pylist()], pa.bool_()))
    return table


def room_table(seen: PlantSnapshot) -> pa.Table:
    """As `room_for`, as an Arrow table."""
    net, losses, ways = seen.network, seen.losses, seen.light_ways
    path = net.paths.label[ways.sender]
    beams = beams_of(losses, ways, path)
    found = headroom_table(seen)
    left = found["headroom_db"].to_numpy()
    too_long = found["over_m"].to_numpy() > 0
    tight = tightness(left, found["over_m"].to_numpy())
    room = np.where(too_long, 0.0, np.maximum(left, 0.0))
    per_km = np.zeros(len(left))
    for wavelength in np.unique(beams.wavelength_nm):
        at = np.flatnonzero(beams.wavelength_nm == wavelength)
        figures = losses.db_per_km(float(wavelength))
        per_km[at] = np.where(losses.classes_on(path[beams.way[at]]), figures, -np.inf).max(axis=1, initial=-np.inf)
    spare_m = found["length_max_m"].to_numpy() - found["length_m"].to_numpy()
    with np.errstate(invalid="ignore", divide="ignore"):
        by_loss_m = room / per_km * 1000.0
    by_length = spare_m < by_loss_m
    metres = np.where(np.isnan(left), np.nan, np.maximum(np.where(by_length, spare_m, by_loss_m), 0.0))
    channel = ways.channel[beams.way]
    order = np.lexsort((np.where(np.isnan(tight), -np.inf, tight), channel))
    first = order[np.unique(channel[order], return_index=True)[1]]  # the worst beam of each channel
    least_m = np.full(net.ends.table("channels").num_rows, np.inf)
    np.minimum.at(least_m, channel, np.where(np.isnan(metres), -1.0, metres))
    stops = np.zeros(len(least_m), bool)
    stops[channel[by_length & (metres == least_m[channel])]] = True
    rows, worst = channel[first], left[first]
    channels, binding = net.ends.table("channels"), found["binding"].take(pa.array(first)).to_pylist()
    binds = [LENGTH if stops[r] else b for r, b in zip(rows, binding, strict=True)]
    known = ~np.isnan(worst)
    joints_db = seen.values.splice_db("fusion"), seen.values.connection_db()
    counts = [np.floor(room[first] / each + TINY_DB) for each in joints_db]
    whole = [pa.array(np.where(known, c, 0).astype(np.int64), mask=~known) for c in counts]
    return pa.table(
        {
            "site": taken(channels["site"], rows),
            "channel": taken(channels["channel"], rows),
            "application": found["application"].take(pa.array(first)),
            "headroom_db": worst,
            "over_m": found["over_m"].to_numpy()[first],
            "binding": pa.array(binding, pa.string()),
            "tests_binding": found["tests_binding"].take(pa.array(first)),
            "splices": whole[0],
            "connections": whole[1],
            "metres_m": np.where(known, least_m[rows], np.nan),
            "metres_binding": pa.array(binds, pa.string()),
        }
    )
