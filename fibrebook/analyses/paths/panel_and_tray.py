"""What an enclosure looks like when its door is open: its ports with what is plugged, its trays slot by slot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.plant import Network
from fibrebook.plant.describe import describe
from fibrebook.plant.made_off import ports_of_core_ends
from fibrebook.plant.network import PATCH, SPLICE
from fibrebook.plant.states import path_channel
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.colours_in_words import colour_words
from fibrebook.snapshot.places import place_row, splices_in
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

TEXT = pa.string()
PANEL = pa.schema(
    [(n, TEXT) for n in ("enclosure", "port", "position", "connector", "polish", "cable")]
    + [("core", pa.int64())]
    + [(n, TEXT) for n in ("colour", "cord", "strand", "leads_to", "channel")]
)
TRAY = pa.schema(
    [(n, TEXT) for n in ("enclosure", "tray", "slot", "a_cable")]
    + [("a_core", pa.int64()), ("a_colour", TEXT), ("b_cable", TEXT), ("b_core", pa.int64()), ("b_colour", TEXT)]
    + [("method", TEXT), ("loss_db", pa.float64()), ("channel", TEXT)]
)


@analysis
def panel_rows(seen: PlantSnapshot, site: str, enclosure: str) -> pa.Table:
    """Return the ports of an enclosure in their order.

    Returns
    -------
    DataFrame, one row a position: enclosure, port, position, connector, polish, cable, core, colour (of tube and core,
    in words; what is made off behind), cord, strand, leads_to (the cord's other end; "loose end" where there is none),
    channel (that its path serves).
    """
    return panel_table(seen, site, enclosure)


@analysis
def tray_rows(seen: PlantSnapshot, site: str, enclosure: str) -> pa.Table:
    """Return the splices of an enclosure, tray by tray in their order.

    Returns
    -------
    DataFrame, one row a splice: enclosure, tray, slot, a_cable, a_core, a_colour (in words), b_cable, b_core, b_colour,
    method, loss_db, channel.
    """
    return tray_table(seen, site, enclosure)


def _place(seen: PlantSnapshot, site: str, enclosure: str) -> int:
    found = seen.names.one(site, ("enclosure", enclosure), ("enclosure",))
    return place_row(seen.network, site, found.key[0])


def panel_table(seen: PlantSnapshot, site: str, enclosure: str) -> pa.Table:
    """As `panel_rows`, as an Arrow table."""
    net = seen.network
    e, ports = net.ends, net.ends.table("ports")
    rows = np.flatnonzero(e.plug_place[: e.n_ports] == _place(seen, site, enclosure))
    core_end = np.full(e.n_ports, -1, np.int64)
    made_off = ports_of_core_ends(net)
    held = np.flatnonzero(made_off >= 0)
    core_end[made_off[held]] = held
    names, serves = _Cores(seen.cores), _Channels(net)
    cords = _cords(net)
    out = []
    for row in rows.tolist():
        port = ports.slice(row, 1).to_pylist()[0]
        core = core_end[row] // 2 if core_end[row] >= 0 else -1
        vertex = row + e.first_plug
        out.append(
            {c: port[c] for c in ("enclosure", "port", "position", "connector", "polish")}
            | names.told(int(core))
            | cords.get(vertex, {})
            | {"channel": serves.told(vertex)}
        )
    out.sort(key=lambda r: (natural(r["port"]), natural(r["position"] or "")))
    return pa.Table.from_pylist(out, schema=PANEL)


def tray_table(seen: PlantSnapshot, site: str, enclosure: str) -> pa.Table:
    """As `tray_rows`, as an Arrow table."""
    net = seen.network
    splices, j = net.ends.table("splices"), net.joints
    here = splices_in(net, _place(seen, site, enclosure))
    names, serves = _Cores(seen.cores), _Channels(net)
    joint_of = {int(r): i for i, r in zip(np.flatnonzero(j.what == SPLICE), j.row[j.what == SPLICE], strict=True)}
    out = []
    for row in np.flatnonzero(here).tolist():
        told = splices.slice(row, 1).to_pylist()[0]
        line = {c: told[c] for c in TRAY.names if c in told}
        if row in joint_of:
            for side, dart in (("a", j.u[joint_of[row]]), ("b", j.v[joint_of[row]])):
                line[f"{side}_colour"] = names.told(int(dart) // 4)["colour"]
            line["channel"] = serves.told(int(j.u[joint_of[row]]) // 2)
        out.append(line)
    out.sort(key=lambda r: (natural(r["tray"]), natural(r["slot"])))
    return pa.Table.from_pylist(out, schema=TRAY)


class _Cores:
    """Cable, number and colours of a core of the network."""

    def __init__(self, cores: pa.Table) -> None:
        self.cores = cores

    def told(self, core: int) -> dict[str, Any]:
        if core < 0:
            return {"cable": None, "core": None, "colour": None}
        row = {k: v[0] for k, v in self.cores.slice(core, 1).to_pydict().items()}
        return {"cable": row["cable"], "core": row["core"], "colour": colour_words(row)}


class _Channels:
    """Channel that the path through a vertex serves."""

    def __init__(self, net: Network) -> None:
        self.label, self.of_path = net.paths.label, path_channel(net)
        self.names = net.ends.table("channels")["channel"]

    def told(self, vertex: int) -> str | None:
        row = int(self.of_path[self.label[vertex]])
        return str(self.names[row]) if row >= 0 else None


def _cords(net: Network) -> dict[int, dict[str, str]]:
    """What is plugged in front of each vertex: cord, strand and where it leads."""
    j = net.joints
    at = np.flatnonzero(j.what == PATCH)
    u, v, row = j.u[at] >> 1, j.v[at] >> 1, j.row[at]
    patches = net.ends.table("patches").select(["cord", "strand"]).to_pylist()
    ends = (_texts(net, u), _texts(net, v))
    found: dict[int, dict[str, str]] = {}
    for i, r in enumerate(row.tolist()):
        for here, there in ((u, ends[1]), (v, ends[0])):
            found[int(here[i])] = {**patches[r], "leads_to": there[i]}
    return found


def _texts(net: Network, vertex: Ints) -> list[str]:
    told = describe(net, vertex, np.zeros(len(vertex), bool))
    kinds, texts = told.kind.to_pylist(), told.text.to_pylist()
    return ["loose end" if k == "loose end" else t for k, t in zip(kinds, texts, strict=True)]
