"""Which core goes to which port, and what is at the far end of it: every core of a site or of the whole register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import coded, network, taken
from fibrebook.plant import STATES, Network, core_states
from fibrebook.plant.reach import describe
from fibrebook.plant.states import path_channel
from fibrebook.records import to_frame
from fibrebook.records.ends import Ints
from fibrebook.register.cores import full_cores

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register


def cross_reference(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Tell of every core where it is made off and what it reaches both ways.

    Parameters
    ----------
    reg : the register
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
    return to_frame(cross_reference_table(network(reg, site), reg.own_codes()))


def cross_reference_table(net: Network, own_codes: dict[str, list[str]]) -> pa.Table:
    """As `cross_reference`, as an Arrow table, from a network."""
    e = net.ends
    cables = e.table("cables")
    cores = full_cores(cables, e.table("cores"), own_codes)
    columns: dict[str, pa.Array] = {
        "site": cores["site"],
        "cable": cores["cable"],
        "core": cores["core"],
        "tube_colour": cores["tube_colour"],
        "core_colour": cores["core_colour"],
        "state": coded(core_states(net).astype(np.int64), STATES),
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


def ports_of_core_ends(net: Network) -> Ints:
    """Port row on which each core end is made off, or -1; core ends as vertices (2 * core + end)."""
    at = np.full(net.ends.first_plug, -1, np.int64)
    end, (port, _) = net.ends.termination_ends.vertex, net.ends.termination_ports
    good = (end >= 0) & (port >= 0)
    at[end[good]] = port[good] - net.ends.first_plug
    return at
