"""A loss test counts: what it found takes the place of what the records say of its stretch, and of nothing else.

How many end connections a reference method leaves in a reading: two with one cord, one with two, none with three
(IEC 61280-4-1 and -4-2, ISO/IEC 14763-3; from memory, as in `ENDS_COUNTED`). A connection 0.75 dB, a splice 0.3 dB,
OS2 0.4 dB/km, OM3 3.5 and 1.5 dB/km (ISO/IEC 11801-1, as in the reference tables). The sums are worked by hand.
"""

from __future__ import annotations

import datetime as dt
from functools import cache
from random import Random

import numpy as np
import pytest
from light_plant import duplex, register
from lit_plants import lit_plant, lit_shots, lit_tests
from plants import tables_of
from pytest import approx

import fibrebook
from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.analyses.budgets.would_run import would_run_table
from fibrebook.losses.by_tests.chosen import chosen_tests
from fibrebook.snapshot.snapshot import PlantSnapshot

DAY = dt.date(2026, 3, 1)
FIBRE, SPLICES, PAIRS = 0.2, 2 * 0.3, 2 * 0.75  # of `duplex()`: 500 m of OS2, two pigtails, two pairs of plugs
RECORDS = FIBRE + SPLICES + PAIRS


def loss_tested(
    plant, loss_db, direction="a to b", nm=1310, day=DAY, here=("P1", "1", "A"), there=("P2", "1", "A"), **more
):
    """A loss test, of the strand that carries channel 1 from a to b unless said otherwise."""
    ends = [f"{end}_{c}" for end in ("from", "to") for c in ("at", "port", "position")]
    plant.put(
        "tests", test=f"T{len(plant.rows['tests']) + 1}", **dict(zip(ends, (*here, *there), strict=True)),
        method="loss test", wavelength_nm=nm, direction=direction, loss_db=loss_db, tested_on=day,
        **{"reference_method": "one-cord", **more},
    )  # fmt: skip
    return plant


def beam(plant, direction="a to b", nm=1310.0, channel="CH1"):
    """One row of headroom."""
    (row,) = [
        r for r in headroom_table(PlantSnapshot(plant.tables)).to_pylist()
        if (r["direction"], r["wavelength_nm"], r["channel"]) == (direction, nm, channel)
    ]  # fmt: skip
    return row


@pytest.mark.parametrize(
    ("method", "adds_db"), [("one-cord", 0.0), ("two-cord", 0.75), ("three-cord", 2 * 0.75), (None, 2 * 0.75)]
)
def test_end_connections_are_added_as_the_reference_left_them_out(method, adds_db):
    """0.58 dB read: with one cord that is all; with two a pair of plugs is added; with three, or unsaid, both."""
    row = beam(loss_tested(duplex(), 0.58, reference_method=method))
    assert row["loss_db"] == approx(0.58 + adds_db)
    assert row["loss_by_tests_db"] == row["loss_db"]
    assert row["loss_by_records_db"] == approx(RECORDS)
    assert row["headroom_db"] == approx(row["limit_db"] - 0.58 - adds_db)
    assert (row["measured_db"], row["recorded_db"], row["catalogue_db"]) == (approx(0.58), 0.0, approx(adds_db))
    assert (row["tests"], row["tests_binding"], row["tests_carried"]) == ("T1", None, None)


