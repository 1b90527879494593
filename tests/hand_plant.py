"""A small plant of one site, written down the way one would say it."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from plants import tables_of

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.analyses.spare.spare import fibre_groups
from fibrebook.plant.strands import free_strands, places_of, spare_strands
from fibrebook.plant.strands_that_fit import strands_that_fit
from fibrebook.records.rules.check import check
from fibrebook.snapshot.snapshot import PlantSnapshot


class Plant:
    """One site's rows, written the way one would say them."""

    def __init__(self, site="S1"):
        self.site, self.rows = site, defaultdict(list)
        self.put("sites")

    def put(self, kind, /, **row):
        """Add a row of any kind."""
        self.rows[kind].append({"site": self.site, **row})
        return self

    def panel(self, name, ports=4, location=None, kind="rack panel", positions=("A", "B")):
        """An enclosure with duplex (or simplex) adaptors numbered from 1."""
        if location and not any(r["location"] == location for r in self.rows["locations"]):
            self.put("locations", location=location)
        self.put("enclosures", enclosure=name, location=location, kind=kind)
        for n in range(1, ports + 1):
            for p in positions:
                self.put("ports", enclosure=name, port=str(n), position=p)
        return self

    def cable(self, name, a, b, cores=4, **more):
        """A cable from enclosure a to b."""
        more = {"fibre_class": "OS2", "length_m": 100.0, **more}
        return self.put("cables", cable=name, a_enclosure=a, b_enclosure=b, core_count=cores, **more)

    def make_off(self, enclosure, port, cable, core, end=None):
        """Make a core off on a port such as "1A"."""
        return self.put(
            "terminations", enclosure=enclosure, port=port.rstrip("AB"), position=port.lstrip("0123456789"),
            cable=cable, core=core, end=end, method="spliced pigtail",
        )  # fmt: skip

    def splice(self, enclosure, one, other, a_end=None, b_end=None, **more):
        """Splice ("C1", 1) to ("C2", 1)."""
        return self.put(
            "splices", enclosure=enclosure, tray="1", slot=str(len(self.rows["splices"]) + 1), a_cable=one[0],
            a_core=one[1], a_end=a_end, b_cable=other[0], b_core=other[1], b_end=b_end, **more,
        )  # fmt: skip

    def switch(self, name, *interfaces, positions=("Tx", "Rx")):
        """Equipment with interfaces of these positions."""
        self.put("equipment", equipment=name)
        for i in interfaces:
            for p in positions:
                self.put("interfaces", equipment=name, interface=i, position=p)
        return self

    def cord(self, a, b=("", "", "")):
        """One strand, from (at, port, position) to the same or to nowhere."""
        n = len(self.rows["patches"]) + 1
        columns = [f"{side}_{what}" for side in "ab" for what in ("at", "port", "position")]
        return self.put("patches", cord=f"K{n}", strand="1", **dict(zip(columns, (*a, *b), strict=True)))

    def channel(self, name, a, b):
        """A channel between two (equipment, interface)."""
        return self.put(
            "channels", channel=name, a_equipment=a[0], a_interface=a[1], b_equipment=b[0], b_interface=b[1],
            application="1000BASE-LX",
        )  # fmt: skip

    @property
    def tables(self):
        """Full tables, after making sure that the plant may stand in a register."""
        tables = tables_of(self.rows)
        assert not check(tables), list(map(str, check(tables)))
        return tables

    @property
    def seen(self):
        """The plant as a snapshot."""
        return PlantSnapshot(self.tables)

    @property
    def net(self):
        """The plant as a network."""
        return self.seen.network

    def cores(self):
        """The cross reference as {(cable, core): row}."""
        return {(r["cable"], r["core"]): r for r in cross_reference_table(self.seen).to_pylist()}

    def trace(self, *start):
        """The trace as (kind, at, name)."""
        return [(r["kind"], r["at"], r["name"]) for r in trace_table(self.seen, self.site, start).to_pylist()]

    def between(self, here, there):
        """Strands by level."""
        net = self.net
        found = spare_strands(net, here, there, fibre_groups(net.ends.table("cables")["fibre_class"]))
        return {level: (n, binding) for level, n, binding in found}

    def fit(self, here, there):
        """Strands that the free ports take, and what stops there being more."""
        net = self.net
        classes = [fibre_groups(net.ends.table(kind)["fibre_class"]) for kind in ("cables", "ports")]
        return strands_that_fit(net, places_of(net, here, there), free_strands(net), *classes)

    def advice(self):
        """Advice as (check, record), on a fixed day."""
        return [(a.check, a.record) for a in all_advice(Situation(PlantSnapshot(self.tables, dt.date(2026, 11, 20))))]
