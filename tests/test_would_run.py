"""What else would run over a path, and how much more it would bear."""

from __future__ import annotations

import pytest
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.light import catalogue


def runs(reg, start, other=None):
    """Verdict by application."""
    found = fibrebook.would_run(reg, "S1", start, other)
    return found.set_index("application")["runs"].to_dict()


def test_every_application_is_answered(tmp_path):
    """The table holds every application that is known, each once."""
    found = fibrebook.would_run(register(duplex(), tmp_path / "r"), "S1", ("channel", "CH1"))
    assert sorted(found["application"]) == sorted(catalogue.applications())


@pytest.mark.parametrize(
    ("metres", "runs_not"),
    [
        # IEEE 802.3 lengths on OM3: 10GBASE-SR 300 m, 25GBASE-SR and 100GBASE-SR4 70 m, 40GBASE-SR4 100 m
        (60.0, set()),
        (90.0, {"25GBASE-SR", "100GBASE-SR4"}),
        (250.0, {"25GBASE-SR", "100GBASE-SR4", "40GBASE-SR4"}),
        (320.0, {"25GBASE-SR", "100GBASE-SR4", "40GBASE-SR4", "10GBASE-SR"}),
    ],
)
def test_lengths_by_fibre_class(tmp_path, metres, runs_not):
    """With good joints, what stops on OM3 is what IEEE 802.3 says stops at that length."""
    plant = duplex("1000BASE-SX", "OM3", metres)
    for row in plant.rows["terminations"]:
        row |= {"loss_db": 0.02, "loss_basis": "estimated"}
    reg = register(plant, tmp_path / "r", reference_values=[
        {"row": "1", "reference_table": "component_losses", "component": "connection", "quantity": "limit",
         "value": 0.2, "unit": "dB", "source": "a low-loss cord's data sheet", "basis": "seen"},
    ])  # fmt: skip
    found = runs(reg, ("channel", "CH1"))
    short = {"10GBASE-SR", "25GBASE-SR", "40GBASE-SR4", "100GBASE-SR4"}
    assert {a for a in short if found[a] == "no"} == runs_not
    two = {"10GBASE-SR", "25GBASE-SR"}
    assert all(found[a] == ("yes" if a in two else "needs more strands") for a in short - runs_not)
    assert found["10GBASE-LR"] == found["100GBASE-DR"] == "no"  # not on multimode fibre


def test_a_spare_pair_counts_what_it_lacks(tmp_path):
    """A pair made off but not patched gets two connections, a bare one two pigtails besides: 1.5 and 2.1 dB."""
    plant = duplex()
    plant.make_off("P1", "2A", "C1", 3).make_off("P2", "2A", "C1", 3)
    reg = register(plant, tmp_path / "r")
    ready = fibrebook.would_run(reg, "S1", ("core", "C1", 3)).set_index("application").loc["10GBASE-LR"]
    assert ready["adds"] == "2 connections"
    assert ready["loss_db"] == approx(0.2 + 2 * 0.3 + 2 * 0.75)
    bare = fibrebook.would_run(reg, "S1", ("core", "C1", 5)).set_index("application").loc["10GBASE-LR"]
    assert bare["adds"] == "2 connections and 2 spliced pigtails"
    assert bare["loss_db"] == approx(0.2 + 2 * 0.3 + 2 * 0.75)
    both = fibrebook.would_run(reg, "S1", ("core", "C1", 3), ("core", "C1", 5)).set_index("application")
    assert both.loc["10GBASE-LR", "loss_db"] == approx(max(ready["loss_db"], bare["loss_db"]))


def test_what_runs_only_with_an_attenuator(tmp_path):
    """10GBASE-ER over 500 m gets 4.9 dB too much light: yes, with 5 dB."""
    found = fibrebook.would_run(register(duplex(), tmp_path / "r"), "S1", ("channel", "CH1")).set_index("application")
    assert (found.loc["10GBASE-ER", "runs"], found.loc["10GBASE-ER", "attenuator_db"]) == ("with an attenuator", 5.0)
    assert found.loc["10GBASE-SR", "runs"] == "no"


