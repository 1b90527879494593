"""One loss for every teller: whoever tells what a path loses tells the same, to 1e-9 dB.

Random plants with unlike cores that meet, classes mixed on one path, lengths and classes that nobody recorded.
"""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pyarrow as pa
import pytest
from hand_plant import Plant
from light_plant import duplex, register
from lit_plants import lit_plant, lit_tests
from plants import tables_of
from pytest import approx

import fibrebook
from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.analyses.budgets.loss_spread import spread_table
from fibrebook.analyses.budgets.room_for import room_table
from fibrebook.analyses.budgets.what_if import what_if_table
from fibrebook.analyses.budgets.would_run import would_run_table
from fibrebook.analyses.paths.contributions import contributions_table
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.analyses.tested.acceptance import acceptance_table
from fibrebook.drawings import path_picture
from fibrebook.light.catalogue import application_name
from fibrebook.light.catalogue.values import Values
from fibrebook.losses.table import LossTable
from fibrebook.losses.tested_stretches import Spans
from fibrebook.plant import Network
from fibrebook.plant.walk import Start, path_through
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.snapshot import PlantSnapshot

EQUAL = {"abs": 1e-9, "rel": 0}
PLANTS = [n if n < 20 else pytest.param(n, marks=pytest.mark.long) for n in range(60)]


@cache
def seen_of(number: int) -> PlantSnapshot:
    """A random plant, every second one with many of its paths tested."""
    rows = lit_plant(number, sites=1)
    more = lit_tests(rows, number) if number % 2 else []
    return PlantSnapshot(tables_of(rows | {"tests": rows.get("tests", []) + more}))


def known_sum(column: pa.ChunkedArray) -> float:
    """Sum of what is known."""
    return float(np.nansum(np.array(column.to_pylist(), np.float64)))


def start_of(net: Network, label: int, outward: bool) -> Start:
    """The start from which a path is told in one direction: away from the vertex that is its label, or to it."""
    far = int(net.paths.final[2 * label]) >> 1
    slot = 0 if (far == label) == outward else 1
    return Start(label, slot, "")


@pytest.mark.parametrize("number", PLANTS)
def test_of_paths_is_the_sum_of_along(number):
    """Every path, both ways, two wavelengths: the array sums are those of its elements, by basis and in all."""
    seen = seen_of(number)
    net = seen.network
    table = seen.losses
    label = np.unique(net.paths.label)
    for outward in (True, False):
        for nm in (850.0, 1310.0):
            found = table.of_paths(label, np.full(len(label), outward), np.full(len(label), nm))
            stretch = table.of_stretches(
                *stretches(table, label), np.full(len(label), outward), np.full(len(label), nm)
            )
            records = table.by_records(label, np.full(len(label), outward), np.full(len(label), nm))
            untested = np.setdiff1d(np.arange(len(label)), found.tests.beam if found.tests else [])
            assert found.by_basis_db[untested] == approx(records.by_basis_db[untested], **EQUAL)
            for i, one in enumerate(label.tolist()):
                steps = path_through(net, start_of(net, one, outward))
                loop = bool(net.paths.loops[one])
                if not loop:
                    assert steps[0 if outward else -1].vertex == one
                parts = [p for p in table.along(steps, nm) if not (loop and p.kind == "mismatch")]
                for basis in range(3):
                    told = sum(p.loss_db for p in parts if p.basis == basis and p.loss_db == p.loss_db)
                    assert told == approx(found.by_basis_db[i, basis], **EQUAL)
                    if not loop:
                        assert records.by_basis_db[i, basis] == approx(stretch.by_basis_db[i, basis], **EQUAL)
                mismatch = sum(p.loss_db for p in parts if p.kind == "mismatch")
                assert mismatch == approx(found.mismatch_db[i], **EQUAL)
                assert any(p.lacks for p in parts) == found.at_least[i]
            words = table.not_known(label, np.full(len(label), nm), found)
            assert [bool(w) for w in words] == found.at_least.tolist()


