"""OTDR events set beside the joints of the records: the whole-table answer against a plain loop over the events."""

from __future__ import annotations

import datetime as dt

import hypothesis.strategies as st
import pytest
from hand_plant import Plant
from hypothesis import given, settings
from plants import tables_of
from pytest import approx

from fibrebook.analyses.tested.locate import Walks, error_m, otdr_start
from fibrebook.analyses.tested.splice_readings import GAINER, ONE_WAY, SCHEMA, TRULY, readings
from fibrebook.errors import NotFoundError
from fibrebook.light.catalogue.values import Values
from fibrebook.losses.elements import Elements
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.snapshot import PlantSnapshot


def line():
    """P1 - J1 - J2 - P2, two cores made off and spliced through; P1's port 2 is joined to P3's by a cord."""
    plant = Plant().panel("P1", positions=("",)).panel("P2", positions=("",)).panel("P3", positions=("",))
    plant.panel("J1", 0, kind="joint closure").panel("J2", 0, kind="joint closure")
    for name, a, b, metres in (("C1", "P1", "J1", 2000), ("C2", "J1", "J2", 3000), ("C3", "J2", "P2", 4000)):
        plant.cable(name, a, b, length_m=metres, length_basis="measured" if name == "C1" else "marked")
    plant.cable("C4", "P3", "P2", length_m=1500)
    for core in (1, 2):
        plant.make_off("P1", str(core), "C1", core).make_off("P2", str(core), "C3", core)
        plant.splice("J1", ("C1", core), ("C2", core), loss_db=0.05 * core, loss_basis="estimated")
        plant.splice("J2", ("C2", core), ("C3", core))
    plant.make_off("P3", "1", "C4", 1).rows["terminations"][-1] |= {"loss_db": 0.2, "loss_basis": "measured"}
    return plant.cord(("P1", "2", ""), ("P3", "1", ""))


SOURCES = st.sampled_from(
    (
        {"from_at": "P1", "from_port": "1", "to_at": "P2", "to_port": "1"},
        {"from_at": "P1", "from_port": "2", "to_at": "P2", "to_port": "2"},
        {"cable": "C2", "core": 1},
        {"cable": "C1", "core": 2},
        {"cable": "C4", "core": 1},
        {},
    )
)
TESTS = st.lists(
    st.tuples(
        SOURCES,
        st.sampled_from(("a to b", "b to a", None)),
        st.sampled_from((1310, 1550, None)),
        st.none() | st.dates(dt.date(2026, 1, 1), dt.date(2026, 1, 5)),
    ),
    max_size=8,
)
DISTANCE = st.none() | st.sampled_from((0.0, 1500.0, 1995.0, 2004.0, 2009.0, 5045.0, 5055.0, 7000.0))
LOSS = st.none() | st.sampled_from((-0.06, 0.0, 0.04)) | st.floats(-1, 1)
WHAT = st.sampled_from((None, "splice", "gainer", "connection", "start", "end"))
EVENTS = st.lists(st.tuples(st.integers(0, 7), DISTANCE, LOSS, WHAT), max_size=25)


def by_plain_loop(net, tests, events):
    """Joints as {(kind, enclosure, name, nm): [a to b, b to a, tests]} and strays as [(name, backward)]."""
    walks, joints, strays = Walks(net, Elements(net, Values.published())), {}, []
    for test in sorted(tests, key=lambda t: str(t["tested_on"] or "")):
        backward = test["direction"] == "b to a"
        end = "to" if backward else "from"
        if test[f"{end}_at"]:
            start = ("port", test[f"{end}_at"], test[f"{end}_port"], test[f"{end}_position"] or "")
        elif test["cable"]:
            start = ("core", test["cable"], test["core"], "B" if backward else "A")
        else:
            continue
        way = [p for p in walks.pieces(otdr_start(Names(net), "S1", start)) if p.kind in ("splice", "connection")]
        for event in events:
            read = event["loss_db"], event["distance_m"]
            if event["test"] != test["test"] or None in read or event["what"] in ("start", "end"):
                continue
            loss, metres = read
            near = [p for p in way if abs(metres - p.ends_m) <= max(error_m(Values.published(), p, metres), 5.0)]
            if not near:
                strays.append((f"{event['test']}/{event['event']}", backward))
                continue
            p = min(near, key=lambda p: abs(metres - p.ends_m))
            row = joints.setdefault((p.kind, p.at, p.name, test["wavelength_nm"]), [None, None, []])
            row[backward] = loss
            row[2] += [test["test"]] if test["test"] not in row[2] else []
    return joints, strays


