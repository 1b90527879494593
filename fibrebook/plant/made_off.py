"""Where a core end is made off: the port that it comes out at."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fibrebook.plant.network import SPLICE, Network
from fibrebook.plant.path_order import Strung
from fibrebook.records.references.labels_as_numbers import Ints

Floats = npt.NDArray[np.float64]


def ports_of_core_ends(net: Network) -> Ints:
    """Port row on which each core end is made off, or -1; core ends as vertices (2 * core + end)."""
    at = np.full(net.ends.first_plug, -1, np.int64)
    end, (port, _) = net.ends.termination_ends.vertex, net.ends.termination_ports
    good = (end >= 0) & (port >= 0)
    at[end[good]] = port[good] - net.ends.first_plug
    return at


def where_light_comes_out(strung: Strung, core: Ints, day: Ints, joint_day: Floats) -> tuple[Ints, Ints]:
    """Vertices between which a core was tested: where light comes out beyond its end A, and beyond its end B.

    It is the port that the end is made off on, whether by itself or through splices; a splice counts only where it is
    known to have been made by that day, else nobody can say that the light went through it, and the end itself is told.

    Parameters
    ----------
    core : cores, shape (n,); -1 = none; day : days since 1970 on which each was tested, negative = not known
    joint_day : day on which each joint of the network was made; -inf = not known
    """
    net = strung.net
    if not net.n_vertices:
        return np.full(len(core), -1), np.full(len(core), -1)
    places = np.arange(net.n_vertices)
    port = net.is_port(strung.vertex)
    before = np.maximum.accumulate(np.where(port, places, -1))
    after = np.minimum.accumulate(np.where(port, places, net.n_vertices)[::-1])[::-1]
    known = np.where(np.isinf(joint_day), np.inf, joint_day)
    spliced = np.where(net.joints.what == SPLICE, known, -np.inf)
    ends = [np.where(core >= 0, 2 * core + end, 0) for end in (0, 1)]
    out = []
    for end, other in (ends, ends[::-1]):
        at = strung.place[end]
        onwards = at > strung.place[other]
        stop = np.where(onwards, after[at], before[at])
        there = (stop >= 0) & (stop < net.n_vertices)
        stop = np.where(there, stop, at)
        there &= (strung.label[strung.vertex[stop]] == strung.label[end]) & ~net.paths.loops[end]
        newest = strung.newest(spliced, np.minimum(at, stop), np.maximum(at, stop))
        there &= (newest <= day) | np.isneginf(newest)
        out.append(np.where(core < 0, -1, np.where(there, strung.vertex[stop], end)))
    return out[0], out[1]
