"""Advice on cords, optics and lengths: what somebody moved, mistyped or plugged where it does not belong."""

from __future__ import annotations

import datetime as dt

import pyarrow as pa
import pytest
from hand_plant import Plant
from light_plant import duplex, register
from plants import tables_of

import fibrebook
from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.snapshot.snapshot import PlantSnapshot

NEW = (
    "cord between places", "cord too short", "length is nothing", "same wavelength both ways", "polish mismatch",
    "mode mismatch", "core mismatch", "labels alike",
)  # fmt: skip


def told(plant, check=None):
    """What the new checks say of a plant: (check, record), or the words of one check."""
    found = all_advice(Situation(PlantSnapshot(tables_of(plant.rows), dt.date(2026, 1, 15))))
    if check:
        return [a.what for a in found if a.check == check]
    return [(a.check, a.record) for a in found if a.check in NEW]


def room(**of):
    """A switch in one place, its cord into a panel in another; `of`: columns of locations L1 (panel) and L2 (switch)."""
    plant = (
        Plant().put("locations", location="L1", **of.get("L1", {})).put("locations", location="L2", **of.get("L2", {}))
    )
    plant.panel("P1", location="L1").panel("P2", location="L2").cable("C1", "P1", "P2", length_m=80.0)
    plant.put("equipment", equipment="SW1", location="L2")
    plant.put("interfaces", equipment="SW1", interface="1", position="Tx")
    return plant.cord(("SW1", "1", "Tx"), ("P1", "1", "A"))


def test_equipment_moved_with_its_cord_left_in():
    """The record says that the switch is elsewhere than the panel in which its cord still is: one line a cord."""
    plant = room()
    assert told(plant) == [("cord between places", "K1/1")]
    assert "L2 (SW1)" in told(plant, "cord between places")[0] and "L1 (P1)" in told(plant, "cord between places")[0]
    plant.rows["equipment"][0]["location"] = "L1"
    assert not told(plant)


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ({"room": "12"}, {"room": "12"}, False),  # two racks of one room
        ({"room": "12", "building": "A"}, {"room": " 12 ", "building": "a"}, False),
        ({"room": "12", "building": "A"}, {"room": "12", "building": "B"}, True),
        ({"room": "12"}, {"room": "14"}, True),
        ({"room": "12"}, {}, True),
    ],
)
def test_racks_of_one_room_are_no_two_places(one, other, apart):
    """A cord from rack to rack of one room is usual; another room or building is not."""
    assert bool(told(room(L1=one, L2=other))) is apart


@pytest.mark.parametrize(
    ("metres", "check"), [(3.0, "cord too short"), (69.0, "cord too short"), (71.0, "cord between places")]
)
def test_a_cord_shorter_than_the_way(metres, check):
    """80 m of cable between the places, of which 2 x 5 m may be slack: 69 m of cord does not reach, 71 m may."""
    plant = room()
    plant.rows["patches"][0]["length_m"] = metres
    assert told(plant) == [(check, "K1/1")]


def test_a_cord_within_one_place_is_let_be():
    """A short cord from panel to panel in one place, and a loose one, bring no advice."""
    plant = Plant().panel("P1", location="L1").panel("P2", location="L1")
    plant.cord(("P1", "1", "A"), ("P2", "1", "A")).cord(("P1", "2", "A"))
    assert not told(plant)


@pytest.mark.parametrize(
    ("of_cord", "of_port", "check"),
    [
        ({"a_polish": "APC"}, {"polish": "UPC"}, "polish mismatch"),
        ({"b_polish": "PC"}, {"polish": "APC"}, "polish mismatch"),
        ({"a_polish": "PC"}, {"polish": "UPC"}, None),
        ({"a_polish": "APC"}, {"polish": "APC"}, None),
        ({"fibre_class": "OM3"}, {"fibre_class": "OS2"}, "mode mismatch"),
        ({"fibre_class": "OM1"}, {"fibre_class": "OM3"}, "core mismatch"),
        ({"fibre_class": "OM4"}, {"fibre_class": "OM3"}, None),
        ({"fibre_class": "ours"}, {"fibre_class": "OM3"}, None),
        ({}, {"polish": "APC", "fibre_class": "OS2"}, None),
    ],
)
def test_a_cord_against_its_ports(of_cord, of_port, check):
    """Angled on flat, multimode on single-mode and 62.5 on 50 um are named with the port; the rest is let be."""
    plant = Plant().panel("P1").panel("P2").cord(("P1", "1", "A"), ("P2", "1", "A"))
    plant.rows["patches"][0] |= of_cord
    for port in plant.rows["ports"]:
        port |= of_port
    assert {c for c, _ in told(plant)} == ({check} if check else set())
    if check:
        assert all("P1/1" in what or "P2/1" in what for what in told(plant, check))