def stretches(table: LossTable, label: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First and last place of whole paths."""
    ends = [table.strung.run(int(one)) for one in label]
    return np.array([a for a, _ in ends], np.int64), np.array([b for _, b in ends], np.int64)


@pytest.mark.parametrize("number", PLANTS)
def test_every_teller_tells_the_loss_of_headroom(number):
    """trace, which's path, its picture, contributions, what_if, loss_spread, room_for and would_run, beam by beam."""
    seen = seen_of(number)
    net = seen.network
    site = net.ends.table("sites")["site"][0].as_py()
    table = headroom_table(seen)
    assert spread_table(seen)["worst_db"].to_pylist() == approx(table["loss_db"].to_pylist(), nan_ok=True, **EQUAL)
    rooms = {r["channel"]: r for r in room_table(seen).to_pylist()}
    for row in table.to_pylist():
        if row["loss_db"] != row["loss_db"]:  # the light does not arrive: there is no loss to tell
            continue
        begin = sender_of(net, row)
        parts = contributions_table(seen, begin, row["wavelength_nm"])
        assert known_sum(parts["loss_db"]) == approx(row["loss_db"], **EQUAL)
        told = trace_table(seen, site, interface_of(net, begin), row["wavelength_nm"])
        assert known_sum(told["loss_db"]) == approx(row["loss_db"], **EQUAL)
        at_least, drawn_db = re.search(r" m, (at least )?([\d.-]+) dB at", path_picture(told).svg).groups()
        assert (bool(at_least), float(drawn_db)) == (bool(row["not_known"]), approx(row["loss_db"], abs=0.0051))
        as_it_is = what_if_table(seen, site, row["channel"])
        mine = [r for r in as_it_is.to_pylist() if all(r[c] == row[c] for c in ("direction", "wavelength_nm"))]
        assert [(r["loss_db"], r["headroom_db"]) for r in mine] == [
            approx((row["loss_db"], row["headroom_db"]), nan_ok=True, **EQUAL)
        ]
        least = min((r["headroom_db"] for r in as_it_is.to_pylist()), key=lambda x: -np.inf if x != x else x)
        assert rooms[row["channel"]]["headroom_db"] == approx(least, nan_ok=True, **EQUAL)
        name = application_name(row["application"])
        if name:
            run = {r["application"]: r for r in would_run_table(seen, [begin.vertex]).to_pylist()}[name]
            label, losses = net.paths.label[[begin.vertex] * 2], seen.losses
            both = losses.of_paths(label, np.array([True, False]), np.full(2, run["wavelength_nm"])).loss_db
            assert any(run["loss_db"] == approx(db + losses.to_finish(int(label[0]))[0], **EQUAL) for db in both)


def sender_of(net: Network, row: dict) -> Start:
    """The start at the interface that sends a beam."""
    return Names(net).start(row["site"], ("channel", row["channel"], row["direction"]), ("channel",))


def interface_of(net: Network, begin: Start) -> tuple:
    """A start of trace at an interface's vertex."""
    row = net.ends.table("interfaces").slice(begin.vertex - net.first_interface, 1).to_pylist()[0]
    return ("interface", row["equipment"], row["interface"], row["position"])


@pytest.mark.parametrize("number", PLANTS)
def test_acceptance_reckons_with_the_same_fibre(number):
    """The fibre in a test's limit is that of the table's stretch; what the table lacks, the limit lacks."""
    seen = seen_of(number)
    net = seen.network
    tests = net.tables["tests"]
    tests = tests.filter(pa.array([m == "loss test" for m in tests["method"].to_pylist()], pa.bool_()))
    spans, table = Spans(seen.losses, tests), seen.losses
    known = np.flatnonzero(spans.known)
    nm = np.array([np.nan if v is None else v for v in tests["wavelength_nm"].to_pylist()], np.float64)[known]
    first, last = (p[known] for p in spans.places)
    found = table.of_stretches(first, last, spans.forward[known], nm)
    limits = acceptance_table(seen)["fibre_db"].to_numpy()[known]
    lacks = found.no_length | found.no_attenuation
    assert limits == approx(np.where(lacks, np.nan, found.fibre_db), nan_ok=True, **EQUAL)


def test_unlike_cores_lose_the_same_for_everybody(tmp_path):
    """OM1 spliced to OM3 loses 4.70 dB more one way (Senior, ch. 5); trace and which tell it at the splice."""
    plant = duplex("1000BASE-SX", via=[("OM1", 100.0), ("OM3", 100.0)])
    reg = register(plant, tmp_path / "r")
    worst = fibrebook.headroom(reg).set_index("direction")["loss_db"]
    there = fibrebook.trace(reg, "S1", ("interface", "SW1", "1", "Tx"))
    back = fibrebook.trace(reg, "S1", ("interface", "SW2", "1", "Tx"))
    assert there["loss_db"].sum() == approx(worst["a to b"]) and back["loss_db"].sum() == approx(worst["b to a"])
    assert worst["a to b"] - worst["b to a"] == approx(4.704, abs=5e-4)
    assert there.loc[there["kind"] == "splice", "loss_db"].item() == approx(0.3 + 4.704, abs=5e-4)


def test_a_total_that_lacks_something_is_at_least(tmp_path):
    """A cable without length and one without class: everyone tells the rest, and names what is not known."""
    plant = duplex("10GBASE-LR", via=[("OS2", float("nan")), ("OS2", 500.0), (None, 200.0)])
    reg = register(plant, tmp_path / "r")
    row = fibrebook.headroom(reg).iloc[0]
    assert row["not_known"] == "length of C1; fibre class of C3"
    assert row["loss_db"] == approx(0.2 + 4 * 0.3 + 2 * 0.75)  # 500 m of OS2, two pigtails, two splices, two pairs
    assert np.isnan(row["headroom_db"])
    parts = fibrebook.contributions(reg, "S1", ("channel", "CH1"))
    assert parts["sum_db"].iloc[-1] == approx(row["loss_db"])
    assert set(parts.loc[parts["loss_db"].isna(), "reckoning"]) == {
        "not known: it has no length", "not known: it has no fibre class"
    }  # fmt: skip
    assert "at least 2.90 dB" in path_picture(fibrebook.trace(reg, "S1", ("core", "C1", 1))).svg
    run = fibrebook.would_run(reg, "S1", ("channel", "CH1")).set_index("application").loc["10GBASE-LR"]
    assert (run["not_known"], run["runs"]) == (row["not_known"], "not known")


def test_a_loss_is_looked_up_by_arrays(monkeypatch):
    """What runs over a path is asked of the published values in a few calls, not one for each element or application."""
    calls = []
    for name in ("limits", "powers"):
        real = getattr(Values, name)
        monkeypatch.setattr(Values, name, lambda *a, real=real, **k: calls.append(1) or real(*a, **k))
    seen = duplex("10GBASE-LR", splices=3).seen
    would_run_table(seen, [seen.network.first_interface])
    assert len(calls) == 3  # limits and powers of the whole table, and the powers of what is tried


def test_a_bare_plant_has_no_losses():
    """No cable, no joint: the table is empty and answers."""
    seen = Plant().panel("P1", 2).seen
    label = np.unique(seen.network.paths.label)
    found = seen.losses.of_paths(label, np.ones(len(label), bool), np.full(len(label), 1310.0))
    assert found.loss_db.tolist() == [0.0] * 4
