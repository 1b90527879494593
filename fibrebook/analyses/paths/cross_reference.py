"""Which core goes to which port, and what is at the far end of it: every core of a site or of the whole register."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from fibrebook.plant import STATES
from fibrebook.plant.describe import describe
from fibrebook.plant.made_off import ports_of_core_ends
from fibrebook.plant.states import path_channel
from fibrebook.records.references.columns import coded, taken
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot


@analysis
def cross_reference(seen: PlantSnapshot, site: str | None = None) -> pa.Table:
    """Tell of every core where it is made off and what it reaches both ways.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a core, in the order of cables and core numbers:
    site, cable, core, tube_colour, core_colour, state; a_enclosure (the cable's end A), a_port and a_position (where
    this core is made off there, blank if it is not), a_reaches (the last thing met going out of end A: an interface
    ``equipment/interface/position``, a port ``enclosure/port/position``, a bare core end ``cable/core/A``, the loose
    end of a cord, or ``loop``); the same for b; channel (that the core serves); then the parts of a_reaches and
    b_reaches as columns of their own (``_kind``, ``_at``, ``_port``, ``_position``), and the tracers of tube and core.
    """
    return cross_reference_table(seen)


def cross_reference_table(seen: PlantSnapshot) -> pa.Table:
    """As `cross_reference`, as an Arrow table."""
    net, cores = seen.network, seen.cores
    e = net.ends
    cables = e.table("cables")
    columns: dict[str, pa.Array] = {
        "site": cores["site"],
        "cable": cores["cable"],
        "core": cores["core"],
        "tube_colour": cores["tube_colour"],
        "core_colour": cores["core_colour"],
        "state": coded(seen.core_state.astype(np.int64), STATES),
    }
    parts: dict[str, pa.Array] = {}
    made_off_at = ports_of_core_ends(net)
    ports = e.table("ports")
    for end, name in enumerate("ab"):
        vertex = 2 * np.arange(e.n_cores) + end
        port = made_off_at[vertex]
        columns[f"{name}_enclosure"] = taken(cables[f"{name}_enclosure"], e.core_cable)
        columns[f"{name}_port"] = taken(ports["port"], port)
        columns[f"{name}_position"] = taken(ports["position"], port)
        far = describe(net, net.paths.far(vertex, 1), net.paths.loops[vertex])
        columns[f"{name}_reaches"] = far.text
        parts |= {
            f"{name}_reaches_kind": far.kind,
            f"{name}_reaches_at": far.at,
            f"{name}_reaches_port": far.port,
            f"{name}_reaches_position": far.position,
        }
    columns["channel"] = taken(e.table("channels")["channel"], path_channel(net)[net.core_path])
    tracers = {"tube_tracer": cores["tube_tracer"], "core_tracer": cores["core_tracer"]}
    return pa.table(columns | parts | tracers)
