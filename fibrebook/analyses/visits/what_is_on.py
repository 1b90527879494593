"""What is on a switch, panel, tray, cable, cord or channel, and where each of it leads."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.plant import STATES, Network
from fibrebook.plant.describe import CORE_END, INTERFACE, PORT, describe, vertex_kind
from fibrebook.plant.light_ways import light_ways
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.colours_in_words import colour_words
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import ON_ONE_PATH, WHOLE, Said
from fibrebook.words.labels import natural

KINDS = (*ON_ONE_PATH, "channel", *WHOLE)
NOTHING = "nothing joined"
SCHEMA = pa.schema(
    [(n, pa.string()) for n in ("site", "kind", "name", "colour", "state", "one_way", "other_way", "channel")]
)
NAMED = {PORT: "port", INTERFACE: "interface", CORE_END: "core"}


@analysis
def what_is_on(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """Tell what is on a thing, and where each of it leads both ways.

    Parameters
    ----------
    site : label of the site
    said : a switch or other equipment, a panel or closure, a tray, cable, cord or channel, as `goes_dark` takes it

    Returns
    -------
    DataFrame, one row a port, interface or core, in the order of their labels: site, kind (port, interface or core),
    name (enclosure/port/position, equipment/interface/position or cable/core), colour (of the core, in words), state
    (of the core), one_way and other_way (the last thing met: out of a port's front and rear, an interface's front, a
    core's ends A and B; "nothing joined", "loop"), channel (that its path serves). Of a closure or tray each splice
    has one row, the core on one side of it; of a cord each strand's end that is recorded first; of a channel the
    interfaces that send.

    Raises NotFoundError, with the nearest names, where there is no such thing; AmbiguousError, with all, where several
    are called so.
    """
    return what_is_on_table(seen, site, said)


def what_is_on_table(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """As `what_is_on`, as an Arrow table."""
    net = seen.network
    found = seen.names.some(site, said, KINDS)
    vertex = _senders(net, found[0].row) if found[0].kind == "channel" else seen.names.vertices(site, found[0].start)
    if found[0].kind in ("port", "interface"):  # all its positions
        vertex = np.concatenate([seen.names.vertices(site, f.start) for f in found])
    vertex = _once_a_path(net, vertex) if found[0].kind in ("enclosure", "tray") else vertex
    rows = [{"site": site} | row for row in _rows_of(seen, vertex)]
    rows.sort(key=lambda row: natural(row["name"]))
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _senders(net: Network, channel: int) -> Ints:
    ways = light_ways(net)
    found: Ints = np.unique(ways.sender[ways.channel == channel])
    return found


def _once_a_path(net: Network, vertex: Ints) -> Ints:
    """Every port, and a splice's core where no port of the enclosure is on its path: that port tells it already."""
    at_port = net.is_port(vertex)
    told = np.isin(net.paths.label[vertex], net.paths.label[vertex[at_port]])
    kept: Ints = vertex[at_port | ~told]
    return kept


def _rows_of(seen: PlantSnapshot, vertex: Ints) -> list[dict[str, Any]]:
    net = seen.network
    kind = vertex_kind(net, vertex, np.zeros(len(vertex), bool))
    core = np.where(kind == CORE_END, vertex // 2, -1)
    # a core is told from its end A; out of a port's or interface's front, then out of a port's rear
    start = np.where(core >= 0, 2 * core, vertex)
    one = _far(net, start, np.ones(len(start), np.int64))
    other = _far(net, np.where(core >= 0, start + 1, start), np.where(core >= 0, 1, 0))
    name = describe(net, start, np.zeros(len(start), bool)).text.to_pylist()
    channels = net.ends.table("channels")["channel"].to_pylist()
    serves = path_channel(net)[net.paths.label[vertex]].tolist()
    out = []
    for i, code in enumerate(kind.tolist()):
        row: dict[str, Any] = {"kind": NAMED.get(code, "loose end"), "name": name[i], "one_way": one[i]}
        if code == CORE_END:
            record = {k: v[0] for k, v in seen.cores.slice(int(core[i]), 1).to_pydict().items()}
            row |= {"name": f"{record['cable']}/{record['core']}", "colour": colour_words(record) or None}
            row["state"] = STATES[int(seen.core_state[core[i]])]
        row["other_way"] = other[i] if code in (CORE_END, PORT) else None
        row["channel"] = channels[serves[i]] if serves[i] >= 0 else None
        out.append(row)
    return out


def _far(net: Network, vertex: Ints, slot: npt.NDArray[np.int64]) -> list[str]:
    far = np.where(slot == 1, net.paths.far(vertex, 1), net.paths.far(vertex, 0))
    loop = net.paths.loops[vertex]
    told = describe(net, far, loop)
    words = zip(told.kind.to_pylist(), told.text.to_pylist(), strict=True)
    return [
        NOTHING if near == there and not looped else text if kind == "loop" else f"{kind} {text}"
        for near, there, looped, (kind, text) in zip(vertex.tolist(), far.tolist(), loop.tolist(), words, strict=True)
    ]
