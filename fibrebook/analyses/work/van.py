"""What the van must hold: counted from what is open at a site."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.tested.failed import failed_table
from fibrebook.analyses.tested.untested import untested_table
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.plant import Network
    from fibrebook.register import Register

Row = dict[str, Any]
VAN = pa.schema([("site", pa.string()), ("count", pa.int64()), *((n, pa.string()) for n in ("item", "at", "why"))])
UNKNOWN = "connector not known"


def van_list(reg: Register, site: str) -> pd.DataFrame:
    """Tell what a visit to a site needs that would finish what is open there.

    Half-terminated cores need a pigtail and a splice protector each at the end that is not made off (connector, polish
    and class as the panel there mostly has); each temporary cord a cord to stay; what was never tested, or failed, the
    instruments. What the van holds already is not known and not taken off. Which tool goes with which task is common
    practice, no source.

    Parameters
    ----------
    site : label of the site

    Returns
    -------
    DataFrame, one row an item: site, count (pieces), item, at (enclosure, cable or cord), why.

    Raises
    ------
    NotFoundError : there is no such site; the message names the nearest
    """
    seen = PlantSnapshot.of(reg, site)
    net = seen.network
    rows = [
        *_pigtails(seen),
        *_cords(net),
        *_instruments(seen),
    ]
    return to_frame(pa.Table.from_pylist([{"site": site} | row for row in rows], schema=VAN))


def _pigtails(seen: PlantSnapshot) -> list[Row]:
    net, cores = seen.network, cross_reference_table(seen)
    classes = dict(zip(*(net.ends.table("cables")[c].to_pylist() for c in ("cable", "fibre_class")), strict=True))
    usual = _usual_connector(net)
    open_ends: Counter[tuple[str, str]] = Counter()
    for core in cores.filter(pa.compute.equal(cores["state"], "half-terminated")).to_pylist():
        end = "a" if not core["a_port"] and core["a_reaches_kind"] == "core end" else "b"
        open_ends[core[f"{end}_enclosure"] or "", core["cable"]] += 1
    rows = []
    for (enclosure, cable), count in sorted(open_ends.items()):
        sort = ", ".join(p for p in (usual.get(enclosure, UNKNOWN), classes.get(cable) or "fibre class not known") if p)
        rows.append(
            {"count": count, "item": f"pigtail {sort}", "at": enclosure, "why": f"half-terminated cores of {cable}"}
        )
    if open_ends:
        rows.append({"count": sum(open_ends.values()), "item": "splice protector", "at": "", "why": "one a pigtail"})
    return rows


def _usual_connector(net: Network) -> dict[str, str]:
    """What most ports of each enclosure have: ``LC/UPC``."""
    ports = net.ends.table("ports").select(["enclosure", "connector", "polish"]).to_pylist()
    counted: dict[str, Counter[str]] = {}
    for port in ports:
        name = "/".join(p for p in (port["connector"], port["polish"]) if p)
        if name:
            counted.setdefault(port["enclosure"], Counter())[name] += 1
    return {enclosure: found.most_common(1)[0][0] for enclosure, found in counted.items()}


def _cords(net: Network) -> list[Row]:
    usual, told = _usual_connector(net), {}
    for patch in net.ends.table("patches").to_pylist():
        if patch["temporary"]:
            ends = [usual.get(patch[at] or "", "") for at in ("a_at", "b_at")]
            sort = " to ".join(e for e in ends if e) or UNKNOWN
            length = f", {patch['length_m']:g} m" if patch["length_m"] else ""
            told[patch["cord"]] = {
                "count": 1, "item": f"cord {sort}{length}", "at": f"{patch['a_at']} to {patch['b_at']}",
                "why": f"temporary cord {patch['cord']}",
            }  # fmt: skip
    return list(told.values())


def _instruments(seen: PlantSnapshot) -> list[Row]:
    left, failed = untested_table(seen).num_rows, failed_table(seen).num_rows
    rows = []
    if left:
        rows.append({"count": 1, "item": "light source and power meter with reference cords", "at": "",
                     "why": f"{left} channel(s) or core(s) to be tested"})  # fmt: skip
    if failed:
        rows.append({"count": 1, "item": "OTDR, inspection microscope and cleaning kit", "at": "",
                     "why": f"{failed} failed test(s), and none since"})  # fmt: skip
    return rows