@pytest.mark.parametrize(
    ("method", "read_db", "told_db"),
    [
        ("one-cord", 3.0, 3.0 - 2 * 0.75),  # what the limit of the test has for its ends, 0.75 dB single-mode each
        (
            "two-cord",
            3.0,
            3.0 - 0.75,
        ),  # (ISO/IEC 14763-3:2014/Cor 1, read in a secondary text: see the reference tables)
        ("three-cord", 3.0, 3.0),
        ("one-cord", 1.5, FIBRE + SPLICES),  # nothing would be left: less than the records say nobody knows
        ("one-cord", 0.58, 0.58),  # it is less than the records say with the plugs in it, so without them as well
    ],
)
def test_end_connections_that_the_path_lacks_are_taken_off(method, read_db, told_db):
    """Nothing is plugged in: the test cords' connections are no loss of the path; patching it up adds its own."""
    plant = loss_tested(duplex(n=2, plant=duplex()), read_db, here=("P1", "2", "A"), there=("P2", "2", "A"),
                   reference_method=method)  # fmt: skip
    plant.rows["patches"] = [r for r in plant.rows["patches"] if not r["cord"].startswith("K2")]
    seen = PlantSnapshot(plant.tables)
    label = seen.network.core_path[[2]]
    found = seen.losses.of_paths(label, np.array([True]), np.array([1310.0]))
    assert found.loss_db.item() == approx(told_db)
    run = would_run_table(seen, [4]).to_pylist()
    by_name = {r["application"]: r for r in run}
    assert by_name["10GBASE-LR"]["loss_db"] == approx(told_db + PAIRS)


def test_a_failed_test_leaves_no_headroom():
    """9.5 dB where the records say 2.3 dB: it binds and is named, in both directions, for the other way it is carried."""
    plant = loss_tested(loss_tested(duplex(), 9.5), 9.5, here=("P1", "1", "B"), there=("P2", "1", "B"))
    for direction, carried in (("a to b", None), ("b to a", "T2 the other way")):
        row = beam(plant, direction)
        assert row["loss_db"] == approx(9.5)
        assert row["headroom_db"] < 0
        assert row["tests_binding"] == ("T1 failed" if direction == "a to b" else "T2 failed")
        assert row["tests_carried"] == carried


def test_a_failed_test_never_helps():
    """A splice of 5 dB measured, a test of 4 dB that fails: the records' figure stays, and the test is named."""
    plant = duplex(splices=1)
    for row in plant.rows["splices"]:
        row |= {"loss_db": 5.0, "loss_basis": "measured"}
    row = beam(loss_tested(plant, 4.0))
    assert row["loss_db"] == row["loss_by_records_db"] == approx(5.0 + RECORDS)
    assert (row["tests"], row["tests_binding"]) == ("T1", "T1 failed")


def test_a_test_that_found_more_than_the_records_say_is_named():
    """2.4 dB against 2.3 by the records, within the limit with three splices and old plugs: named, not as failed."""
    row = beam(loss_tested(duplex(), 1.75, reference_method="two-cord", uncertainty_db=1.0))
    assert row["loss_db"] == approx(2.5)
    assert row["tests_binding"] == "T1 more than the records say"


def test_the_newest_valid_test_counts():
    """Of two the later day's; not one of a day before a splice was made, nor one without figure, nor below nothing."""
    plant = loss_tested(loss_tested(duplex(splices=1), 0.9, day=dt.date(2026, 5, 1)), 0.7)
    assert beam(plant)["loss_db"] == approx(0.9)
    loss_tested(loss_tested(plant, None, day=dt.date(2026, 6, 1)), -0.5, day=dt.date(2026, 6, 1))
    assert beam(plant)["tests"] == "T1"
    plant.rows["splices"][0]["made_on"] = dt.date(2026, 7, 1)
    row = beam(plant)
    assert row["tests"] is None and np.isnan(row["loss_by_tests_db"])
    assert row["loss_db"] == row["loss_by_records_db"] == approx(RECORDS + 0.3)
    assert beam(loss_tested(plant, 1.1, day=dt.date(2026, 7, 1)))["loss_db"] == approx(1.1)


def test_a_cord_changed_at_the_end_leaves_the_test_valid():
    """Equipment plugged in after the test does not put it out of date (as in `untested`)."""
    plant = loss_tested(duplex(), 0.58)
    for row in plant.rows["patches"]:
        row["fitted_on"] = dt.date(2026, 8, 8)
    assert beam(plant)["tests"] == "T1"


