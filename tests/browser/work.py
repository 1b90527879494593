"""A small register for the browser tests: a closure between two panels, nothing joined yet."""

from __future__ import annotations

from pathlib import Path

import fibrebook


def make_small(where: Path) -> fibrebook.Register:
    """Make a register of one site: cables C1 (P1 to J1) and C2 (J1 to P2), 12 cores each, ports free, nothing joined."""
    reg = fibrebook.create(where, name="Small")
    ports = [
        {"site": "Mill", "enclosure": e, "port": str(n), "position": p, "connector": "LC", "polish": "UPC"}
        for e in ("P1", "P2")
        for n in range(1, 7)
        for p in "AB"
    ]
    cable = {"site": "Mill", "core_count": 12, "fibre_class": "OS2", "length_m": 120}
    with reg.edit(by="AB", why="the site as found") as edit:
        edit.put("sites", [{"site": "Mill", "name": "Old mill"}, {"site": "Farm"}])
        edit.put("locations", [{"site": "Mill", "location": x} for x in ("Office", "Yard", "Store")])
        edit.put(
            "enclosures",
            [
                {"site": "Mill", "enclosure": "J1", "location": "Yard", "kind": "joint closure"},
                {"site": "Mill", "enclosure": "P1", "location": "Office", "kind": "rack panel"},
                {"site": "Mill", "enclosure": "P2", "location": "Store", "kind": "wall box"},
            ],
        )
        edit.put("ports", ports)
        edit.put(
            "cables",
            [
                {**cable, "cable": "C1", "a_enclosure": "P1", "b_enclosure": "J1"},
                {**cable, "cable": "C2", "a_enclosure": "J1", "b_enclosure": "P2"},
            ],
        )
        edit.put("equipment", [{"site": "Mill", "equipment": e} for e in ("SW1", "SW2")])
        edit.put(
            "interfaces",
            [
                {"site": "Mill", "equipment": e, "interface": "1", "position": p, "application": "1000BASE-LX"}
                for e in ("SW1", "SW2")
                for p in ("Tx", "Rx")
            ],
        )
        edit.put("snags", [{"site": "Mill", "snag": "S1", "what": "lid missing", "found_on": "2026-01-05"}])
    return reg
