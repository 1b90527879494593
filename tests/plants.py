"""Registers made up by hypothesis: valid rows of one to three sites, and rows as tables.

Names are invented. Every register made here obeys the hard rules; that is asserted, so that a test that fails tells of
the answer and not of the question.
"""

from __future__ import annotations

from collections import defaultdict
from random import Random

import hypothesis.strategies as st
import pyarrow as pa

from fibrebook.records import KINDS, Kind, to_table
from fibrebook.records.rules.check import check
from fibrebook.register.row_files.read import coded_schema

Rows = dict[str, list[dict]]
# Labels of one pool for every site, so that equal labels at two sites have every chance to be mixed up.
SITES = ("S1", "Yard/2", "Höhe 3")
PLACES = ("P1", "P 2", "HO/FM-1", "Käfig/3", "10", "J#1")
LOCATIONS = ("hall", "room/2", "loft")
CABLES = ("C1", "C/2", "Ø3", "4", "C 5", "A-B/6", "c7", "C8", "09")
DEVICES = ("SW1", "SW/2", "øst")
KIND_OF_ENCLOSURE = ("rack panel", "wall box", "joint closure", None)


def tables_of(rows: Rows, site: str | None = None, coded: bool = False) -> dict[str, pa.Table]:
    """Return rows as full tables of every kind (of one site, if asked); `coded`: text as dictionaries, as stored."""
    out = {}
    for kind in KINDS.values():
        wanted = [r for r in rows.get(kind.name, []) if site is None or r["site"] == site]
        table = _full_table(kind, wanted) if wanted else kind.empty()
        out[kind.name] = table.cast(coded_schema(kind)) if coded else table
    return out


def _full_table(kind: Kind, wanted: list[dict]) -> pa.Table:
    given, problems = to_table(kind, wanted)
    assert not problems, [str(p) for p in problems]
    columns = [
        given[c.name] if c.name in given.column_names else pa.nulls(len(wanted), c.arrow_type) for c in kind.columns
    ]
    return pa.table(columns, schema=kind.schema)


def put_all(reg, rows: Rows, by: str = "ts", why: str = "test") -> None:
    """Write rows of every kind into a register in one commit."""
    with reg.edit(by=by, why=why) as edit:
        for name in KINDS:
            if rows.get(name):
                edit.put(name, rows[name])


@st.composite
def plants(draw, sites: int = 3, meshed: bool = False) -> Rows:
    """Make the rows of one to three sites, joined in every way the records allow.

    `meshed`: many cables between few rooms and little in use, so that strands between two places find several ways.
    """
    rows: Rows = defaultdict(list)
    for label in SITES[: draw(st.integers(1, sites))]:
        # hypothesis draws the shape; the many small choices come from one seed, which keeps an example cheap
        shape = draw(st.fixed_dictionaries(MESHED if meshed else SHAPE))
        _Site(rows, label, Random(draw(st.integers(0, 2**32 - 1))), shape).make()
    problems = check(tables_of(rows))
    assert not problems, [str(p) for p in problems]
    return dict(rows)


SHAPE = {
    "enclosures": st.integers(1, 6), "rooms": st.integers(1, 3), "cables": st.integers(0, 6),
    "cores": st.integers(1, 5), "ports": st.integers(0, 6), "devices": st.integers(0, 3), "tidy": st.booleans(),
    "splice": st.sampled_from((0.1, 0.5, 0.9)), "plug": st.sampled_from((0.0, 0.4, 0.9)), "said": st.just(0.15),
    "classes": st.sampled_from((("OS2", "OM3"), ("OS2",))),
}  # fmt: skip
MESHED = SHAPE | {
    "enclosures": st.integers(4, 6), "cables": st.integers(5, 9), "cores": st.integers(3, 6),
    "ports": st.sampled_from((0, 12, 20)), "splice": st.sampled_from((0.0, 0.2, 0.5)), "plug": st.just(0.05),
    "said": st.just(0.05),
}  # fmt: skip