@settings(max_examples=30, deadline=None)
@given(TESTS, EVENTS)
def test_the_whole_table_tells_what_a_plain_loop_tells(tests, events):
    """Newest readings each way, their mean, notes, tests and strays are those found event by event."""
    rows = {
        "tests": [
            {"site": "S1", "test": f"T{i}", **where, "direction": way, "wavelength_nm": nm, "tested_on": day}
            for i, (where, way, nm, day) in enumerate(tests)
        ],
        "events": [
            {"site": "S1", "test": f"T{t}", "event": str(i), "distance_m": metres, "loss_db": loss, "what": what}
            for i, (t, metres, loss, what) in enumerate(events)
        ],
    }
    net, tables = line().net, tables_of(rows, coded=True)
    found = readings(PlantSnapshot(line().tables | {k: tables[k] for k in ("tests", "events")}), "S1")
    assert found.schema == SCHEMA
    joints, strays = by_plain_loop(net, tables["tests"].to_pylist(), tables["events"].to_pylist())
    told = found.to_pylist()
    at = len(joints)
    assert [(r["name"], r["a_to_b_db"] is None) for r in told[at:]] == strays
    seen = {(r["kind"], r["enclosure"], r["name"], r["wavelength_nm"]): r for r in told[:at]}
    assert seen.keys() == joints.keys()
    assert [r["kind"] for r in told[:at]] == sorted(r["kind"] for r in told[:at])
    for key, (out, back, names) in joints.items():
        row = seen[key]
        assert (row["a_to_b_db"], row["b_to_a_db"], row["tests"]) == (out, back, ", ".join(names))
        both = out is not None and back is not None
        assert row["mean_db"] == (approx((out + back) / 2, abs=1e-12) if both else None)
        gain = any(v is not None and v < 0 for v in (out, back))
        one_way = f"{GAINER}; {ONE_WAY}" if gain else ONE_WAY
        assert row["note"] == ((TRULY if out + back < 0 else GAINER if gain else "") if both else one_way)


def test_the_newest_reading_counts_and_tests_are_named_oldest_first():
    """Of two shots the same way the later day's loss stands, whichever is written first; undated ones are oldest."""
    plant = line()
    days = {"new": dt.date(2026, 3, 2), "undated": None, "old": dt.date(2026, 3, 1)}
    for i, (test, day) in enumerate(days.items()):
        plant.put("tests", test=test, cable="C1", core=1, direction="a to b", wavelength_nm=1550, tested_on=day)
        plant.put("events", test=test, event="1", distance_m=2000.0, loss_db=0.1 * (i + 1))
    tables = plant.tables
    (row,) = readings(PlantSnapshot(tables), "S1").to_pylist()
    assert (row["a_to_b_db"], row["tests"]) == (0.1, "undated, old, new")


def test_what_the_record_says_stands_beside_the_reading():
    """A splice's own loss, and at a port the loss of the pigtail made off there; nothing where nothing is recorded."""
    plant = line()
    plant.put("tests", test="T", from_at="P1", from_port="1", to_at="P2", to_port="1", direction="a to b")
    plant.put("tests", test="U", cable="C4", core=1, direction="b to a")
    for test, event, metres in (("T", "1", 2000), ("T", "2", 5045), ("U", "3", 1522)):
        plant.put("events", test=test, event=event, distance_m=float(metres), loss_db=0.1)
    tables = plant.tables
    found = readings(PlantSnapshot(tables), "S1").to_pylist()
    told = {(r["kind"], r["enclosure"]): (r["recorded_db"], r["recorded_basis"]) for r in found}
    assert told["splice", "J1"] == (0.05, "estimated")
    assert told["splice", "J2"] == (None, None)
    assert told["connection", "P3"] == (0.2, "measured")


def test_a_shot_from_nowhere_names_what_is_there():
    """A test whose port is not in the records says so and what is."""
    tables = line().tables
    shot = [{"site": "S1", "test": "T", "from_at": "P1", "from_port": "9"}]
    event = [{"site": "S1", "test": "T", "event": "1", "distance_m": 1.0, "loss_db": 0.1}]
    given = tables_of({"tests": shot, "events": event})
    with pytest.raises(NotFoundError, match="P1/9"):
        readings(PlantSnapshot(tables | {k: given[k] for k in ("tests", "events")}), "S1")
