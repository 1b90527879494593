"""Follows cores from joint to joint, states what each core is for, and counts strands between places."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from typing import Any

from demo_maker.rows import Site

Node = tuple[Any, ...]
SPARE = ("ready", "half-terminated", "unterminated")


class Plant:
    """The joints of one site: what each core end, port side and interface position is joined to."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.join: dict[Node, tuple[Node, str, float]] = {}  # joined node, kind of joint, loss in dB
        self.faulty = {(r["cable"], r["core"]) for r in site.tables["cores"] if r["condition"] == "faulty"}
        self.reserved = {(r["cable"], r["core"]) for r in site.tables["cores"] if r.get("reserved_for")}
        fronts = {(r["enclosure"], r["port"], r["position"]) for r in site.tables["ports"]}
        for r in site.tables["splices"]:
            a, b = (
                (
                    "core",
                    r[f"{s}_cable"],
                    r[f"{s}_core"],
                    r[f"{s}_end"] or site.end_at(r[f"{s}_cable"], r["enclosure"]),
                )
                for s in "ab"
            )
            self._tie(a, b, "splice", r["loss_db"])
        for r in site.tables["terminations"]:
            rear = ("rear", r["enclosure"], r["port"], r["position"])
            # a pigtail whose splice nobody noted counts as the most a splice may lose, TIA-568.3-D
            unknown = 0.3 if r["method"] == "spliced pigtail" else 0.0
            loss = unknown if r["loss_db"] is None else r["loss_db"]
            self._tie(("core", r["cable"], r["core"], r["end"]), rear, "termination", loss)
        for r in site.tables["patches"]:
            ends = [(r[f"{s}_at"], r[f"{s}_port"], r[f"{s}_position"]) for s in "ab"]
            a, b = ((("front" if e in fronts else "interface" if e[0] else "loose"), *e) for e in ends)
            self._tie(a, b if b[0] != "loose" else ("loose", r["cord"], r["strand"]), "cord", 0.0)
        self.channel_of: dict[tuple[str, str], str] = {}
        for r in site.tables["channels"]:
            for s in "ab":
                self.channel_of[(r[f"{s}_equipment"], r[f"{s}_interface"])] = r["channel"]

    def _tie(self, a: Node, b: Node, kind: str, loss_db: float) -> None:
        self.join[a] = (b, kind, loss_db)
        self.join[b] = (a, kind, loss_db)

    @staticmethod
    def through(node: Node) -> Node | None:
        """Give the other side of a node: a core's other end, a port's other side."""
        if node[0] == "core":
            return (*node[:3], "B" if node[3] == "A" else "A")
        if node[0] in ("rear", "front"):
            return ("front" if node[0] == "rear" else "rear", *node[1:])
        return None

    def out_of(self, node: Node) -> list[Node]:
        """Walk outwards from a core end: every node met, the node itself first, to the far end."""
        met = [node]
        while met[-1] in self.join:
            other = self.join[met[-1]][0]
            if other in met:
                break
            met.append(other)
            beyond = self.through(other)
            if beyond is None:
                break
            met.append(beyond)
        return met

    def path(self, cable: str, core: int) -> list[Node]:
        """Give all nodes of the path through a core, from one far end to the other."""
        return self.out_of(("core", cable, core, "A"))[::-1] + self.out_of(("core", cable, core, "B"))

    def made_off(self, cable: str, core: int, end: str) -> Node | None:
        """Give the port that the chain of splices out of a core end reaches through sound cores, if any."""
        for node in self.out_of(("core", cable, core, end))[1:]:
            if node[0] == "rear":
                return node
            if node[0] == "core" and node[1:3] in self.faulty:
                return None
        return None

    def state(self, cable: str, core: int) -> str:
        """State one core: the seven states in their order of precedence."""
        if (cable, core) in self.faulty:
            return "faulty"
        path = self.path(cable, core)
        ends = [path[0], path[-1]]
        channels = [self.channel_of.get(e[1:3]) if e[0] == "interface" else None for e in ends]
        if channels[0] and channels[0] == channels[1]:
            return "in service"
        if any(self.join.get(n, (None, ""))[1] == "cord" for n in path):
            return "patched"
        if any(n[0] == "core" and n[1:3] in self.reserved for n in path):
            return "reserved"
        made = sum(self.made_off(cable, core, end) is not None for end in "AB")
        return ("unterminated", "half-terminated", "ready")[made]

    def states(self) -> dict[tuple[str, int], str]:
        """State every core of the site."""
        return {
            (name, core): self.state(name, core)
            for name, row in self.site.cables.items()
            for core in range(1, row["core_count"] + 1)
        }

    def polarity(self, channel: str) -> set[tuple[str, str]]:
        """Give the pairs of interface positions that a channel's paths join."""
        row = next(r for r in self.site.tables["channels"] if r["channel"] == channel)
        found = set()
        for node in self.join:
            if node[0] == "interface" and node[1:3] == (row["a_equipment"], row["a_interface"]):
                far = self.out_of(node)[-1]
                found.add((node[3], far[3] if far[0] == "interface" else "not reached"))
        return found

    def channel_path(self, channel: str, position: str) -> list[Node]:
        """Give the nodes from one position of a channel's first interface to the far end."""
        row = next(r for r in self.site.tables["channels"] if r["channel"] == channel)
        return self.out_of(("interface", row["a_equipment"], row["a_interface"], position))