class _Site:
    """Makes one site's rows, table by table."""

    def __init__(self, rows: Rows, site: str, rng: Random, shape: dict) -> None:
        self.rows, self.site, self.rng, self.shape = rows, site, rng, shape
        self.far: dict[tuple, dict[int, tuple]] = defaultdict(dict)  # vertex -> slot -> (vertex, slot) across a joint

    def put(self, kind: str, /, **row) -> None:
        self.rows[kind].append({"site": self.site, **row})

    def make(self) -> None:
        self.put("sites", name="made up")
        for at in LOCATIONS:
            self.put("locations", location=at)
        self.enclosures = list(PLACES[: self.shape["enclosures"]])
        for name in self.enclosures:
            at = self.rng.choice((*LOCATIONS[: self.shape["rooms"]], None))
            self.put("enclosures", enclosure=name, location=at, kind=self.rng.choice(KIND_OF_ENCLOSURE), trays=2)
        self.ports, self.cables = self.make_ports(), self.make_cables()
        for name in self.enclosures:
            self.join_at(name)
        self.make_equipment()
        self.make_patches()
        self.make_channels()
        self.say_of_cores()

    def make_ports(self) -> dict[str, list[tuple[str, str]]]:
        found = {}
        for name in self.enclosures:
            here = []
            for n in range(1, self.shape["ports"] + 1):
                port = self.rng.choice((str(n), f"{n}/a"))
                here += [(port, p) for p in (("A", "B") if self.rng.random() < 0.6 else ("",))]
            for port, position in here:
                self.put("ports", enclosure=name, port=port, position=position, connector="LC")
            found[name] = here
        return found

    def make_cables(self) -> dict[str, tuple]:
        found = {}
        for name in CABLES[: self.shape["cables"]]:
            a, b = (self.rng.choice(self.enclosures) for _ in "ab")
            if a == b and self.rng.random() < 0.7:
                b = self.rng.choice(self.enclosures)
            if self.rng.random() < 0.1:
                b = None  # coiled up, its far end nowhere yet
            most = self.shape["cores"]
            count = self.rng.randint(most // 2 or 1, most)
            found[name] = (a, b, count, self.rng.choice(self.shape["classes"]))
            self.put(
                "cables", cable=name, a_enclosure=a, b_enclosure=b, core_count=found[name][2],
                fibre_class=found[name][3], length_m=self.rng.choice((None, 10.0, 250.5)),
            )  # fmt: skip
        return found

    def ends_at(self, enclosure: str) -> list[tuple[str, int, str]]:
        found = [
            (cable, core, end)
            for cable, (a, b, count, _) in self.cables.items()
            for core in range(1, count + 1)
            for end, at in (("A", a), ("B", b))
            if at == enclosure
        ]
        if self.shape["tidy"]:  # core 1 to core 1: long chains and closed loops
            found.sort(key=lambda e: (e[1], self.rng.random()))
        else:
            self.rng.shuffle(found)
        return found

    def said_end(self, cable: str, end: str) -> str | None:
        a, b, *_ = self.cables[cable]
        return end if a == b or self.rng.random() < 0.3 else None

    def join_at(self, enclosure: str) -> None:
        ends, slot = self.ends_at(enclosure), 0
        ports = self.rng.sample(self.ports[enclosure], len(self.ports[enclosure]))
        while ends:
            one = ends.pop()
            same = next((e for e in reversed(ends) if self.cables[e[0]][3] == self.cables[one[0]][3]), None)
            if same and self.rng.random() < self.shape["splice"]:
                ends.remove(same)
                slot += 1
                self.splice(enclosure, slot, one, same)
            elif ports and self.rng.random() < 0.8:
                self.terminate(enclosure, ports.pop(), one)

    def splice(self, enclosure: str, slot: int, one: tuple, other: tuple) -> None:
        sides = {}
        for side, (cable, core, end) in (("a", one), ("b", other)):
            sides |= {f"{side}_cable": cable, f"{side}_core": core, f"{side}_end": self.said_end(cable, end)}
        method = self.rng.choice(("fusion", "mechanical", None))
        self.put("splices", enclosure=enclosure, tray=f"{slot // 4}/x", slot=str(slot), method=method, **sides)
        self.join((("core", *one), 1), (("core", *other), 1))

    def terminate(self, enclosure: str, port: tuple, one: tuple) -> None:
        cable, core, end = one
        self.put(
            "terminations", enclosure=enclosure, port=port[0], position=port[1], cable=cable, core=core,
            end=self.said_end(cable, end), method=self.rng.choice(("spliced pigtail", "field-fitted")),
        )  # fmt: skip
        self.join((("core", *one), 1), (("plug", enclosure, *port), 0))

    def make_equipment(self) -> None:
        self.faces: list[tuple[str, str, str]] = []
        for name in DEVICES[: self.shape["devices"]]:
            self.put("equipment", equipment=name, location=self.rng.choice((*LOCATIONS, None)))
            for n in range(1, self.rng.randint(1, 3) + 1):
                for position in ("TxRx",) if self.rng.random() < 0.4 else ("Tx", "Rx"):
                    self.put("interfaces", equipment=name, interface=f"g0/{n}", position=position)
                    self.faces.append((name, f"g0/{n}", position))

    def make_patches(self) -> None:
        fronts = [(e, *p) for e, ports in self.ports.items() for p in ports]
        made_off = [f for f in fronts if 0 in self.far[("plug", *f)]]
        self.rng.shuffle(made_off)
        plugs = [*self.faces, *made_off, *(f for f in fronts if f not in made_off)]
        strand = 0
        while plugs:
            one = plugs.pop(0)
            if self.rng.random() > self.shape["plug"]:
                continue
            strand += 1
            cord, which = f"K/{(strand + 1) // 2}", str(2 - strand % 2)
            ends = {"a_at": one[0], "a_port": one[1], "a_position": one[2]}
            if plugs and self.rng.random() < 0.85:
                # an interface is mostly plugged to a port that a core is made off on
                among = [p for p in plugs if p in made_off] or plugs
                other = self.rng.choice(among if self.rng.random() < 0.7 else plugs)
                plugs.remove(other)
                ends |= {"b_at": other[0], "b_port": other[1], "b_position": other[2]}
                self.join((("plug", *one), 1), (("plug", *other), 1))
            length_m = self.rng.choice((None, 2.0))
            self.put("patches", cord=cord, strand=which, length_m=length_m, **ends)

    def join(self, u: tuple, v: tuple) -> None:
        self.far[u[0]][u[1]] = v
        self.far[v[0]][v[1]] = u

    def out_of(self, face: tuple[str, str, str]) -> tuple:
        """Where the light of an interface comes out: only to make channels likely that are whole."""
        at, slot = ("plug", *face), 1
        while slot in self.far[at]:
            at, slot = self.far[at][slot]
            slot = 1 - slot
            if at[0] == "core" and slot == 0:
                at, slot = (*at[:3], "B" if at[3] == "A" else "A"), 1
        return at

    def make_channels(self) -> None:
        taken: set[tuple[str, str]] = set()
        pairs = [(f[:2], self.out_of(f)[1:3]) for f in self.faces]
        pairs += [(self.rng.choice(self.faces)[:2], self.rng.choice(self.faces)[:2]) for _ in self.faces]
        known = {f[:2] for f in self.faces}
        for a, b in pairs:
            if a != b and not {a, b} & taken and b in known and self.rng.random() < 0.7:
                taken |= {a, b}
                self.put(
                    "channels", channel=f"CH/{len(taken) // 2}", application="1000BASE-LX", a_equipment=a[0],
                    a_interface=a[1], b_equipment=b[0], b_interface=b[1],
                )  # fmt: skip

    def say_of_cores(self) -> None:
        for cable, (_, _, count, _) in self.cables.items():
            for core in range(1, count + 1):
                if self.rng.random() < self.shape["said"]:
                    said = self.rng.choice(({"condition": "faulty"}, {"reserved_for": "later"}, {"notes": "bent"}))
                    self.put("cores", cable=cable, core=core, **said)
