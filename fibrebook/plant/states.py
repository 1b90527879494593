"""The seven states of a core, computed from the records and never stored."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fibrebook.plant.network import PATCH, Flags, Network
from fibrebook.records.references.labels_as_numbers import Ints

# In order of precedence; the number is the state's code.
STATES = ("faulty", "in service", "patched", "reserved", "ready", "half-terminated", "unterminated")
FAULTY, IN_SERVICE, PATCHED, RESERVED, READY, HALF_TERMINATED, UNTERMINATED = range(7)
SPARE_STATES = (READY, HALF_TERMINATED, UNTERMINATED)


def interface_channel(net: Network) -> tuple[Ints, Ints]:
    """Channel row and side (0 a, 1 b) of each interface row; -1 where it serves no channel."""
    e = net.ends
    faces = e.table("interfaces")
    own = e.interface_ids(e.site_ids("interfaces"), faces["equipment"], faces["interface"])
    channels, site = e.table("channels"), e.site_ids("channels")
    a = e.interface_ids(site, channels["a_equipment"], channels["a_interface"])
    b = e.interface_ids(site, channels["b_equipment"], channels["b_interface"])
    both = np.concatenate([a, b])
    order = np.argsort(both, kind="stable")
    if not len(both):
        return np.full(len(own), -1), np.zeros(len(own), np.int64)
    at = np.minimum(np.searchsorted(both[order], own), len(both) - 1)
    hit = order[at]
    found = (both[hit] == own) & (own >= 0)
    return np.where(found, hit % len(a), -1), np.where(found, hit // len(a), 0)


def path_channel(net: Network) -> Ints:
    """Channel row that each path serves, by vertex used as path label; -1 where its far ends are not one channel's."""
    channel = np.full(net.n_vertices, -1, np.int64)
    first, last = net.first_interface, net.first_loose
    face = np.arange(first, last)
    if not len(face):
        return channel
    row, side = interface_channel(net)
    far = net.paths.far(face, 1)
    whole = net.is_interface(far)
    other = np.where(whole, far - first, 0)
    same = whole & (row >= 0) & (row == row[other]) & (side != side[other])
    channel[net.paths.label[face[same]]] = row[same]
    return channel


def terminated(net: Network) -> tuple[Flags, Flags]:
    """Whether end A and end B of each core are made off: its chain of splices reaches a port through sound cores."""
    core = np.arange(net.ends.n_cores)
    ways = net.made_off
    out = []
    for end in (0, 1):
        vertex = 2 * core + end
        out.append(net.is_port(ways.far(vertex, 1)) & ~ways.loops[vertex])
    return out[0], out[1]


def core_states(net: Network) -> npt.NDArray[np.int8]:
    """Return the state of every core as a code into STATES, in the register's order of cores."""
    made_a, made_b = terminated(net)
    label = net.core_path
    state = np.full(net.ends.n_cores, UNTERMINATED, np.int8)
    state[made_a | made_b] = HALF_TERMINATED
    state[made_a & made_b] = READY
    state[reserved_paths(net)[label] > 0] = RESERVED
    state[net.on_path(net.joints.what == PATCH)[label]] = PATCHED
    state[path_channel(net)[label] >= 0] = IN_SERVICE
    state[net.faulty] = FAULTY
    return state


def reserved_paths(net: Network) -> Ints:
    """Per vertex used as path label: 1 + the first core on the path whose record reserves it, or 0."""
    by = np.zeros(net.n_vertices, np.int64)
    core = np.flatnonzero(net.reserved)[::-1]  # the first one wins
    by[net.core_path[core]] = core + 1
    return by
