"""One path, element by element, for a screen or a sheet: a slice of the same network that answers for all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fibrebook.plant.network import JOINTS, Network


@dataclass(frozen=True)
class Step:
    """One element of a path: a vertex (interface, port, core end, loose end) or the joint to the next one.

    what : "interface", "port", "core end", "loose end", or a joint: "core", "splice", "termination", "patch"
    row : its row in that table (core: number of the core in the register; core end: its vertex)
    forward : for a joint, whether it is passed from its a side to its b side
    vertex : the vertex itself, or the one that the joint leads to
    """

    what: str
    row: int
    vertex: int
    forward: bool = True


@dataclass(frozen=True)
class Start:
    """Where a trace starts: the vertex, and the slot by which its first far end is looked for."""

    vertex: int
    slot: int
    text: str


def path_through(net: Network, start: Start) -> list[Step]:
    """Return the elements of the path through a start, in order from one far end to the other.

    On a loop it goes round once, from the start to the start.
    """
    if net.paths.loops[start.vertex]:
        first = 2 * start.vertex + start.slot
    else:
        first = int(net.paths.final[2 * start.vertex + start.slot]) ^ 1
    return list(_steps(net, first))


def _steps(net: Network, dart: int) -> Iterator[Step]:
    j = net.joints
    ordered, order = net.ordered_slots
    begin = dart >> 1
    yield _vertex_step(net, begin)
    while True:
        at = int(np.searchsorted(ordered, dart))
        if at == len(ordered) or ordered[at] != dart:
            return
        joint, forward = int(order[at]) % len(j), int(order[at]) < len(j)
        landed = int(j.v[joint] if forward else j.u[joint])
        yield Step(JOINTS[j.what[joint]], int(j.row[joint]), landed >> 1, forward)
        if landed >> 1 == begin:
            return
        yield _vertex_step(net, landed >> 1)
        dart = landed ^ 1


def _vertex_step(net: Network, vertex: int) -> Step:
    if vertex < net.ends.first_plug:
        return Step("core end", vertex, vertex)
    if vertex < net.first_interface:
        return Step("port", vertex - net.ends.first_plug, vertex)
    if vertex < net.first_loose:
        return Step("interface", vertex - net.first_interface, vertex)
    return Step("loose end", int(net.loose_rows[vertex - net.first_loose]), vertex)