def test_a_length_of_nothing():
    """A cable or cord of 0 m is named; a blank length and a short one are not this matter."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2", length_m=0.0).cable("C2", "P1", "P2", length_m=0.5)
    plant.cord(("P1", "1", "A"), ("P2", "1", "A"))
    plant.rows["patches"][0]["length_m"] = 0.0
    assert told(plant) == [("length is nothing", "C1"), ("length is nothing", "K1/1")]


def single_strand(a, b):
    """A channel over one strand, with an optic of its own at each end."""
    plant = (
        Plant()
        .panel("P1")
        .panel("P2")
        .cable("C1", "P1", "P2")
        .make_off("P1", "1A", "C1", 1)
        .make_off("P2", "1A", "C1", 1)
    )
    plant.switch("SW1", "1", positions=("TxRx",)).switch("SW2", "1", positions=("TxRx",))
    plant.cord(("SW1", "1", "TxRx"), ("P1", "1", "A")).cord(("SW2", "1", "TxRx"), ("P2", "1", "A"))
    plant.channel("CH1", ("SW1", "1"), ("SW2", "1"))
    plant.rows["channels"][0]["application"] = "1000BASE-BX10"
    for face, application in zip(plant.rows["interfaces"], (a, b), strict=True):
        face["application"] = application
    return plant


@pytest.mark.parametrize(
    ("a", "b", "wrong"),
    [
        ("1000BASE-BX10-D", "1000BASE-BX10-D", "1490 nm"),
        ("1000BASE-BX10-U", "1000BASE-BX-U", "1310 nm"),
        ("1000BASE-BX10-D", "1000BASE-BX10-U", None),
        ("1000BASE-BX10", "1000BASE-BX10", None),  # the family: which end is which is not told
        (None, None, None),
    ],
)
def test_the_same_wavelength_at_both_ends_of_a_strand(a, b, wrong):
    """Two -D or two -U optics do not hear each other; one of each does (IEEE 802.3 cl. 59)."""
    plant = single_strand(a, b)
    assert [check for check, _ in told(plant)] == (["same wavelength both ways"] if wrong else [])
    if wrong:
        assert wrong in told(plant, "same wavelength both ways")[0]


def test_a_duplex_channel_sends_one_wavelength_both_ways():
    """Over two strands the same wavelength is as it should be."""
    assert not [c for c, _ in told(duplex("10GBASE-LR")) if c == "same wavelength both ways"]


@pytest.mark.parametrize("like", ["c 1", "C 1", "c1", "Ｃ１", "C\u200b1", "C\u00a01", "\u2060C1", "C\u00ad1"])
def test_labels_that_look_the_same(like):
    """Labels that differ by capitals, spaces, wide or invisible characters alone are named together.

    What is not seen is refused at the door today; an older register may hold it.
    """
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2").cable("C2", "P1", "P2")
    tables = plant.tables
    cables = tables["cables"]
    labels = pa.chunked_array([pa.array(["C1", like]).cast(cables["cable"].type)])
    tables["cables"] = cables.set_column(cables.schema.get_field_index("cable"), "cable", labels)
    found = [a for a in all_advice(Situation(PlantSnapshot(tables, dt.date(2026, 1, 15)))) if a.check == "labels alike"]
    assert [a.table for a in found] == ["cables"]


def test_the_register_keeps_what_is_said_of_a_cord(tmp_path):
    """The class and polishes of a cord are kept, go out in a workbook and come back."""
    plant = duplex()
    plant.rows["patches"][0] |= {"fibre_class": "OS2", "a_polish": "UPC", "b_polish": "APC"}
    reg = register(plant, tmp_path / "r")
    row = reg.table("patches").set_index(["cord", "strand"]).loc[("K1a", "1")]
    assert (row["fibre_class"], row["a_polish"], row["b_polish"]) == ("OS2", "UPC", "APC")
    fibrebook.send_out(reg, tmp_path / "out.xlsx")
    assert fibrebook.bring_in(reg, tmp_path / "out.xlsx", "ab", "as it was").commit is None
