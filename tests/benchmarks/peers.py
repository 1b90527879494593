"""General-purpose peers that answer the same question from the same rows: both far ends of every core.

They get the joints as pairs of plain numbers, ready made, so that they are spared the look-up of labels which our own
figures include.
"""

from __future__ import annotations

import sqlite3

import networkx as nx

from fibrebook.plant import Network

Pairs = list[tuple[int, int]]


def joints_of(net: Network) -> Pairs:
    """Every joint of a network as a pair of vertices."""
    return list(zip((net.joints.u >> 1).tolist(), (net.joints.v >> 1).tolist(), strict=True))


def networkx_far_ends(joints: Pairs, cores: int) -> list[tuple[int, int]]:
    """Far ends of every core as (smaller, larger) vertex, by networkx connected components."""
    graph = nx.Graph()
    graph.add_edges_from(joints)
    far: dict[int, tuple[int, int]] = {}
    for part in nx.connected_components(graph):
        ends = sorted(v for v in part if graph.degree(v) == 1) or [min(part)] * 2
        for v in part:
            far[v] = (ends[0], ends[-1])
    return [far[2 * c] for c in range(cores)]


def sqlite_far_ends(joints: Pairs, cores: int) -> list[tuple[int, int]]:
    """The same by a recursive query of SQLite over an indexed table of joints."""
    base = sqlite3.connect(":memory:")
    base.execute("create table joint (a integer, b integer)")
    base.executemany("insert into joint values (?, ?)", joints)
    base.executemany("insert into joint values (?, ?)", [(b, a) for a, b in joints])
    base.execute("create index joint_a on joint (a, b)")
    base.execute("create table degree as select a as v, count(*) as n from joint group by a")
    base.execute("create unique index degree_v on degree (v)")
    found = base.execute(
        """
        with recursive way (core_end, at) as (
            select v, v from degree where v < ? and v % 2 = 0
            union
            select way.core_end, joint.b from way join joint on joint.a = way.at
        )
        select core_end, min(at), max(at) from way join degree on degree.v = way.at where n = 1 group by core_end
        """,
        (2 * cores,),
    ).fetchall()
    far = {v: (low, high) for v, low, high in found}
    return [far.get(2 * c, (2 * c, 2 * c)) for c in range(cores)]
