"""How many of the strands between two places the panels take as they hang: a core end is made off on a free port.

Every strand begins and ends on a port. In a room on the way it goes from port to port by a cord, or from core end to
core end by a splice in the enclosure where both cables end. A core end that is not made off yet takes a free port of
its own enclosure: nothing on its rear, nothing plugged in at its front, of the same fibre or of none said. Splices need
a tray, whose room is not recorded, so trays stop nothing here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import permutations

import numpy as np

from fibrebook.plant.max_flow import Flow, Node, flow_between
from fibrebook.plant.network import Network
from fibrebook.plant.strands import HERE, THERE, Places, Strands, tightest_cables
from fibrebook.records.references.labels_as_numbers import Ints

ANY = ""  # the group of a port that names no fibre


@dataclass(frozen=True)
class Fit:
    """Strands that can be made without another panel or port, and what stops there being more, in words."""

    strands: int
    stops: tuple[str, ...]


def free_ports(net: Network) -> Ints:
    """Return the port positions with nothing on their rear and nothing plugged in at their front, as vertices."""
    e = net.ends
    taken = np.zeros(2 * net.n_vertices, bool)
    taken[net.joints.u] = taken[net.joints.v] = True
    vertex = np.arange(e.first_plug, net.first_interface)
    return vertex[~taken[2 * vertex] & ~taken[2 * vertex + 1]]


def strands_that_fit(
    net: Network, places: Places, strands: Strands, group_of_cable: Sequence[str], group_of_port: Sequence[str]
) -> Fit:
    """Count the strands that the free ports take, existing splices never cut.

    Parameters
    ----------
    net : network of one site; places, strands : as for `strands_between`
    group_of_cable, group_of_port : per row of cables and of ports, which fibre it belongs with ("" = not said)

    Several fibres share the ports that name none. They are given out to one fibre after the other, in that order of
    fibres which gives the most: what is told does fit.
    """
    groups = sorted(set(group_of_cable))
    ports = _ports_by_place(net, group_of_port)
    found = [_in_order(net, places, strands, group_of_cable, ports, order) for order in permutations(groups)]
    return max(found, key=lambda fit: fit.strands)


def _ports_by_place(net: Network, group_of_port: Sequence[str]) -> Counter[tuple[int, str]]:
    vertex = free_ports(net)
    row = vertex - net.ends.first_plug
    return Counter((int(net.ends.plug_place[r]), group_of_port[r]) for r in row.tolist())


def _in_order(
    net: Network, places: Places, strands: Strands, group_of_cable: Sequence[str],
    ports: Counter[tuple[int, str]], order: Sequence[str],
) -> Fit:  # fmt: skip
    left, total, stops = Counter(ports), 0, dict[str, None]()
    cable_group = np.array(list(group_of_cable), object)
    for group in order:
        mine = np.flatnonzero(cable_group[net.ends.core_cable[strands.core]] == group)
        if not len(mine):
            continue
        graph = _Graph(net, places, strands, mine, partial(_free, left, group))
        flow = flow_between(graph.capacities(), HERE, THERE)
        total += flow.most
        for place in graph.ports:
            _take(left, group, place, graph.ports_used(place, flow))
        stops.update(dict.fromkeys(graph.stops(flow)))
    return Fit(total, tuple(sorted(stops)))


def _open_to(left: Counter[tuple[int, str]], group: str, place: int) -> list[tuple[int, str]]:
    """Return which of a place's ports a fibre may go to, its own first; one whose class is not said may go to any."""
    if group != ANY:
        return [(place, group), (place, ANY)]
    return [(place, ANY), *sorted(key for key in left if key[0] == place and key[1] != ANY)]


def _free(left: Counter[tuple[int, str]], group: str, place: int) -> int:
    return sum(left[key] for key in _open_to(left, group, place))


def _take(left: Counter[tuple[int, str]], group: str, place: int, used: int) -> None:
    for key in _open_to(left, group, place):
        taken = min(used, left[key])
        left[key] -= taken
        used -= taken


class _Graph:
    """One fibre's strands between core ends in enclosures and what is made off in rooms, joined by free ports."""

    def __init__(self, net: Network, places: Places, strands: Strands, mine: Ints, free: Callable[[int], int]) -> None:
        self.net, self.places, self.core = net, places, strands.core
        self.edges: dict[tuple[Node, Node], list[int]] = defaultdict(list)
        self.ports: dict[int, int] = {}  # free ports, by place where core ends wait
        self.onward = Counter[tuple[Node, Node]]()  # from a closure's ports into its room, once for each strand there
        for i in mine.tolist():
            ends = [
                (int(strands.a_place[i]), bool(strands.a_port[i])),
                (int(strands.b_place[i]), bool(strands.b_port[i])),
            ]
            if any(place < 0 for place, _ in ends):
                continue
            a, b = (self.front(place) if port else ("bare", place) for place, port in ends)
            self.ports.update((place, free(place)) for place, port in ends if not port)
            fronts = [(self.front(place), self.places.room[place]) for place, port in ends if port]
            self.onward.update(pair for pair in fronts if pair[0] not in (HERE, THERE, pair[1]))
            if a != b:
                self.edges[a, b].append(i)

    def front(self, place: int) -> Node:
        """Where one stands with a cord at that place's ports: in its room, here or there; at a closure on the way."""
        if place in self.places.here or place in self.places.there:
            return HERE if place in self.places.here else THERE
        room = self.places.room[place]
        return room if self.places.splice_node[place] == room else ("ports in", place)

    def capacities(self) -> Counter[tuple[Node, Node]]:
        """Strands between nodes, and free ports between an enclosure's core ends and its front."""
        found = Counter({pair: len(rows) for pair, rows in self.edges.items()}) + self.onward
        found.update({(("bare", place), self.front(place)): n for place, n in self.ports.items()})
        return found

    def ports_used(self, place: int, flow: Flow) -> int:
        """How many of a place's free ports the flow needs; strands that join the same two nodes are used first."""
        bare, front = ("bare", place), self.front(place)
        beside = len(self.edges.get((bare, front), ())) + len(self.edges.get((front, bare), ()))
        return max(0, flow.through(bare, front) - beside)

    def stops(self, flow: Flow) -> list[str]:
        """What the cut goes through, in words: panels without enough ports, and cables that run out."""
        beyond = self._beyond(flow.side)
        label = self.net.ends.table("enclosures")["enclosure"].to_pylist()
        told = [
            f"free ports of {label[place]} ({n})" if n else f"no free port in {label[place]}"
            for place, n in self.ports.items()
            if self._crosses(("bare", place), self.front(place), flow.side, beyond)
        ]
        cut = [i for (a, b), rows in self.edges.items() if self._crosses(a, b, flow.side, beyond) for i in rows]
        name = self.net.ends.table("cables")["cable"].to_pylist()
        cables = tightest_cables(self.net, self.core[cut]) if cut else set()
        return told + [f"cable {name[c]}" for c in sorted(cables)]

    def _beyond(self, side: set[Node]) -> set[Node]:
        """What `there` can be reached from without coming back to the near side, through full ports as well."""
        ways = [*self.edges, *self.onward, *((("bare", place), self.front(place)) for place in self.ports)]
        beyond: set[Node] = {THERE}
        grown = True
        while grown:
            more = {n for a, b in ways for n, other in ((a, b), (b, a)) if other in beyond} - side - beyond
            beyond |= more
            grown = bool(more)
        return beyond

    @staticmethod
    def _crosses(a: Node, b: Node, side: set[Node], beyond: set[Node]) -> bool:
        return (a in side and b in beyond) or (b in side and a in beyond)
