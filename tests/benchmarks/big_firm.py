"""A made-up firm of any size, as rows: for benchmarks only. Deterministic; text labels as engineers write them.

Each site is a random tree of nine rooms joined by eight cables (95 in 100 of 12 cores, the rest of 24), six cores in
ten made off at both ends on duplex ports, the rest spliced on where two cables meet or left dark; about a third of the
adaptors patched to equipment, the interfaces paired off into channels.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np

Rows = dict[str, list[dict[str, Any]]]
CABLES = 8


def firm(sites: int, seed: int = 7) -> Rows:
    """Return the rows of all sites, by table."""
    rows: Rows = defaultdict(list)
    rng = np.random.default_rng(seed)
    for number in range(sites):
        _site(rows, rng, f"S{number:05d}")
    return dict(rows)


def _site(rows: Rows, rng: np.random.Generator, site: str) -> None:
    rows["sites"].append({"site": site, "name": f"Site {site}"})
    for room in range(CABLES + 1):
        rows["locations"].append({"site": site, "location": f"R{room}"})
        rows["enclosures"].append({"site": site, "enclosure": f"P{room}", "location": f"R{room}", "kind": "rack panel"})
        rows["equipment"].append({"site": site, "equipment": f"SW{room}", "location": f"R{room}", "kind": "switch"})
    used: dict[int, int] = defaultdict(int)
    open_ends: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for i in range(CABLES):
        _cable(rows, rng, site, i, used, open_ends)
    for room, ends in open_ends.items():
        _splices(rows, rng, site, room, ends)
    _patches(rows, rng, site, used)


def _cable(
    rows: Rows,
    rng: np.random.Generator,
    site: str,
    i: int,
    used: dict[int, int],
    open_ends: dict[int, list[tuple[str, int]]],
) -> None:
    near, far, cores = int(rng.integers(0, i + 1)), i + 1, 24 if rng.random() < 0.05 else 12
    cable = f"C{i + 1}"
    rows["cables"].append(
        {
            "site": site, "cable": cable, "a_enclosure": f"P{near}", "b_enclosure": f"P{far}", "core_count": cores,
            "cores_per_tube": 12, "fibre_class": "OS2", "length_m": float(rng.integers(20, 2000)),
        }
    )  # fmt: skip
    for core in range(1, cores + 1):
        for room in (near, far):
            if rng.random() < 0.6:
                used[room] += 1
                _make_off(rows, rng, site, room, used[room], cable, core)
            else:
                open_ends[room].append((cable, core))


def _make_off(rows: Rows, rng: np.random.Generator, site: str, room: int, place: int, cable: str, core: int) -> None:
    port = {"site": site, "enclosure": f"P{room}", "port": str((place + 1) // 2), "position": "BA"[place % 2]}
    rows["ports"].append({**port, "connector": "LC", "polish": "UPC", "fibre_class": "OS2"})
    loss = {"method": "spliced pigtail", "loss_db": round(rng.uniform(0.02, 0.1), 3), "loss_basis": "estimated"}
    rows["terminations"].append({**port, "cable": cable, "core": core, **loss})


def _splices(rows: Rows, rng: np.random.Generator, site: str, room: int, ends: list[tuple[str, int]]) -> None:
    ends = sorted(ends, key=lambda e: (e[1], e[0]))
    slot = 0
    for (cable, core), (other, its) in zip(ends[::2], ends[1::2], strict=False):
        if cable != other and rng.random() < 0.7:
            slot += 1
            rows["splices"].append(
                {
                    "site": site, "enclosure": f"P{room}", "tray": str(1 + slot // 12), "slot": str(1 + slot % 12),
                    "a_cable": cable, "a_core": core, "b_cable": other, "b_core": its, "method": "fusion",
                    "loss_db": 0.05, "loss_basis": "estimated",
                }
            )  # fmt: skip


def _patches(rows: Rows, rng: np.random.Generator, site: str, used: dict[int, int]) -> None:
    interfaces = []
    for room, count in used.items():
        for port in range(1, count // 2 + 1):
            if rng.random() < 0.35:
                face = {"site": site, "equipment": f"SW{room}", "interface": str(port)}
                interfaces.append(face)
                for strand, (position, way) in enumerate((("A", "Tx"), ("B", "Rx")), 1):
                    rows["interfaces"].append({**face, "position": way, "application": "1000BASE-LX"})
                    rows["patches"].append(
                        {
                            "site": site, "cord": f"K{room}-{port}", "strand": str(strand), "a_at": f"P{room}",
                            "a_port": str(port), "a_position": position, "b_at": f"SW{room}", "b_port": str(port),
                            "b_position": way, "length_m": 2.0,
                        }
                    )  # fmt: skip
    for number, (a, b) in enumerate(zip(interfaces[::2], interfaces[1::2], strict=False), 1):
        rows["channels"].append(
            {
                "site": site, "channel": f"CH{number}", "application": "1000BASE-LX", "a_equipment": a["equipment"],
                "a_interface": a["interface"], "b_equipment": b["equipment"], "b_interface": b["interface"],
            }
        )  # fmt: skip