def test_one_strand_is_not_two(tmp_path):
    """A duplex application is never "yes" on one strand: it needs 2 and has 1; with the other strand of the pair it runs."""
    plant = duplex()
    for core in (3, 4):
        plant.make_off("P1", f"2{'AB'[core - 3]}", "C1", core).make_off("P2", f"2{'AB'[core - 3]}", "C1", core)
    reg = register(plant, tmp_path / "r")
    one = fibrebook.would_run(reg, "S1", ("core", "C1", 3)).set_index("application")
    assert (one["strands"] == 1).all()
    for name, row in one.iterrows():
        assert row["runs"] != "yes" or catalogue.application(name).fibres == 1
    assert (one.loc["10GBASE-LR", "runs"], one.loc["10GBASE-LR", "fibres"]) == ("needs more strands", 2)
    assert one.loc["1000BASE-BX10", "runs"] == "yes"
    both = fibrebook.would_run(reg, "S1", ("core", "C1", 3), ("core", "C1", 4)).set_index("application")
    assert (both.loc["10GBASE-LR", "runs"], set(both["strands"])) == ("yes", {2})
    channel = fibrebook.would_run(reg, "S1", ("channel", "CH1")).set_index("application")
    assert (channel.loc["10GBASE-LR", "runs"], set(channel["strands"])) == ("yes", {2})
    by_core = fibrebook.would_run(reg, "S1", ("core", "C1", 1)).set_index("application")  # one of a channel's
    assert set(by_core["strands"]) == {2}


def test_the_answer_is_that_of_headroom_for_what_runs(tmp_path):
    """For the application in use, on an optic without own powers, both tell the same headroom."""
    reg = register(duplex("25GBASE-LR", length_m=2000.0), tmp_path / "r")
    told = fibrebook.would_run(reg, "S1", ("channel", "CH1")).set_index("application")
    assert told.loc["25GBASE-LR", "headroom_db"] == approx(fibrebook.headroom(reg)["headroom_db"].min())


def test_unknown_length_is_not_known_rather_than_yes(tmp_path):
    """A path of unknown length answers "not known" for what its fibre could carry."""
    found = runs(register(duplex(length_m=float("nan")), tmp_path / "r"), ("channel", "CH1"))
    assert found["10GBASE-LR"] == "not known"


def test_room_for_is_what_uses_the_headroom_up(tmp_path):
    """10GBASE-LR over 500 m: 3.9 dB of room are 13 splices, 5 connections, or 9500 m where the length binds."""
    row = fibrebook.room_for(register(duplex(), tmp_path / "r"), "S1", "CH1").iloc[0]
    assert row["headroom_db"] == approx(6.2 - 2.3)
    assert (row["splices"], row["connections"]) == (13, 5)
    assert (row["metres_m"], row["metres_binding"]) == (approx(9500.0), "length")


def test_room_in_metres_where_the_loss_binds(tmp_path):
    """1000BASE-LX (4.57 dB, 5000 m) with eight joints: 0.07 dB of room are 175 m at 0.4 dB/km."""
    plant = duplex("1000BASE-LX", length_m=500.0, splices=7)
    room = fibrebook.room_for(register(plant, tmp_path / "r"), "S1").iloc[0]
    left = 4.57 - (0.2 + 9 * 0.3 + 1.5)
    assert room["headroom_db"] == approx(left)
    assert (room["metres_m"], room["metres_binding"]) == (approx(left / 0.4 * 1000), "channel insertion loss")
    assert (room["splices"], room["connections"]) == (0, 0)


def test_a_path_that_is_not_complete_has_no_room_told(tmp_path):
    """Where no headroom can be told, no room is."""
    plant = duplex()
    plant.rows["patches"] = plant.rows["patches"][:2]
    row = fibrebook.room_for(register(plant, tmp_path / "r"), "S1").iloc[0]
    assert row["binding"] == "path not complete"
    assert row[["splices", "connections", "metres_m"]].isna().all()
