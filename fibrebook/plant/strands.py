"""Spare between two places: how many strands can be made end to end, and which cables run out first.

A *strand* is a chain of spliced sound cores that nobody uses, with two ends: a port, or a bare core end. Places are the
nodes of a graph, strands its edges of capacity one; the answer is a maximum flow, the cables that bind a minimum cut
(Ford and Fulkerson, 1956; by shortest augmenting paths, Edmonds and Karp, 1972). Fibres that do not belong together
(single-mode, 50 um, 62.5 um) are never joined: each group flows for itself.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fibrebook.errors import NotFoundError
from fibrebook.plant.max_flow import Node, max_flow
from fibrebook.plant.network import Network
from fibrebook.plant.states import READY, SPARE_STATES, core_states
from fibrebook.records.references.labels_as_numbers import Ints

LEVELS = ("now", "patching", "splicing")
HERE, THERE = ("here",), ("there",)


@dataclass(frozen=True)
class Strands:
    """Unused strands of a site: one row each.

    core : a core of it; a_place, b_place : place rows of its two ends (-1: nowhere, or shut off by a faulty core);
    a_port, b_port : whether that end is on a port; ready : both are
    """

    core: Ints
    a_place: Ints
    b_place: Ints
    a_port: np.ndarray
    b_port: np.ndarray
    ready: np.ndarray


def free_strands(net: Network) -> Strands:
    """Return every chain of spliced sound cores that is neither in use, patched, reserved nor faulty."""
    state = core_states(net)
    core = np.flatnonzero(np.isin(state, SPARE_STATES))
    ways = net.made_off
    core = core[~ways.loops[2 * core]]
    _, first = np.unique(ways.label[2 * core], return_index=True)
    core = core[np.sort(first)]
    darts = [ways.final[2 * (2 * core + end) + 1].astype(np.int64) for end in (0, 1)]
    a_place, b_place = (_end_place(net, dart) for dart in darts)
    a_port, b_port = (net.is_port(dart >> 1) for dart in darts)
    return Strands(core, a_place, b_place, a_port, b_port, state[core] == READY)


def _end_place(net: Network, dart: Ints) -> Ints:
    """Place where a strand's end lies; -1 where a faulty core lies beyond (an existing splice is never cut)."""
    vertex, slot = dart >> 1, dart & 1
    e = net.ends
    is_port = net.is_port(vertex)
    port_place = np.append(e.plug_place, -1)[np.where(is_port, vertex - e.first_plug, -1)]
    cable = e.core_cable[np.where(is_port, 0, vertex // 2)]
    cable_place = np.where(vertex % 2 == 0, e.cable_place[0][cable], e.cable_place[1][cable])
    return np.where(is_port, port_place, np.where(slot == 1, cable_place, -1))


@dataclass(frozen=True)
class Places:
    """The nodes of a site: what is where, for patching (rooms) and for splicing (closures stand for themselves)."""

    room: list[Node]  # per place row: its location, or the enclosure itself where no location is said
    splice_node: list[Node]
    here: frozenset[int]
    there: frozenset[int]


def places_of(net: Network, here: str, there: str) -> Places:
    """Find which enclosures `here` and `there` mean: an enclosure's label, or a location's (all enclosures in it)."""
    table = net.ends.table("enclosures")
    names = table["enclosure"].to_pylist()
    location = table["location"].to_pylist()

    def find(label: str) -> frozenset[int]:
        rows = {i for i, n in enumerate(names) if n == label} or {i for i, at in enumerate(location) if at == label}
        if not rows:
            known = ", ".join(sorted({*names, *(at for at in location if at)}))
            raise NotFoundError(
                f"there is no enclosure and no location with an enclosure called {label!r}; there are: {known}"
            )
        return frozenset(rows)

    a, b = find(here), find(there)
    if a & b:
        raise NotFoundError(f"{here!r} and {there!r} share an enclosure: name two different places")
    return places_between(net, a, b)


def places_between(net: Network, here: frozenset[int], there: frozenset[int]) -> Places:
    """Return the nodes of a site with two sets of enclosure rows as the ends of the way."""
    table = net.ends.table("enclosures")
    names, location = table["enclosure"].to_pylist(), table["location"].to_pylist()
    closure = [k == "joint closure" for k in table["kind"].to_pylist()]
    room: list[Node] = [("room", at) if at else ("enclosure", name) for name, at in zip(names, location, strict=True)]
    node: list[Node] = [("enclosure", n) if c else r for n, c, r in zip(names, closure, room, strict=True)]
    return Places(room, node, here, there)


def spare_strands(
    net: Network, here: str, there: str, group_of_cable: Iterable[str]
) -> list[tuple[str, int, list[str]]]:
    """Count the strands that can be made end to end between two places of one site.

    Parameters
    ----------
    net : network of that one site
    here, there : labels of enclosures or locations
    group_of_cable : per cable row, which fibre it belongs with

    Returns
    -------
    (level, strands, names of the cables that bind), for the levels "now", "patching", "splicing"
    """
    return strands_between(net, places_of(net, here, there), free_strands(net), group_of_cable)


def strands_between(
    net: Network, places: Places, strands: Strands, group_of_cable: Iterable[str]
) -> list[tuple[str, int, list[str]]]:
    """As `spare_strands`, for any two sets of enclosures; many pairs of one site share its strands."""
    groups = np.array(list(group_of_cable), dtype=object)
    out = []
    for level in LEVELS:
        total, binding = 0, Counter[str]()
        for group in sorted(set(groups.tolist())):
            mine = np.array([g == group for g in groups[net.ends.core_cable[strands.core]]], bool)
            count, cables = _level(net, places, strands, mine, level, groups == group)
            total += count
            binding.update(cables)
        out.append((level, total, sorted(binding)))
    return out


def _level(
    net: Network, places: Places, strands: Strands, mine: np.ndarray, level: str, cables_of_group: np.ndarray
) -> tuple[int, list[str]]:
    nodes = places.splice_node if level == "splicing" else places.room
    use = mine if level == "splicing" else mine & strands.ready
    edges: dict[tuple[Node, Node], list[int]] = defaultdict(list)  # strands by the two nodes they join
    for i in np.flatnonzero(use).tolist():
        ends = [(strands.a_place[i], strands.a_port[i]), (strands.b_place[i], strands.b_port[i])]
        both = [_way_out(int(place), bool(port), nodes, places) for place, port in ends]
        a, b = (way[0] if way else None for way in both)
        if a is None or b is None or a == b or (level == "now" and {a, b} != {HERE, THERE}):
            continue
        edges[(a, b)].append(i)
        for way in both:
            for onward in way[1:]:
                edges[(way[0], onward)].append(i)
    flow, side = max_flow(Counter({pair: len(rows) for pair, rows in edges.items()}), HERE, THERE)
    cut = [i for (a, b), rows in edges.items() if (a in side) != (b in side) for i in rows]
    label = net.ends.table("cables")["cable"].to_pylist()
    if cut:
        return flow, sorted({label[c] for c in tightest_cables(net, strands.core[cut])})
    if level == "now":
        return flow, []
    return flow, sorted({label[c] for c in _crossing_cables(net, places, nodes, side, cables_of_group)})


def tightest_cables(net: Network, core: Ints) -> set[int]:
    """Of each strand's chain of cables, the one with the fewest cores: the one that runs out first."""
    label = net.made_off.label[0 : net.ends.first_plug : 2]
    strand = label[core]
    on = np.flatnonzero(np.isin(label, strand) & ~net.faulty)
    cable = net.ends.core_cable[on]
    order = np.lexsort((net.ends.core_count[cable], label[on]))
    _, first = np.unique(label[on][order], return_index=True)
    return set(cable[order][first].tolist())


def _crossing_cables(
    net: Network, places: Places, nodes: list[Node], side: set[Node], of_group: np.ndarray
) -> list[int]:
    """Cables that lead from where one can still get to where one must get, with nothing left in them.

    A closure on the near side whose other cables all lead back to it is not in the way: the far side is what `there`
    can be reached from without coming back to the near side.
    """
    a_place, b_place = net.ends.cable_place
    ways = [
        (_node(int(a_place[i]), nodes, places), _node(int(b_place[i]), nodes, places), int(i))
        for i in np.flatnonzero(of_group)
    ]
    far: set[Node] = {THERE}
    grown = True
    while grown:
        near = {n for a, b, _ in ways for n, other in ((a, b), (b, a)) if other in far and n is not None}
        grown = not near - side <= far
        far |= near - side
    return [i for a, b, i in ways if (a in side and b in far) or (b in side and a in far)]


def _node(place: int, nodes: list[Node], places: Places) -> Node | None:
    if place < 0 or place >= len(nodes):
        return None
    return HERE if place in places.here else THERE if place in places.there else nodes[place]


def _way_out(place: int, port: bool, nodes: list[Node], places: Places) -> list[Node]:
    """Return where a strand's end is, then where one may go on from it, if that is a choice; nowhere: nothing.

    A strand made off on a port in a closure in a room can be patched on in the room, or spliced on in the closure.
    """
    node = _node(place, nodes, places)
    if node is None:
        return []
    if not port or node in (HERE, THERE) or node == places.room[place]:
        return [node]
    return [("ports in", node), places.room[place], node]