def test_an_excess_is_carried_to_another_wavelength():
    """OM3, 400 m, tested at 850 nm only: 4.0 dB is 0.5 more than the records' 3.5; at 1300 nm 0.5 more than 2.7."""
    plant = loss_tested(duplex("1000BASE-LX", "OM3", 400.0), 4.0, nm=850)
    records_850, records_1310 = 1.4 + SPLICES + PAIRS, 0.4 * 1.5 + SPLICES + PAIRS
    row = beam(plant)
    assert row["loss_by_records_db"] == approx(records_1310, abs=0.01)  # 1310 nm is weighed as 1300
    assert row["loss_db"] - row["loss_by_records_db"] == approx(4.0 - records_850)
    assert row["tests_carried"] == "T1 from 850 nm"


def test_what_was_saved_is_carried_only_so_far_as_it_is_sure():
    """2.4 dB at 850 nm is 1.1 less than 3.5; were it all in the fibre, 1.1 * 1.5 / 3.5 less at 1300 nm is sure."""
    row = beam(loss_tested(duplex("1000BASE-LX", "OM3", 400.0), 2.4, nm=850))
    per_km = PlantSnapshot(duplex("1000BASE-LX", "OM3").tables).losses.db_per_km(1310.0)[1]
    assert row["loss_by_records_db"] - row["loss_db"] == approx(1.1 * per_km / 3.5)


def patched_midway():
    """`duplex()` in two cables; the strand from a to b is patched at J1, from port 1/A to port 2/A, the other spliced."""
    plant = duplex(splices=1)
    plant.rows["splices"] = [r for r in plant.rows["splices"] if r["a_core"] != 1]
    for port, cable in (("1", "C1"), ("2", "C2")):
        plant.put("ports", enclosure="J1", port=port, position="A").make_off("J1", f"{port}A", cable, 1)
    return plant.cord(("J1", "1", "A"), ("J1", "2", "A"))


def test_of_tests_that_overlap_the_longest_counts():
    """The first link, and the whole way: the long test counts; the short one only if it failed and is not the older."""
    plant = loss_tested(patched_midway(), 2.0)
    assert beam(plant)["loss_by_records_db"] == approx(FIBRE + 2 * SPLICES + 2 * PAIRS)
    loss_tested(plant, 0.3, there=("J1", "1", "A"))
    assert (beam(plant)["loss_db"], beam(plant)["tests"]) == (approx(2.0), "T1")
    plant.rows["tests"][-1]["loss_db"] = 6.0
    row = beam(plant)
    assert (row["tests"], row["tests_binding"]) == ("T2", "T2 failed")
    assert row["loss_db"] == approx(6.0 + FIBRE / 2 + SPLICES + PAIRS)  # and the second link by its records
    plant.rows["tests"][0]["tested_on"] = dt.date(2026, 3, 2)  # the whole way was good afterwards
    assert (beam(plant)["loss_db"], beam(plant)["tests"]) == (approx(2.0), "T1")


def test_two_tests_of_two_stretches_both_count():
    """Each link of a patched path tested by itself, one with its ends and one without: both figures and what lacks."""
    plant = loss_tested(patched_midway(), 0.5, there=("J1", "1", "A"))
    loss_tested(plant, 0.4, here=("J1", "2", "A"), reference_method="three-cord")
    row = beam(plant)
    assert (row["tests"], row["measured_db"]) == ("T1, T2", approx(0.9))
    assert row["loss_db"] == approx(0.9 + PAIRS)


def test_a_stretch_is_the_same_however_it_is_named():
    """A test named by its core counts as one named by the ports on which that core is made off."""
    by_core = loss_tested(duplex(), 0.58, here=(None,) * 3, there=(None,) * 3, cable="C1", core=1)
    assert beam(by_core)["loss_db"] == approx(0.58)


def test_a_test_tells_what_a_cable_without_length_loses():
    """The loss is known then, and nothing lacks; how long the channel is stays unknown, so no headroom is told."""
    plant = loss_tested(duplex(length_m=float("nan")), 0.58)
    row = beam(plant)
    assert (row["loss_db"], row["not_known"]) == (approx(0.58), "")
    assert row["binding"] == "length not known" and np.isnan(row["headroom_db"])
    assert beam(plant, "b to a")["not_known"] == "length of C1"


