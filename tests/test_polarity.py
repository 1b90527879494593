"""Polarity: does transmit reach receive, how often a pair turns over, and which element is wrong."""

from __future__ import annotations

import pytest
from light_plant import duplex, register

import fibrebook


def judged(plant, where):
    """The polarity table by channel."""
    return fibrebook.polarity(register(plant, where)).set_index("channel")


def test_a_sound_channel_turns_over_an_odd_number_of_times(tmp_path):
    """One A-A and one A-B cord and a straight link turn once: transmit reaches receive (TIA-568.3)."""
    row = judged(duplex(), tmp_path / "r").loc["CH1"]
    assert (row["verdict"], row["turns"]) == ("transmit reaches receive", 1)
    assert row["elements"] == "cord K1a A-A, link C1 straight, cord K1b A-B"


def test_the_element_that_turns_it_is_named(tmp_path):
    """Two good channels and one with two A-A cords: the cord unlike its fellows is named, with a way to mend it."""
    plant = duplex(n=3, plant=duplex(n=2, plant=duplex()), turn=False)
    found = judged(plant, tmp_path / "r")
    assert found["verdict"].tolist() == ["transmit reaches receive"] * 2 + ["transmit reaches transmit"]
    assert found.loc["CH3", "turned_by"].startswith("cord K3b (A-A)")
    assert "turn its two fibres over" in found.loc["CH3", "do"] and "Never look into a fibre" in found.loc["CH3", "do"]


def test_alone_a_cord_is_the_easiest_to_turn(tmp_path):
    """Without other channels to compare with, a cord is named and it is said that none stands out."""
    row = judged(duplex(turn=False), tmp_path / "r").loc["CH1"]
    assert row["turned_by"].startswith("cord") and "none stands out" in row["turned_by"]


@pytest.mark.parametrize("far", ["A-A", "A-B"])
def test_reversed_pairs_in_the_link(tmp_path, far):
    """With the pair reversed at P2 the link itself turns over: two A-A cords are then right, one A-B is wrong."""
    plant = duplex(turn=far == "A-B")
    made = [r for r in plant.rows["terminations"] if r["enclosure"] == "P2"]
    made[0]["core"], made[1]["core"] = made[1]["core"], made[0]["core"]
    row = judged(plant, tmp_path / "r").loc["CH1"]
    assert "link C1 reversed pair" in row["elements"]
    assert row["verdict"] == ("transmit reaches receive" if far == "A-A" else "transmit reaches transmit")


def test_simplex_ports_are_paired_by_number(tmp_path):
    """With numbered simplex ports, port 1 to 1 and 2 to 2 is straight (consecutive fibres)."""
    plant = duplex()
    for kind, port, position in (
        ("ports", "port", "position"), ("terminations", "port", "position"), ("patches", "b_port", "b_position"),
    ):  # fmt: skip
        for row in plant.rows[kind]:
            number = 2 * int(row[port]) - (row[position] == "A")
            row |= {port: str(number), position: ""}
    row = judged(plant, tmp_path / "r").loc["CH1"]
    assert row["elements"] == "cord K1a A-A, link C1 straight, cord K1b A-B"


def test_two_optics_that_send_alike_on_one_fibre(tmp_path):
    """Two 1000BASE-BX10-D ends both send 1490 nm: the fibre is right, the optics are not."""
    plant = duplex("1000BASE-BX10-D")
    plant.rows["interfaces"] = [r | {"position": "TxRx"} for r in plant.rows["interfaces"] if r["position"] == "Tx"]
    plant.rows["patches"] = [
        r | {"a_position": "TxRx", "b_position": "A"} for r in plant.rows["patches"] if r["a_position"] == "Tx"
    ]
    assert judged(plant, tmp_path / "r").loc["CH1", "verdict"] == "both ends send the same wavelength"
    for row in plant.rows["interfaces"]:
        if row["equipment"] == "SW2":
            row["application"] = "1000BASE-BX10-U"
    assert judged(plant, tmp_path / "again").loc["CH1", "verdict"] == "transmit reaches receive"


def test_a_broken_pair_does_not_arrive(tmp_path):
    """Where one strand is not joined, the light does not arrive and no turns are told."""
    plant = duplex()
    del plant.rows["terminations"][-1]
    row = judged(plant, tmp_path / "r").loc["CH1"]
    assert row["verdict"] == "light does not arrive"
