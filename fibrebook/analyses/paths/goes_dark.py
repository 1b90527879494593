"""What goes dark if something is unplugged: every channel whose light passes through it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.plant import Network
from fibrebook.plant.describe import describe
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import Said

SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("channel", pa.string()), ("purpose", pa.string()), ("application", pa.string()),
        ("a", pa.string()), ("b", pa.string()), ("strands", pa.int64()),
    ]
)  # fmt: skip


@analysis
def goes_dark(seen: PlantSnapshot, site: str, start: Said) -> pa.Table:
    """Tell which channels stop if an element is unplugged, cut or opened.

    Parameters
    ----------
    site : label of the site
    start : a start of `trace`, or a whole thing: ("cable", cable), ("enclosure", enclosure), ("tray", enclosure, tray),
        ("port", enclosure, port) with all its positions, ("cord", cord), ("equipment", equipment)

    Returns
    -------
    DataFrame, one row a channel: site, channel, purpose, application, a and b (equipment/interface), strands (how many
    of its fibres pass here). Light that may be on without a channel in the register is told too, one row a path with an
    interface at an end: channel is blank, purpose says so, a and b name its far ends.

    Raises NotFoundError, with the nearest names, where there is no such thing.
    """
    return goes_dark_table(seen, site, start)


def goes_dark_table(seen: PlantSnapshot, site: str, start: Said) -> pa.Table:
    """As `goes_dark`, as an Arrow table."""
    net = seen.network
    labels = np.unique(net.paths.label[seen.names.vertices(site, start)])
    channel = path_channel(net)[labels]
    strands = np.bincount(channel[channel >= 0], minlength=net.ends.table("channels").num_rows)
    rows = [_channel(net, int(i), int(strands[i])) for i in np.flatnonzero(strands)]
    return pa.Table.from_pylist(rows + _without_channel(net, site, labels[channel < 0]), schema=SCHEMA)


def _channel(net: Network, i: int, strands: int) -> dict[str, Any]:
    row = net.ends.table("channels").slice(i, 1).to_pylist()[0]
    ends = {e: f"{row[f'{e}_equipment']}/{row[f'{e}_interface']}" for e in "ab"}
    return {k: row[k] for k in ("site", "channel", "purpose", "application")} | ends | {"strands": strands}


def _without_channel(net: Network, site: str, labels: Ints) -> list[dict[str, Any]]:
    """Paths with an interface at an end that serve no channel: whether they carry light, nobody wrote down."""
    first, last = (net.paths.final[2 * labels + side].astype(np.int64) >> 1 for side in (0, 1))
    lit = (net.is_interface(first) | net.is_interface(last)) & (first != last)
    ends = [describe(net, v[lit], net.paths.loops[v[lit]]).text.to_pylist() for v in (first, last)]
    return [
        {"site": site, "channel": "", "purpose": "no channel recorded, may carry light", "application": None,
         "a": a, "b": b, "strands": 1}
        for a, b in zip(*ends, strict=True)
    ]  # fmt: skip
