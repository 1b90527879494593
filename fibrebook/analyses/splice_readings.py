"""OTDR readings of joints: both ways averaged, gainers explained, the splicer's estimate beside what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.assemble import check_site, network
from fibrebook.analyses.firm import by_the_firm
from fibrebook.analyses.locate import Piece, error_m, otdr_start, pieces
from fibrebook.analyses.weights import Weights
from fibrebook.plant import Network
from fibrebook.plant.walk import Start
from fibrebook.records import to_frame
from fibrebook.records.ends import key_text

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SCHEMA = pa.schema(
    [
        ("site", pa.string()), ("kind", pa.string()), ("enclosure", pa.string()), ("name", pa.string()),
        ("wavelength_nm", pa.int32()), ("a_to_b_db", pa.float64()), ("b_to_a_db", pa.float64()),
        ("mean_db", pa.float64()), ("recorded_db", pa.float64()), ("recorded_basis", pa.string()),
        ("over_recorded_db", pa.float64()), ("note", pa.string()), ("tests", pa.string()),
    ]
)  # fmt: skip
GAINER = "a gainer: the fibre behind it sends more light back (smaller mode field); the other way reads too high"
ONE_WAY = "measured one way only: measure the other way and take the mean"
TRULY = "below nothing even as the mean of both ways: the markers were set wrongly, or the two shots are of two joints"
NOWHERE = "no joint of the records lies within the error of this distance"


@by_the_firm
def splice_readings(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Set the events of OTDR shots beside the joints of the records.

    Returns
    -------
    DataFrame, one row a joint and wavelength, then one an event of no joint: site, kind (splice, connection),
    enclosure, name (tray/slot, port/position), wavelength_nm, a_to_b_db, b_to_a_db (the newest reading each way),
    mean_db (of both, which is the joint's loss; blank where one is lacking), recorded_db, recorded_basis (of the
    splice's own record), over_recorded_db (mean less record), note (gainers and lacks, in words), tests.
    An event belongs to the nearest joint within the error that `locate` reckons with. The loss of a joint is the mean
    of the readings of both directions (common practice; IEC 61280-4-2).
    """
    if site is not None:
        check_site(reg, site)
    out: list[dict[str, Any]] = []
    for one in [site] if site is not None else _sites_with_events(reg):
        tables = reg.tables(one, ["tests", "events"])
        out += readings(network(reg, one), one, tables["tests"].to_pylist(), tables["events"].to_pylist())
    return to_frame(pa.Table.from_pylist(out, schema=SCHEMA))


def _sites_with_events(reg: Register) -> list[str]:
    there = set(reg.tables(names=["events"])["events"]["site"].to_pylist())
    return [s for s in reg.sites() if s in there]


def readings(
    net: Network, site: str, tests: list[dict[str, Any]], events: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """As `splice_readings`, as rows, from one site's network and records."""
    weights = Weights(net)
    by_test: dict[str, list[dict[str, Any]]] = {}
    for event in events:
        if event["loss_db"] is not None and event["distance_m"] is not None and event["what"] not in ("start", "end"):
            by_test.setdefault(event["test"], []).append(event)
    joints: dict[tuple[str, int, int], dict[str, Any]] = {}
    strays: list[dict[str, Any]] = []
    for test in sorted(tests, key=lambda t: str(t["tested_on"] or "")):
        start = _start(net, site, test)
        if test["test"] not in by_test or start is None:
            continue
        walk = pieces(net, weights, start)
        for event in by_test[test["test"]]:
            piece = _nearest(walk, float(event["distance_m"]))
            if piece is None:
                strays.append(_stray(site, test, event))
                continue
            key = (piece.kind, piece.row, int(test["wavelength_nm"] or 0))
            row = joints.setdefault(key, {"piece": piece, "tests": [], "nm": test["wavelength_nm"]})
            row[test["direction"] or "a to b"] = float(event["loss_db"])
            row["tests"].append(test["test"])
    return [_told(weights, site, row) for _, row in sorted(joints.items())] + strays


def _start(net: Network, site: str, test: dict[str, Any]) -> Start | None:
    """Where the light of a shot went in: the end that its direction says, of its ports or its core."""
    backward = test["direction"] == "b to a"
    end = "to" if backward else "from"
    if test[f"{end}_at"]:
        kind = "interface" if test[f"{end}_at"] in net.ends.table("equipment")["equipment"].to_pylist() else "port"
        return otdr_start(net, site, (kind, test[f"{end}_at"], test[f"{end}_port"], test[f"{end}_position"] or ""))
    if test["cable"] and test["core"]:
        return otdr_start(net, site, ("core", test["cable"], test["core"], "B" if backward else "A"))
    return None


def _nearest(walk: list[Piece], distance_m: float) -> Piece | None:
    joints = [p for p in walk if p.kind in ("splice", "connection")]
    near = [p for p in joints if abs(distance_m - p.ends_m) <= max(error_m(p, distance_m), 5.0)]
    return min(near, key=lambda p: abs(distance_m - p.ends_m), default=None)


def _told(weights: Weights, site: str, row: dict[str, Any]) -> dict[str, Any]:
    piece, out, back = row["piece"], row.get("a to b"), row.get("b to a")
    mean = None if out is None or back is None else (out + back) / 2.0
    recorded, basis = _recorded(weights, piece)
    note = ""
    if mean is not None and mean < 0:
        note = TRULY
    elif any(v is not None and v < 0 for v in (out, back)):
        note = GAINER
    if mean is None:
        note = f"{note}; {ONE_WAY}" if note else ONE_WAY
    return {
        "site": site, "kind": piece.kind, "enclosure": piece.at, "name": piece.name, "wavelength_nm": row["nm"],
        "a_to_b_db": out, "b_to_a_db": back, "mean_db": mean, "recorded_db": recorded, "recorded_basis": basis,
        "over_recorded_db": None if mean is None or recorded is None else mean - recorded, "note": note,
        "tests": ", ".join(dict.fromkeys(row["tests"])),
    }  # fmt: skip


def _recorded(weights: Weights, piece: Piece) -> tuple[float | None, str | None]:
    """The loss a splice's own record holds, or the pigtail splice's at a port."""
    e = weights.net.ends
    if piece.kind == "splice":
        table, row = e.table("splices"), piece.row
    else:
        made = np.flatnonzero(e.termination_ports[0] == e.first_plug + piece.row)
        if not len(made):
            return None, None
        table, row = e.table("terminations"), int(made[0])
    return table["loss_db"][row].as_py(), table["loss_basis"][row].as_py()


def _stray(site: str, test: dict[str, Any], event: dict[str, Any]) -> dict[str, Any]:
    backward = test["direction"] == "b to a"
    return {
        "site": site, "kind": event["what"] or "event", "enclosure": None, "name": key_text(event, ("test", "event")),
        "wavelength_nm": test["wavelength_nm"], "b_to_a_db" if backward else "a_to_b_db": event["loss_db"],
        "note": f"{NOWHERE}: {event['distance_m']:g} m", "tests": test["test"],
    }  # fmt: skip
