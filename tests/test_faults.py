"""Fault finding: from an OTDR distance to a place, what dead channels share, readings of joints both ways."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.analyses.tested.locate import locate
from fibrebook.errors import InputError, NotFoundError
from fibrebook.light.otdr import C_M_PER_S, corrected_distance_m, distance_m, group_index


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """Three cables of 200 m, measured, over two closures."""
    plant = duplex(length_m=600.0, splices=2)
    plant.rows["cables"][0]["route"] = "duct 4"
    return register(plant, tmp_path_factory.mktemp("faults") / "r")


def place(found):
    """What the first row says, shortly."""
    row = found.iloc[0]
    return row["kind"], row["at"], row["nearest_enclosure"], round(row["nearest_m"], 1)


@pytest.mark.parametrize(
    ("distance", "where"),
    [
        (50.0, ("core", "C1", "P1", 50.0)),
        (150.0, ("core", "C1", "J1", 50.0)),
        (330.0, ("core", "C2", "J2", 70.0)),
        (590.0, ("core", "C3", "P2", 10.0)),
    ],
)
def test_a_distance_is_a_place(reg, distance, where):
    """From panel P1 the distance falls in a cable, and the nearer enclosure is named."""
    assert place(locate(reg, "S1", ("port", "P1", "1", "A"), distance)) == where


def test_from_the_other_end_it_is_the_same_place(reg):
    """What lies 150 m from P1 lies 450 m from P2."""
    near = locate(reg, "S1", ("port", "P1", "1", "A"), 150.0).iloc[0]
    far = locate(reg, "S1", ("port", "P2", "1", "A"), 450.0).iloc[0]
    assert (near["at"], near["nearest_enclosure"]) == (far["at"], far["nearest_enclosure"])
    assert near["nearest_m"] == approx(far["nearest_m"])
    assert (near["from_enclosure"], far["from_enclosure"]) == ("P1", "J1")


def test_a_bare_core_is_shot_from_either_end(reg):
    """Core 5 of C2 is made off nowhere: from end A the first metres are at J1, from end B at J2."""
    assert place(locate(reg, "S1", ("core", "C2", 5), 20.0)) == ("core", "C2", "J1", 20.0)
    assert place(locate(reg, "S1", ("core", "C2", 5, "B"), 20.0)) == ("core", "C2", "J2", 20.0)


def test_a_joint_within_the_error_is_named_too(reg):
    """At 201 m the closure is a metre away, within the error; at 230 m it is not."""
    found = locate(reg, "S1", ("port", "P1", "1", "A"), 201.0)
    assert ("splice", "J1") in list(zip(found["kind"], found["at"], strict=True))
    assert "splice" not in list(locate(reg, "S1", ("port", "P1", "1", "A"), 230.0)["kind"])


def test_the_error_is_the_root_of_the_squares(reg):
    """On measured cables: 0.2 % of 500 m for the index and 2 m of the instrument."""
    row = locate(reg, "S1", ("port", "P1", "1", "A"), 500.0).iloc[0]
    assert row["error_m"] == approx(math.hypot(0.002 * 500.0, 2.0))


def test_marked_cables_hold_more_fibre_than_sheath(tmp_path):
    """1.5 % more fibre: a reading of 203 m is 200 m of sheath; helix and slack widen the error."""
    plant = duplex(length_m=400.0)
    plant.rows["cables"][0]["length_basis"] = "marked"
    row = locate(register(plant, tmp_path / "r"), "S1", ("port", "P1", "1", "A"), 203.0).iloc[0]
    assert row["along_m"] == approx(200.0)
    assert row["error_m"] == approx(math.sqrt((0.002 * 203) ** 2 + (0.005 * 203) ** 2 + 5.0**2 + 2.0**2))


def test_launch_cord_and_index_are_put_right(reg):
    """The launch cord is taken off; a tester set to 1.4719 reads short against 1.4677 (a maker's sheet at 1310 nm)."""
    start = ("port", "P1", "1", "A")
    assert locate(reg, "S1", start, 650.0, launch_m=500.0).iloc[0]["along_m"] == approx(150.0)
    row = locate(reg, "S1", start, 150.0, index_set=1.4719, wavelength_nm=1310).iloc[0]
    assert row["along_m"] == approx(150.0 * 1.4719 / 1.4677)


def test_beyond_the_end_is_said(reg):
    """A distance farther than the path is long is told as such, at its last piece."""
    found = locate(reg, "S1", ("port", "P1", "1", "A"), 900.0)
    assert found.iloc[0]["kind"] == "beyond the end"
    assert found.iloc[0]["off_m"] == approx(300.0)


def test_impossible_questions_are_named(reg):
    """A negative distance, a third end, a port that is not there."""
    with pytest.raises(InputError, match="impossible"):
        locate(reg, "S1", ("port", "P1", "1", "A"), -1.0)
    with pytest.raises(InputError, match="no end of a cable"):
        locate(reg, "S1", ("core", "C2", 5, "C"), 1.0)
    with pytest.raises(NotFoundError, match="no port"):
        locate(reg, "S1", ("port", "P9", "1", "A"), 1.0)


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 599.0))
def test_every_distance_within_the_path_has_its_place(reg, distance):
    """The metres of the cables before, and along the one named, add up to the reading."""
    row = locate(reg, "S1", ("port", "P1", "1", "A"), distance).iloc[0]
    before = {"C1": 0.0, "C2": 200.0, "C3": 400.0}[row["at"]]
    assert before + row["along_m"] == approx(distance)
    assert row["nearest_m"] <= 100.0


