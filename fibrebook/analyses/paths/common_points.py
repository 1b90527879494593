"""Several channels are dead at once: which cables, tubes and joints do they share that no working one uses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from fibrebook.errors import InputError
from fibrebook.plant import Network
from fibrebook.plant.network import PATCH, SPLICE
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

VERDICTS = (
    "all the dead use it, no working one",
    "all the dead use it, working ones too",
    "some of the dead use it, no working one",
    "some of the dead use it, working ones too",
)
ORDER = ("tube", "cable", "tray", "cord", "enclosure", "equipment")  # the smallest thing that can fail comes first


@analysis
def shared_by_dead(
    seen: PlantSnapshot, site: str, dead: Sequence[str], working: Sequence[str] | None = None
) -> pa.Table:
    """Tell what dead channels have in common.

    Parameters
    ----------
    dead : channels without light; working : channels known to have it, default all others of the site

    Returns
    -------
    DataFrame, likeliest first: kind (tube, cable, tray, cord, enclosure, equipment), record, dead (how many of the dead
    pass through it), working, verdict in words, dead_channels, working_channels. What only working channels use is left
    out. A tube is one buffer tube of a cable.
    """
    if not dead:
        raise InputError("name at least one dead channel")
    net = seen.network
    ill = [seen.names.channel_row(site, c) for c in dead]
    names = net.ends.table("channels")["channel"].to_pylist()
    well = (
        [i for i in range(len(names)) if i not in ill]
        if working is None
        else [seen.names.channel_row(site, c) for c in working]
    )
    both = set(ill) & set(well)
    if both:
        raise InputError(f"channel {names[min(both)]!r} cannot be dead and working at once")
    return shared_table(seen, ill, well)


def shared_table(seen: PlantSnapshot, dead: Sequence[int], working: Sequence[int]) -> pa.Table:
    """As `shared_by_dead`, as an Arrow table, from rows of channels."""
    net, ways = seen.network, seen.light_ways
    label = net.paths.label[ways.sender]
    names = net.ends.table("channels")["channel"].to_pylist()
    uses: dict[tuple[str, str], set[int]] = {}
    channel_of: dict[int, set[int]] = {}
    for path, channel in zip(label.tolist(), ways.channel.tolist(), strict=True):
        channel_of.setdefault(path, set()).add(channel)
    for kind, record, path in _things(seen, np.unique(label)):
        uses.setdefault((kind, record), set()).update(channel_of[path])
    out: list[dict[str, Any]] = []
    for (kind, record), channels in uses.items():
        ill, well = channels & set(dead), channels & set(working)
        if not ill:
            continue
        verdict = (0 if len(ill) == len(set(dead)) else 2) + bool(well)
        out.append(
            {
                "kind": kind, "record": record, "dead": len(ill), "working": len(well), "verdict": VERDICTS[verdict],
                "dead_channels": ", ".join(names[c] for c in sorted(ill)),
                "working_channels": ", ".join(names[c] for c in sorted(well)),
            }
        )  # fmt: skip
    out.sort(
        key=lambda r: (VERDICTS.index(r["verdict"]), -r["dead"], r["working"], ORDER.index(r["kind"]), r["record"])
    )
    columns = ("kind", "record", "dead", "working", "verdict", "dead_channels", "working_channels")
    return pa.table({c: pa.array([r[c] for r in out]) for c in columns})


def _things(seen: PlantSnapshot, paths: Ints) -> list[tuple[str, str, int]]:
    """(kind, record, path) of everything on some paths."""
    net = seen.network
    e, out = net.ends, []
    wanted = np.zeros(net.n_vertices, bool)
    wanted[paths] = True
    cables = e.table("cables").to_pylist()
    tubes = seen.cores["tube"].to_pylist()
    last_tube: dict[int, int] = {}
    for cable, tube in zip(e.core_cable.tolist(), tubes, strict=True):
        last_tube[cable] = max(last_tube.get(cable, 1), tube or 1)
    for core in np.flatnonzero(wanted[net.core_path]):
        cable = int(e.core_cable[core])
        path, name = int(net.core_path[core]), cables[cable]["cable"]
        out.append(("cable", name, path))
        if last_tube[cable] > 1:
            out.append(("tube", f"{name} tube {tubes[core]}", path))
    out += _joints(net, wanted)
    places = e.table("enclosures")["enclosure"].to_pylist() + e.table("equipment")["equipment"].to_pylist()
    vertex = np.arange(e.first_plug, net.first_loose)
    mine = vertex[wanted[net.paths.label[vertex]]]
    for one in mine:
        place = int(e.plug_place[one - e.first_plug])
        if place >= 0:
            kind = "enclosure" if place < e.n_enclosures else "equipment"
            out.append((kind, places[place], int(net.paths.label[one])))
    return out


def _joints(net: Network, wanted: npt.NDArray[np.bool_]) -> list[tuple[str, str, int]]:
    joints, out = net.joints, []
    splices, patches = net.ends.table("splices").to_pylist(), net.ends.table("patches").to_pylist()
    for joint in np.flatnonzero(wanted[net.joint_path]):
        path, row = int(net.joint_path[joint]), int(joints.row[joint])
        if joints.what[joint] == SPLICE:
            out.append(("tray", f"{splices[row]['enclosure']} tray {splices[row]['tray']}", path))
            out.append(("enclosure", splices[row]["enclosure"], path))
        elif joints.what[joint] == PATCH:
            out.append(("cord", patches[row]["cord"], path))
    return out
