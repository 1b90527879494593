"""The most that flows through a graph of whole capacities, and where it is held up.

Ford and Fulkerson, 1956; by shortest augmenting paths, Edmonds and Karp, 1972.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Hashable
from dataclasses import dataclass

Node = Hashable


@dataclass(frozen=True)
class Flow:
    """A maximum flow of an undirected graph.

    most : how much flows; side : the nodes that a further unit could still get to (the source's side of a minimum cut)
    left : what each pair of nodes could still take, by node and node
    """

    most: int
    side: set[Node]
    left: dict[Node, dict[Node, int]]

    def through(self, a: Node, b: Node) -> int:
        """Return how much flows between two joined nodes, either way."""
        return abs(self.left[b][a] - self.left[a][b]) // 2


def flow_between(edges: Counter[tuple[Node, Node]], source: Node, sink: Node) -> Flow:
    """Return a maximum flow.

    Parameters
    ----------
    edges : capacity by (node, node); both ways round add up
    """
    left: dict[Node, dict[Node, int]] = defaultdict(lambda: defaultdict(int))
    for (a, b), capacity in edges.items():
        left[a][b] += capacity
        left[b][a] += capacity
    most = 0
    while True:
        came_from = _reach(left, source, sink)
        if sink not in came_from:
            return Flow(most, set(came_from), left)
        way = [sink]
        while way[-1] != source:
            way.append(came_from[way[-1]])
        pairs = list(zip(way[1:], way[:-1], strict=True))
        push = min(left[a][b] for a, b in pairs)
        for a, b in pairs:
            left[a][b] -= push
            left[b][a] += push
        most += push


def max_flow(edges: Counter[tuple[Node, Node]], source: Node, sink: Node) -> tuple[int, set[Node]]:
    """Return only how much flows, and the source's side of a minimum cut; `edges` as above."""
    found = flow_between(edges, source, sink)
    return found.most, found.side


def _reach(left: dict[Node, dict[Node, int]], source: Node, sink: Node) -> dict[Node, Node]:
    came_from: dict[Node, Node] = {source: source}
    queue = deque([source])
    while queue and sink not in came_from:
        a = queue.popleft()
        for b, capacity in list(left[a].items()):
            if capacity and b not in came_from:
                came_from[b] = a
                queue.append(b)
    return came_from