def test_time_of_flight():
    """c t / 2n: 10 us there and back at n = 1.4677 are 1021.3 m; raising the index shortens in proportion."""
    assert C_M_PER_S == 299_792_458  # SI, exact
    assert distance_m(10e-6, 1.4677) == approx(1021.30, abs=0.01)
    assert corrected_distance_m(1000.0, 1.46, 1.47) == approx(1000.0 * 1.46 / 1.47)
    assert group_index("OM4", 850) == 1.483 and group_index("OS2", 1550) == 1.4682  # makers' sheets
    assert math.isnan(group_index("OM3", 1550))


def test_what_the_dead_share(tmp_path):
    """CH1 and CH2 share cable C1 with CH3; a second cable only they use comes first, the shared one is told apart."""
    plant = duplex(n=3, plant=duplex(n=2, plant=duplex()))
    reg = register(plant, tmp_path / "r")
    found = fibrebook.shared_by_dead(reg, "S1", ["CH1", "CH2", "CH3"])
    assert found.iloc[0]["verdict"] == "all the dead use it, no working one"
    assert set(found[found["dead"] == 3]["record"]) >= {"C1", "P1", "P2", "SW1", "SW2"}
    two = fibrebook.shared_by_dead(reg, "S1", ["CH1", "CH2"]).set_index("record")
    assert two.loc["C1", "verdict"] == "all the dead use it, working ones too"
    assert two.loc["C1", "working_channels"] == "CH3"
    assert two.loc["K1a", "verdict"] == "some of the dead use it, no working one"


def test_a_tube_stands_out_before_its_cable(tmp_path):
    """Of three channels in one cable the two dead ones lie in its first tube: the tube is named first."""
    plant = duplex(n=3, plant=duplex(n=2, plant=duplex()))
    plant.rows["cables"][0]["cores_per_tube"] = 4
    found = fibrebook.shared_by_dead(register(plant, tmp_path / "r"), "S1", ["CH1", "CH2"]).iloc[0]
    assert (found["kind"], found["record"], found["working"]) == ("tube", "C1 tube 1", 0)


def test_a_channel_is_not_dead_and_working_at_once(reg):
    """Contradictions and empty questions are refused."""
    with pytest.raises(InputError, match="dead and working"):
        fibrebook.shared_by_dead(reg, "S1", ["CH1"], ["CH1"])
    with pytest.raises(InputError, match="at least one"):
        fibrebook.shared_by_dead(reg, "S1", [])


