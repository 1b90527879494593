"""Where the boxes of a site's picture stand: layers from left to right, by a layered layout (Sugiyama, 1981).

The layers, the order in them and the way round other boxes come from the library fast-sugiyama (a Rust implementation,
MIT licence, wheels for Windows, Mac and Linux, no dependencies); boxes of unequal height are then put in that order.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from fibrebook.errors import FibrebookError

Node = Hashable
ROUNDS = 8  # sweeps that draw joined boxes to one height; more change nothing that is seen


@dataclass(frozen=True)
class Placed:
    """The layout: layer and top of each node (dummies too), and each joint as a chain of nodes from a to b."""

    layer: dict[Node, int]
    top: dict[Node, float]
    chains: dict[int, list[Node]]
    height: float


def placed(
    nodes: Sequence[Node], joints: Sequence[tuple[Node, Node]], heights: Mapping[Node, float], gap: float
) -> Placed:
    """Lay nodes out in layers.

    Parameters
    ----------
    nodes : all of them; joints : pairs of nodes; heights : of each node, in pixels; gap : least between two in a layer
    """
    rank = _ranks(nodes, joints)
    links: list[tuple[Node, Node]] = []
    for j, pair in enumerate(joints):
        left, right = sorted(pair, key=lambda n: rank[n])  # no way round leads back: there is no cycle to break
        links += [(left, ("joint", j)), (("joint", j), right)]
    parts = _components(links) if links else []
    joined = {n for part in parts for n in part[0]}
    layer: dict[Node, int] = {}
    order: dict[int, list[tuple[float, Node]]] = defaultdict(list)
    edges: list[tuple[Node, Node]] = []
    base = 0.0
    for spots, drawn in parts:
        ranks = {y: i for i, y in enumerate(sorted({y for _, y in spots.values()}, reverse=True))}
        for node, (x, y) in spots.items():
            layer[node] = ranks[y]
            order[ranks[y]].append((base + x, node))
        base += max(x for x, _ in spots.values()) + 1000.0
        edges += drawn
    for node in nodes:
        if node not in joined:
            layer[node] = 0
            order[0].append((base, node))
            base += 1.0
    rows = {at: [node for _, node in sorted(there, key=lambda t: t[0])] for at, there in order.items()}
    top = _tops(rows, edges, heights, gap)
    total = max((top[n] + heights.get(n, 0.0) for n in top), default=0.0)
    return Placed(layer, top, _chains(joints, edges), total)


def _ranks(nodes: Sequence[Node], joints: Sequence[tuple[Node, Node]]) -> dict[Node, int]:
    """Nodes by their steps from the best joined node of their part of the site, which stands at the left."""
    ways: dict[Node, list[Node]] = {n: [] for n in nodes}
    for a, b in joints:
        ways[a].append(b)
        ways[b].append(a)
    depth: dict[Node, int] = {}
    place = {n: i for i, n in enumerate(nodes)}
    for hub in sorted(nodes, key=lambda n: (-len(ways[n]), place[n])):
        if hub in depth:
            continue
        depth[hub] = 0
        queue = deque([hub])
        while queue:
            node = queue.popleft()
            for there in ways[node]:
                if there not in depth:
                    depth[there] = depth[node] + 1
                    queue.append(there)
    return {n: d * len(nodes) + place[n] for n, d in depth.items()}


def _components(
    links: list[tuple[Node, Node]],
) -> list[tuple[dict[Node, tuple[float, float]], list[tuple[Node, Node]]]]:
    try:
        from fast_sugiyama import from_edges
    except ImportError as error:
        raise FibrebookError(
            "the picture of a site needs the library fast-sugiyama: pip install fibrebook[notebooks]"
        ) from error
    numbers = {n: i for i, n in enumerate(dict.fromkeys(n for link in links for n in link))}
    names = list(numbers)
    found = from_edges(
        [(numbers[a], numbers[b]) for a, b in links],
        dummy_vertices=True,
        ranking_type="up",
        crossing_minimization="barycenter",
    )

    def name(i: int | str) -> Node:
        return names[int(i)] if int(i) < len(names) else ("dummy", int(i))

    return [
        ({name(i): xy for i, xy in spots}, [(name(a), name(b)) for a, b in drawn or []]) for spots, _, _, drawn in found
    ]


def _tops(
    rows: Mapping[int, list[Node]], edges: Sequence[tuple[Node, Node]], heights: Mapping[Node, float], gap: float
) -> dict[Node, float]:
    """Tops of the boxes: stacked in order, then drawn towards what they are joined to, never overlapping."""
    near: dict[Node, list[Node]] = defaultdict(list)
    for a, b in edges:
        near[a].append(b)
        near[b].append(a)
    top: dict[Node, float] = {}
    for row in rows.values():
        y = 0.0
        for node in row:
            top[node] = y
            y += heights.get(node, 0.0) + gap

    def middle(node: Node) -> float:
        return top[node] + heights.get(node, 0.0) / 2

    for turn in range(ROUNDS):
        for at in sorted(rows, reverse=bool(turn % 2)):
            row = rows[at]
            wanted = [
                (sum(map(middle, near[n])) / len(near[n]) if near[n] else middle(n)) - heights.get(n, 0.0) / 2
                for n in row
            ]
            for node, y in zip(row, _apart(wanted, [heights.get(n, 0.0) + gap for n in row]), strict=True):
                top[node] = y
    least = min(top.values(), default=0.0)
    return {n: y - least for n, y in top.items()}


def _apart(wanted: Sequence[float], needs: Sequence[float]) -> list[float]:
    """Places nearest to those wanted (least squares) that keep order and room: adjacent ones are pooled."""
    offset = [0.0]
    for need in needs[:-1]:
        offset.append(offset[-1] + need)
    blocks: list[list[float]] = []  # sum and count of wanted places less their offsets, which must not fall
    for y, o in zip(wanted, offset, strict=True):
        blocks.append([y - o, 1.0])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            total, count = blocks.pop()
            blocks[-1][0] += total
            blocks[-1][1] += count
    level = [total / count for total, count in blocks for _ in range(int(count))]
    return [y + o for y, o in zip(level, offset, strict=True)]


def _chains(joints: Sequence[tuple[Node, Node]], edges: Sequence[tuple[Node, Node]]) -> dict[int, list[Node]]:
    """Each joint's way from its a to its b, through its own node and the dummies that stand for it."""
    near: dict[Node, list[Node]] = defaultdict(list)
    for a, b in edges:
        near[a].append(b)
        near[b].append(a)

    def walk(node: Node, came: Node) -> list[Node]:
        way = [node]
        while isinstance(node, tuple) and node[0] == "dummy":
            came, node = node, next(n for n in near[node] if n != came)
            way.append(node)
        return way

    found = {}
    for j, (a, _) in enumerate(joints):
        own: Node = ("joint", j)
        ways = [walk(n, own) for n in near[own]]
        if len(ways) != 2:
            continue
        if ways[0][-1] != a:
            ways.reverse()
        found[j] = [*reversed(ways[0]), own, *ways[1]]
    return found