def test_trace_and_contributions_name_the_test(tmp_path):
    """The stretch's elements have no loss of their own; its last one bears the figure; contributions say whose it is."""
    reg = register(loss_tested(duplex(), 0.58, tested_by="RK"), tmp_path / "r")
    path = fibrebook.trace(reg, "S1", ("interface", "SW1", "1", "Tx"))
    assert path["loss_db"].sum() == approx(0.58)
    assert path.loc[path["test"] == "T1", ["kind", "loss_db"]].to_numpy().tolist() == [
        ["port", 0.0], ["core", 0.0], ["port", 0.58]
    ]  # fmt: skip
    (part,) = fibrebook.contributions(reg, "S1", ("channel", "CH1")).query("kind == 'test'").to_dict("records")
    assert (part["at"], part["name"], part["basis"]) == ("T1", "P1/1/A to P2/1/A", "measured")
    assert part["reckoning"] == (
        "0.58 dB at 1310 nm, a to b; one-cord; by RK on 2026-03-01; both end connections are in it; "
        "the records say 2.30 dB"
    )


# --- properties, on random plants ----------------------------------------------------------------------------------
PLANTS = [n if n < 5 else pytest.param(n, marks=pytest.mark.long) for n in range(60)]


@cache
def rows_of(number):
    """A random plant whose paths were tested, newly and long ago, every way and every wavelength."""
    rows = lit_plant(number, sites=1)
    shots = lit_shots(rows, number)
    tests = rows.get("tests", []) + lit_tests(rows, number) + shots["tests"]
    return rows | {"tests": tests, "events": shots["events"]}


def losses_of(rows):
    """Loss of every path, both ways, at three wavelengths: shape (paths, 6); and the labels."""
    seen = PlantSnapshot(tables_of(rows))
    label = np.unique(seen.network.paths.label)
    n = len(label)
    each = [
        seen.losses.of_paths(label, np.full(n, out), np.full(n, nm)).loss_db
        for out in (True, False)
        for nm in (850.0, 1310.0, 1550.0)
    ]
    return np.stack(each, axis=1), label, seen


def counting(seen, number):
    """Rows of the tests that count somewhere, some of them by lot."""
    tests = seen.losses.counted.tests["test"].to_pylist()
    row = [i for i in np.unique(seen.losses.counted.columns.row).tolist() if i < len(tests)]
    return Random(number).sample([tests[i] for i in row], min(6, len(row)))


def changed(rows, test, **values):
    """The rows with another figure of one test."""
    return rows | {"tests": [r | values if r["test"] == test else r for r in rows["tests"]]}


@pytest.mark.parametrize("number", PLANTS)
def test_a_worse_test_never_raises_headroom(number):
    """Whatever more a test finds, no path loses less by it."""
    rows = rows_of(number)
    before, _, seen = losses_of(rows)
    for test in counting(seen, number):
        (loss,) = [r["loss_db"] for r in rows["tests"] if r["test"] == test]
        last = before
        for more in (0.05, 0.4, 1.0, 4.0, 12.0):
            after = losses_of(changed(rows, test, loss_db=max(loss, 0) + more))[0]
            assert (after >= last - 1e-9).all()
            last = after


@pytest.mark.parametrize("number", PLANTS)
def test_a_worse_reading_of_a_joint_never_raises_headroom(number):
    """Whatever more an OTDR reads at a joint, no path loses less by it, among readings whose mean is not below nothing."""
    rows = rows_of(number)
    events = [e for e in rows["events"] if e["loss_db"] >= 0]
    rows = rows | {"events": events}
    last = losses_of(rows)[0]
    for more in (0.1, 0.7, 5.0):
        # in the order in which they stand: of two events of one day that are of one joint the later row counts
        worse = [e | {"loss_db": e["loss_db"] + more * (i % 2)} for i, e in enumerate(events)]
        after = losses_of(rows | {"events": worse})[0]
        assert (after >= last - 1e-9).all()
        last = after