def shots(plant, readings):
    """OTDR shots both ways of strand A with the same events seen from either end."""
    for way, losses in readings.items():
        name = f"O {way}"
        plant.put(
            "tests", test=name, from_at="P1", from_port="1", from_position="A", to_at="P2", to_port="1",
            to_position="A", method="OTDR", wavelength_nm=1550, direction=way, tested_on=dt.date(2026, 3, 3),
        )  # fmt: skip
        for i, (at, loss) in enumerate(losses):
            what = "gainer" if loss < 0 else "splice"
            plant.put("events", test=name, event=str(i + 1), distance_m=at, loss_db=loss, what=what)
    return plant


def test_both_ways_are_averaged_to_the_joint_s_loss(tmp_path):
    """0.20 and 0.10 dB give 0.15 dB (common practice's example), beside the splicer's 0.05 dB estimate."""
    plant = duplex(length_m=600.0, splices=2)
    for row in plant.rows["splices"]:
        row |= {"loss_db": 0.05, "loss_basis": "estimated"}
    shots(plant, {"a to b": [(200.0, 0.20), (401.0, -0.06)], "b to a": [(400.5, 0.10), (199.0, 0.12)]})
    found = fibrebook.splice_readings(register(plant, tmp_path / "r")).set_index("enclosure")
    assert found.loc["J1", "mean_db"] == approx(0.15)
    assert found.loc["J1", "over_recorded_db"] == approx(0.10)
    assert found.loc["J2", "mean_db"] == approx(0.03)
    assert "gainer" in found.loc["J2", "note"] and found.loc["J1", "note"] == ""


def test_one_way_alone_and_strays_are_said(tmp_path):
    """A joint read one way has no mean; an event where no joint is recorded is listed as such."""
    plant = shots(duplex(length_m=600.0, splices=2), {"a to b": [(200.0, 0.2), (300.0, 0.4)]})
    found = fibrebook.splice_readings(register(plant, tmp_path / "r"))
    assert found.iloc[0][["mean_db"]].isna().all() and "one way only" in found.iloc[0]["note"]
    assert "no joint of the records" in found.iloc[1]["note"]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Event;Distance (km);Loss (dB);Reflectance (dB);Type\n1;0,2003;-0,06;---;Gain\n", (200.3, -0.06, "gainer")),
        ("a title\n\n#,Distance (m),Splice loss (dB),Type\n1,200.3,0.21,Non-reflective\n", (200.3, 0.21, "splice")),
        ("No\tLocation (ft)\tLoss\n1\t1000\t-0.1\n", (304.8, -0.1, "gainer")),
    ],
)
def test_event_tables_are_read(tmp_path, text, first):
    """Kilometres, feet, decimal commas, titles above and other headings come to the same rows."""
    path = tmp_path / "events.csv"
    path.write_text(text, encoding="utf-8")
    (row,) = fibrebook.read_events(path, "S1", "O1")
    assert (row["distance_m"], row["loss_db"], row["what"]) == (approx(first[0]), first[1], first[2])


def test_events_go_into_the_register(tmp_path):
    """What was read is stored under its test; a broken cell names its line and nothing is stored."""
    plant = shots(duplex(length_m=600.0, splices=2), {"a to b": []})
    reg = register(plant, tmp_path / "r")
    path = tmp_path / "events.csv"
    path.write_text("Distance (m),Loss (dB)\n200,0.1\n400,0.2\n", encoding="utf-8")
    assert fibrebook.bring_in_events(reg, path, "S1", "O a to b", by="ts") == 2
    assert fibrebook.splice_readings(reg)["a_to_b_db"].tolist() == [0.1, 0.2]
    path.write_text("Distance (m),Loss (dB)\n200,little\n", encoding="utf-8")
    with pytest.raises(InputError, match="line 2"):
        fibrebook.bring_in_events(reg, path, "S1", "O a to b", by="ts")
    path.write_text("x,y\n1,2\n", encoding="utf-8")
    with pytest.raises(InputError, match="no heading"):
        fibrebook.read_events(path, "S1", "O1")