def spare_strands(plant: Plant, here: str, there: str, level: str) -> tuple[int, list[str]]:
    """Count strands between two locations and name the cables of a minimum cut.

    A strand is a chain of spliced free cores. Level "now": ready strands from the one to the other;
    "patching": ready strands joined by cords in any location; "splicing": any free cores joined anywhere.
    Ports are taken to suffice for new pigtails. A unit-capacity flow, one augmenting path at a time.
    """
    place = {r["enclosure"]: r["location"] for r in plant.site.tables["enclosures"]}
    states, done, strands = plant.states(), set(), []
    for (cable, core), state in states.items():
        if (cable, core) in done or state not in (SPARE if level == "splicing" else ("ready",)):
            continue
        path = plant.path(cable, core)
        cores = [n[1:3] for n in path if n[0] == "core"]
        done.update(cores)
        if any(c in plant.faulty for c in cores):
            continue
        ends = [
            place[n[1]] if n[0] != "core" else place[plant.site.cables[n[1]][f"{n[3].lower()}_enclosure"]]
            for n in (path[0], path[-1])
        ]
        strands.append((ends[0], ends[1], "+".join(dict.fromkeys(c[0] for c in cores))))
    if level == "now":
        strands = [s for s in strands if {s[0], s[1]} == {here, there}]
    capacity: Counter[tuple[str, str]] = Counter()
    names = defaultdict(set)
    for a, b, name in strands:
        if a != b:
            capacity[(a, b)] += 1
            capacity[(b, a)] += 1
            names[frozenset((a, b))].add(name)
    residual, flow = Counter(capacity), 0
    while (step := _shortest(residual, here, there)) and there in step:
        node = there
        while node != here:
            residual[(step[node], node)] -= 1
            residual[(node, step[node])] += 1
            node = step[node]
        flow += 1
    reached = set(_shortest(residual, here, there)) | {here}
    cut = {n for (a, b) in capacity if a in reached and b not in reached for n in names[frozenset((a, b))]}
    return flow, sorted(cut)


def _shortest(residual: Counter[tuple[str, str]], here: str, there: str) -> dict[str, str]:
    came: dict[str, str] = {}
    queue = deque([here])
    while queue:
        node = queue.popleft()
        for (a, b), left in sorted(residual.items()):
            if a == node and left > 0 and b not in came and b != here:
                came[b] = a
                queue.append(b)
                if b == there:
                    return came
    return came
