"""The plant told a second time, from the rows alone, by networkx: what the answers must agree with.

Written from the words of the design, without our integers, arrays or solver: nodes are named by labels, every joint is
an edge, and each question is asked of the graph anew.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import cached_property
from itertools import pairwise

import networkx as nx

Rows = dict[str, list[dict]]
Node = tuple
SPARE = ("ready", "half-terminated", "unterminated")


def blank(value: object) -> str:
    """A label, "" where there is none."""
    return "" if value is None else str(value)


class Model:
    """All sites' plant as one multigraph.

    Nodes: ("core", site, cable, core, end), ("port" or "interface", site, at, port, position), ("loose", site, cord,
    strand). Edges carry `what` (core, splice, termination, patch) and `row`.
    """

    def __init__(self, rows: Rows) -> None:
        self.rows = defaultdict(list, rows)
        self.cables = {(r["site"], r["cable"]): r for r in self.rows["cables"]}
        self.graph = nx.MultiGraph()
        for r in self.rows["ports"]:
            self.graph.add_node(("port", r["site"], r["enclosure"], r["port"], blank(r.get("position"))))
        for r in self.rows["interfaces"]:
            self.graph.add_node(("interface", r["site"], r["equipment"], r["interface"], r["position"]))
        for core in self.cores:
            self.graph.add_edge((*core, "A"), (*core, "B"), what="core", row=core)
        for r in self.rows["splices"]:
            self.graph.add_edge(self._end(r, "a_"), self._end(r, "b_"), what="splice", row=r)
        for r in self.rows["terminations"]:
            port = ("port", r["site"], r["enclosure"], r["port"], blank(r.get("position")))
            self.graph.add_edge(self._end(r, ""), port, what="termination", row=r)
        for r in self.rows["patches"]:
            self.graph.add_edge(self._plug(r, "a"), self._plug(r, "b"), what="patch", row=r)

    @cached_property
    def cores(self) -> list[Node]:
        """Every core as ("core", site, cable, number)."""
        return [("core", s, c, n) for (s, c), r in self.cables.items() for n in range(1, r["core_count"] + 1)]

    def _end(self, row: dict, side: str) -> Node:
        cable = self.cables[row["site"], row[f"{side}cable"]]
        end = row.get(f"{side}end") or ("A" if cable["a_enclosure"] == row["enclosure"] else "B")
        return ("core", row["site"], cable["cable"], row[f"{side}core"], end)

    def _plug(self, row: dict, side: str) -> Node:
        at = blank(row.get(f"{side}_at"))
        if not at:
            return ("loose", row["site"], row["cord"], blank(row["strand"]))
        names = (row["site"], at, blank(row.get(f"{side}_port")), blank(row.get(f"{side}_position")))
        kind = "port" if ("port", *names) in self.graph else "interface"
        assert (kind, *names) in self.graph, row
        return (kind, *names)

    # --- paths -------------------------------------------------------------------------------------------------------
    @cached_property
    def part_of(self) -> dict[Node, frozenset]:
        """The path of every node, as the set of its nodes."""
        return {n: part for p in nx.connected_components(self.graph) for part in [frozenset(p)] for n in p}

    def beyond(self, core: Node, end: str, graph: nx.MultiGraph | None = None) -> set[Node]:
        """All nodes reached going out of one end of a core, not through the core itself."""
        graph = self.graph if graph is None else graph
        seen, todo = {(*core, end)}, [(*core, end)]
        while todo:
            here = todo.pop()
            for _, there, data in graph.edges(here, data=True):
                if there not in seen and not (data["what"] == "core" and data["row"] == core):
                    seen.add(there)
                    todo.append(there)
        return seen

    def far(self, core: Node, end: str) -> Node | None:
        """The node met last going out of one end of a core; None on a loop."""
        seen = self.beyond(core, end)
        if (*core, "B" if end == "A" else "A") in seen:
            return None
        if len(seen) == 1:
            return (*core, end)
        last = [n for n in seen if self.graph.degree(n) == 1 and n != (*core, end)]
        assert len(last) == 1, last
        return last[0]

    def edges_of(self, node: Node) -> list[dict]:
        """Data of every joint on the path of a node."""
        return [d for _, _, d in self.graph.subgraph(self.part_of[node]).edges(data=True)]

    # --- states ------------------------------------------------------------------------------------------------------
    @cached_property
    def said(self) -> dict[Node, dict]:
        """What the records say of cores."""
        return {("core", r["site"], r["cable"], r["core"]): r for r in self.rows["cores"]}

    def faulty(self, core: Node) -> bool:
        """Whether a core's own record calls it faulty."""
        return self.said.get(core, {}).get("condition") == "faulty"

    @cached_property
    def sound(self) -> nx.MultiGraph:
        """Splices, terminations and sound cores: where a core end is made off."""
        kept = nx.MultiGraph()
        kept.add_nodes_from(self.graph)
        for u, v, d in self.graph.edges(data=True):
            if d["what"] in ("splice", "termination") or (d["what"] == "core" and not self.faulty(d["row"])):
                kept.add_edge(u, v, **d)
        return kept

    def terminated(self, core: Node, end: str) -> bool:
        """Whether the chain of splices out of an end reaches a port through sound cores only."""
        seen = self.beyond(core, end, self.sound)
        return any(n[0] == "port" for n in seen) and (*core, "B" if end == "A" else "A") not in seen

    @cached_property
    def _channel_of(self) -> dict[tuple, tuple[str, str]]:
        found = {}
        for r in self.rows["channels"]:
            for side in "ab":
                found[r["site"], r[f"{side}_equipment"], r[f"{side}_interface"]] = (r["channel"], side)
        return found

    def channel(self, core: Node) -> str:
        """The channel that a core serves, "" if none: its path's two far ends are at that channel's two interfaces."""
        ends = [self.far(core, e) for e in "AB"]
        if None in ends or any(n[0] != "interface" for n in ends):
            return ""
        (one, side), (other, its) = (self._channel_of.get(n[1:4], ("", "")) for n in ends)
        return one if one and one == other and side != its else ""

    def state(self, core: Node) -> str:
        """The core's state, by the design's order of precedence."""
        joints = self.edges_of((*core, "A"))
        if self.faulty(core):
            return "faulty"
        if self.channel(core):
            return "in service"
        if any(d["what"] == "patch" for d in joints):
            return "patched"
        if any(self.said.get(d["row"], {}).get("reserved_for") for d in joints if d["what"] == "core"):
            return "reserved"
        return ("unterminated", "half-terminated", "ready")[sum(self.terminated(core, e) for e in "AB")]

    # --- a path told in order ----------------------------------------------------------------------------------------
    def told_from(self, first: Node, last: Node) -> list[tuple[str, str, str]]:
        """Kind, place and name of every element from one far end of a path to the other."""
        way = nx.shortest_path(self.graph, first, last)
        out = _element(way[0])
        for u, v in pairwise(way):
            out += self.joint(next(iter(self.graph[u][v].values()))) + _element(v)
        return out

    def joint(self, data: dict) -> list[tuple[str, str, str]]:
        """A joint as a trace tells it."""
        r = data["row"]
        if data["what"] == "core":
            return [("core", r[2], str(r[3]))]
        if data["what"] == "splice":
            return [("splice", r["enclosure"], f"{r['tray']}/{r['slot']}")]
        return [("cord", r["cord"], blank(r["strand"]))] if data["what"] == "patch" else []

    # --- spare between two places ------------------------------------------------------------------------------------
    def strands(self, site: str) -> list[tuple[list[Node], list[Node], bool]]:
        """Unused chains of spliced sound cores: their cores, the nodes one may start from, whether both are ports."""
        out, seen = [], set()
        for core in self.cores:
            if core[1] != site or core in seen or self.state(core) not in SPARE:
                continue
            part = nx.node_connected_component(self.sound, (*core, "A"))
            sub = self.sound.subgraph(part)
            chain = [d["row"] for _, _, d in sub.edges(data=True) if d["what"] == "core"]
            seen.update(chain)
            if all(sub.degree(n) == 2 for n in part):
                continue  # a loop leads nowhere
            ends = [n for n in part if n[0] == "port" or (sub.degree(n) == 1 and not self._shut_off(n))]
            out.append((chain, ends, sum(n[0] == "port" for n in ends) == 2))
        return out

    def _shut_off(self, node: Node) -> bool:
        """Whether a core end is that of a faulty core, reached over a splice that is never cut."""
        return self.faulty(node[:4])

    def place(self, node: Node) -> str | None:
        """Enclosure that a port or a bare core end is in."""
        if node[0] == "port":
            return node[2]
        return self.cables[node[1:3]]["a_enclosure" if node[4] == "A" else "b_enclosure"]

    def graph_between(self, site: str, here: set[str], there: set[str], level: str, without: frozenset = frozenset()):
        """Strands as an undirected network between places, one graph for each fibre class; flow is from 1 to 2."""
        enclosures = {r["enclosure"]: r for r in self.rows["enclosures"] if r["site"] == site}

        def node(name: str) -> object:
            if name in here | there:
                return 1 if name in here else 2
            r = enclosures[name]
            if (level == "splicing" and r.get("kind") == "joint closure") or not r.get("location"):
                return ("itself", name)
            return ("room", r["location"])

        graphs: dict[str, Counter] = defaultdict(Counter)
        for chain, ends, ready in self.strands(site):
            cables = {c[2] for c in chain}
            places = [self.place(n) for n in ends]
            if len(places) < 2 or None in places or cables & without or (level != "splicing" and not ready):
                continue
            turns = []  # of an end on a port in a closure: on by a cord in the room, or by a splice in the closure
            a, b = (node(p) for p in places)
            for n, where in zip(ends, (a, b), strict=True):
                room = enclosures[self.place(n)].get("location")
                turns.append(
                    [("room", room), where]
                    if n[0] == "port" and isinstance(where, tuple) and where[0] == "itself" and room
                    else []
                )
            a, b = (("ports", where) if turn else where for where, turn in zip((a, b), turns, strict=True))
            if a != b and (level != "now" or {a, b} == {1, 2}):
                graph = graphs[blank(self.cables[chain[0][1:3]].get("fibre_class"))]
                graph[frozenset((a, b))] += 1
                for end, turn in zip((a, b), turns, strict=True):
                    for on in turn:
                        graph[frozenset((end, on))] += 1
        return graphs

    def flow(self, *args) -> int:
        """Most strands that can be made between two places, by networkx's maximum flow; arguments as above."""
        total = 0
        for counted in self.graph_between(*args).values():
            net = nx.Graph()
            net.add_nodes_from((1, 2))
            net.add_edges_from((*pair, {"capacity": n}) for pair, n in counted.items())
            total += nx.maximum_flow_value(net, 1, 2)
        return total

    def fits(self, site: str, here: set[str], there: set[str]) -> tuple[int, int]:
        """The least and the most strands that the free ports take: one fibre alone, every fibre with all the ports.

        With one fibre both are the same. Each enclosure is a node for its bare core ends, each room one for its ports;
        between them lie as many ways as the enclosure has ports with neither a core nor a cord.
        """
        enclosures = {r["enclosure"]: r for r in self.rows["enclosures"] if r["site"] == site}
        used = {
            (r["enclosure"], r["port"], blank(r["position"])) for r in self.rows["terminations"] if r["site"] == site
        }
        for r in self.rows["patches"]:
            if r["site"] == site:
                used |= {(r.get(f"{end}_at"), r.get(f"{end}_port"), blank(r.get(f"{end}_position"))) for end in "ab"}

        def front(name: str) -> object:
            if name in here | there:
                return 1 if name in here else 2
            room = enclosures[name].get("location")
            if enclosures[name].get("kind") == "joint closure" and room:
                return ("ports in", name)  # from there by a cord into the room, once for each strand made off there
            return ("room", room or name, bool(room))

        flows = []
        for fibre in {blank(r.get("fibre_class")) for r in self.rows["cables"] if r["site"] == site}:
            net = nx.MultiGraph()
            for chain, ends, _ready in self.strands(site):
                if len(ends) == 2 and blank(self.cables[chain[0][1:3]].get("fibre_class")) == fibre:
                    a, b = (front(self.place(n)) if n[0] == "port" else ("bare", self.place(n)) for n in ends)
                    if None not in (self.place(ends[0]), self.place(ends[1])):
                        net.add_edge(a, b)
                        for n, end in zip(ends, (a, b), strict=True):
                            if end != 1 and end != 2 and end[0] == "ports in":
                                net.add_edge(end, ("room", enclosures[self.place(n)]["location"], True))
            for r in self.rows["ports"]:
                key = (r["enclosure"], r["port"], blank(r["position"]))
                if r["site"] == site and key not in used and (not fibre or blank(r.get("fibre_class")) in ("", fibre)):
                    net.add_edge(("bare", r["enclosure"]), front(r["enclosure"]))
            simple = nx.Graph()
            simple.add_nodes_from((1, 2))
            for (a, b), n in Counter(frozenset((a, b)) for a, b in net.edges() if a != b).items():
                simple.add_edge(a, b, capacity=n)
            flows.append(nx.maximum_flow_value(simple, 1, 2))
        return max(flows, default=0), sum(flows)


def _element(node: Node) -> list[tuple[str, str, str]]:
    """A node as a trace tells it; a core end is told with its core."""
    if node[0] == "core":
        return []
    if node[0] == "loose":
        return [("loose end", node[2], node[3])]
    return [(node[0], node[2], "/".join(n for n in node[3:] if n))]