@pytest.mark.parametrize("number", PLANTS)
def test_a_test_elsewhere_changes_nothing(number):
    """Only the path that a test lies on loses more or less by it."""
    rows = rows_of(number)
    before, label, seen = losses_of(rows)
    t = seen.losses.counted.columns
    names = np.array(seen.losses.counted.labels.to_pylist(), dtype=object)
    for test in counting(seen, number):
        after = losses_of(changed(rows, test, loss_db=7.0))[0]
        moved = label[(np.abs(after - before) > 1e-9).any(axis=1)]
        assert set(moved) <= set(t.path[names[t.row] == test])


@pytest.mark.parametrize("number", PLANTS)
def test_without_its_tests_a_path_loses_what_it_did(number):
    """Take one test away and put it back: the same; take all away: what the records say, which stood beside it."""
    rows = rows_of(number)
    before, label, seen = losses_of(rows)
    for test in counting(seen, number)[:2]:
        without = rows | {"tests": [r for r in rows["tests"] if r["test"] != test]}
        (back,) = [r for r in rows["tests"] if r["test"] == test]
        again = losses_of(without | {"tests": [*without["tests"], back]})[0]
        assert again == approx(before, abs=1e-9)
    none = losses_of(rows | {"tests": [], "events": []})[0]
    n = len(label)
    for i, (out, nm) in enumerate((o, w) for o in (True, False) for w in (850.0, 1310.0, 1550.0)):
        told = seen.losses.of_paths(label, np.full(n, out), np.full(n, nm))
        assert none[:, i] == approx(told.by_records_db, abs=1e-9)


@pytest.mark.parametrize("number", PLANTS)
def test_tests_that_count_on_a_path_do_not_overlap(number):
    """Of the tests chosen for a path no two share more than the end of a core."""
    seen = PlantSnapshot(tables_of(rows_of(number)))
    counted = seen.losses.counted
    label = np.unique(seen.network.paths.label)
    found = chosen_tests(counted, label, np.ones(len(label), bool), np.full(len(label), 1310.0))
    first, last = counted.columns.first[found.test], counted.columns.last[found.test]
    same = found.beam[1:] == found.beam[:-1]
    assert (first[1:][same] >= last[:-1][same]).all()


def test_the_random_plants_have_tests_that_count():
    """The properties above are of something: many tests count, of all kinds, some carried, some failed."""
    counts = [PlantSnapshot(tables_of(rows_of(n))).losses.counted.columns for n in range(12)]
    assert sum(len(c.row) for c in counts) > 100
    assert sum(int(c.failed.sum()) for c in counts) > 10
    means = [PlantSnapshot(tables_of(rows_of(n))).losses.counted.means for n in range(12)]
    assert sum(len(m.joint) for m in means) > 10
    assert any(m.at_first.any() or m.at_last.any() for m in means)
    assert any(c.at_first.any() and not c.at_first.all() for c in counts)


# --- single joints, shot both ways by OTDR -------------------------------------------------------------------------
def shot(plant, direction, loss_db, nm=1310, day=DAY, at_m=250.0, cable="C1"):
    """A shot into the path of the strand from a to b, with one event: the splice at J1, 250 m from either end."""
    name = f"T{len(plant.rows['tests']) + 1}"
    plant.put(
        "tests", test=name, from_at="P1", from_port="1", from_position="A", to_at="P2", to_port="1", to_position="A",
        method="OTDR", direction=direction, wavelength_nm=nm, tested_on=day,
    )  # fmt: skip
    return plant.put("events", test=name, event="1", distance_m=at_m, loss_db=loss_db, what="splice")


def test_the_mean_of_both_ways_is_what_a_splice_loses():
    """0.20 one way and a gain of 0.06 the other: 0.07 dB for the catalogue's 0.3 (mean of both ways: IEC 61280-4-2)."""
    plant = shot(shot(duplex(splices=1), "a to b", 0.20), "b to a", -0.06)
    for direction in ("a to b", "b to a"):
        row = beam(plant, direction)
        tested = direction == "a to b"  # the other strand was not shot
        assert row["loss_db"] == approx(FIBRE + SPLICES + PAIRS + (0.07 if tested else 0.3))
        assert (row["measured_db"], row["tests"]) == ((approx(0.07), "T1 and T2") if tested else (0.0, None))


@pytest.mark.parametrize("readings", [[("a to b", -0.5)], [("a to b", 0.02)], [("a to b", -0.3), ("b to a", 0.1)]])
def test_one_way_alone_and_a_gain_in_all_count_for_nothing(readings):
    """A gainer shot one way, any splice shot one way, a mean below nothing: headroom is that of the records."""
    plant = duplex(splices=1)
    for direction, loss_db in readings:
        shot(plant, direction, loss_db)
    row = beam(plant)
    assert row["loss_db"] == row["loss_by_records_db"] == approx(RECORDS + 0.3)
    assert row["tests"] is None


def test_shots_older_than_the_splice_do_not_count():
    """A splice made again after it was shot stands by its records; shot again the new mean counts."""
    plant = shot(shot(duplex(splices=1), "a to b", 0.2), "b to a", 0.1)
    plant.rows["splices"][0]["made_on"] = dt.date(2026, 4, 1)
    assert beam(plant)["tests"] is None
    later = dt.date(2026, 4, 2)
    assert beam(shot(shot(plant, "a to b", 0.06, day=later), "b to a", 0.02, day=later))["measured_db"] == approx(0.04)


def test_the_newest_reading_each_way_makes_the_mean():
    """Shot twice from one end: the later reading counts."""
    plant = shot(shot(duplex(splices=1), "b to a", 0.1), "a to b", 0.3)
    row = beam(shot(plant, "a to b", 0.5, day=dt.date(2026, 5, 1)))
    assert (row["measured_db"], row["tests"]) == (approx(0.3), "T3 and T1")


def test_a_mean_above_the_records_is_named_and_a_loss_test_of_the_whole_counts_before_it():
    """0.9 dB where the catalogue says 0.3 binds; a loss test through it holds it already."""
    plant = shot(shot(duplex(splices=1), "a to b", 1.0), "b to a", 0.8)
    row = beam(plant)
    assert row["tests_binding"] == "T1 and T2 more than the records say"
    assert row["loss_db"] == approx(RECORDS + 0.9)
    row = beam(loss_tested(plant, 1.9))
    assert (row["loss_db"], row["tests"]) == (approx(1.9), "T3")


def test_a_connection_shot_both_ways_is_told_with_its_pigtail():
    """The patch at J1, read as one event each way: 0.2 dB for the pair of plugs and the pigtail's splice behind it."""
    plant = patched_midway()
    for row in plant.rows["patches"][-1:]:
        row["length_m"] = 40.0  # so that the two panels are told apart
    shot(shot(plant, "a to b", 0.3), "b to a", 0.1, at_m=290.0)
    row = beam(plant)
    assert row["measured_db"] == approx(0.2)
    assert row["loss_by_records_db"] - row["loss_db"] == approx(0.75 + 0.3 - 0.2)


def test_contributions_tell_a_joint_shot_both_ways(tmp_path):
    """The splice's own row says which shots and where; trace bears the mean at the splice."""
    reg = register(shot(shot(duplex(splices=1), "a to b", 0.20), "b to a", -0.06), tmp_path / "r")
    (part,) = fibrebook.contributions(reg, "S1", ("channel", "CH1")).query("kind == 'test'").to_dict("records")
    assert (part["at"], part["name"], part["loss_db"]) == ("T1 and T2", "J1/1/1", approx(0.07))
    assert part["reckoning"] == "0.07 dB, mean of both ways by OTDR at 1310 nm; the records say 0.30 dB"
    path = fibrebook.trace(reg, "S1", ("interface", "SW1", "1", "Tx"))
    assert path.loc[path["kind"] == "splice", ["loss_db", "test"]].to_numpy().tolist() == [[approx(0.07), "T1 and T2"]]
