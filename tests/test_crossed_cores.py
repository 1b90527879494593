"""Cores that change places at a splice in mid-route are advised on; orders that people mean are not."""

from __future__ import annotations

import datetime as dt

import hypothesis.strategies as st
import pytest
from hand_plant import Plant
from hypothesis import given, settings

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.reference.colours import cable_cores, read_colour
from fibrebook.snapshot.snapshot import PlantSnapshot

TIA, OTHER = "TIA-598", "IEC 60304"  # two published colour codes that order the same colours differently


def spliced(joints, cores=24, one=None, other=None):
    """Two cables that meet in J1, with these (core of C1, core of C2) spliced there."""
    plant = Plant().panel("P1").panel("J1", ports=0, kind="joint closure").panel("P2")
    plant.cable("C1", "P1", "J1", cores, **{"cores_per_tube": 12, "colour_code": TIA, **(one or {})})
    plant.cable("C2", "J1", "P2", cores, **{"cores_per_tube": 12, "colour_code": TIA, **(other or {})})
    for x, y in joints:
        plant.splice("J1", ("C1", x), ("C2", y))
    return plant


def told(plant):
    """What is advised of the order of cores."""
    found = all_advice(Situation(PlantSnapshot(plant.tables, dt.date(2026, 11, 20))))
    return [a for a in found if a.check == "colour order differs"]


def with_turns(joints, *turns):
    """Exchange the far cores of each pair of places."""
    far = [y for _, y in joints]
    for i, j in turns:
        far[i], far[j] = far[j], far[i]
    return [(x, y) for (x, _), y in zip(joints, far, strict=True)]


def crossed(plant):
    """The cores of C1 that are said to be crossed."""
    cores = plant.tables["splices"].select(["slot", "a_core"]).to_pylist()
    by_slot = {r["slot"]: r["a_core"] for r in cores}
    found = told(plant)
    assert len(found) <= 1
    if not found:
        return set()
    words = found[0].what.partition("cores ")[2].partition(" of C1")[0]
    numbers = {int(w) for w in words.replace(",", " ").replace("(", " ").split() if w.isdigit()}
    assert by_slot[found[0].record.split("/")[2]] == min(numbers)
    return numbers


STRAIGHT = [(n, n) for n in range(1, 13)]
BY_COLOUR = [
    (x["core"], y["core"])
    for x in cable_cores(24, 12, code=TIA).to_pylist()
    for y in cable_cores(24, 12, code=OTHER).to_pylist()
    if (x["tube"], read_colour(x["core_colour"])) == (y["tube"], read_colour(y["core_colour"]))
]


def test_by_colour_is_another_order_than_straight_through():
    """The two codes of these tests name the same twelve colours, none at the same place."""
    assert len(BY_COLOUR) == 24 and all(x != y for x, y in BY_COLOUR)


def test_a_swap_in_mid_route_is_told_with_enclosure_tray_cores_and_colours():
    """Core 3 spliced to core 4 and 4 to 3, the rest straight: one piece of advice that names what to look for."""
    plant = spliced(with_turns(STRAIGHT, (2, 3)), cores=12)
    (advice,) = told(plant)
    # TIA-598: the third colour is green, the fourth brown
    assert advice.what == (
        "in J1, tray 1, cores 3 (green) and 4 (brown) of C1 are spliced to cores 4 (brown) and 3 (green) of C2, "
        "though the others are in order"
    )
    assert (advice.table, advice.record) == ("splices", "J1/1/3")
    assert "tray" in advice.do


def test_a_swap_is_told_whichever_way_round_its_splices_are_written():
    """Which cable of a splice is written first does not matter."""
    plant = spliced(with_turns(STRAIGHT, (2, 3)), cores=12)
    for row in plant.rows["splices"][::2]:
        for part in ("cable", "core", "end"):
            row[f"a_{part}"], row[f"b_{part}"] = row[f"b_{part}"], row[f"a_{part}"]
    assert [a.what.partition(" are ")[0] for a in told(plant)] == ["in J1, tray 1, cores 3 (green) and 4 (brown) of C1"]


WHOLE = [(n, n) for n in range(1, 25)]


@pytest.mark.parametrize(
    ("joints", "expected"),
    [
        ([(1, 1), (2, 2), (3, 4), (4, 3)], {3, 4}),
        (with_turns(STRAIGHT, (2, 3), (8, 11)), {3, 4, 9, 12}),
        ([*STRAIGHT[:4], (5, 6), (6, 7), (7, 5), *STRAIGHT[7:]], {5, 6, 7}),
        (with_turns(WHOLE, (2, 14)), {3, 15}),
        (with_turns([(n, n + 12) for n in range(1, 13)], (0, 1)), {1, 2}),
        (with_turns([(n, 2 * n) for n in range(1, 9)], (2, 3)), {3, 4}),
    ],
    ids=["four cores", "two swaps", "three in turn", "between tubes", "tube to another tube", "rising"],
)
def test_crossed_cores_are_found_in_every_order(joints, expected):
    """Exactly the crossed cores are named, whatever the order that the others follow."""
    assert crossed(spliced(joints)) == expected


def test_crossed_cores_are_found_among_cores_joined_by_colour():
    """Two colour codes, joined colour to colour, except two cores that took each other's colour."""
    plant = spliced(with_turns(BY_COLOUR, (4, 5)), other={"colour_code": OTHER})
    assert crossed(plant) == {5, 6}


@pytest.mark.parametrize(
    ("joints", "more"),
    [
        ([(5, 9)], {}),
        ([(1, 2), (2, 1)], {}),
        ([(n, n + 12) for n in range(1, 13)] + [(n, n - 12) for n in range(13, 25)], {}),
        ([(n, n if n < 7 else n + 12) for n in range(1, 13)], {}),
        ([(4, 2), (5, 7), (9, 8), (11, 20), (12, 23)], {}),
        ([*STRAIGHT[:10], (14, 11), (11, 12), (12, 13)], {}),
        ([(n, 13 - n) for n in range(1, 13)], {}),
        ([(n, n + 1 if n % 2 else n - 1) for n in range(1, 13)], {}),
        (BY_COLOUR, {"other": {"colour_code": OTHER}}),
        (BY_COLOUR[:6], {"other": {"colour_code": OTHER}}),
    ],
    ids=[
        "lone joint", "a turned pair", "tubes changed round", "half to another tube", "next free", "next free, later",
        "reversed", "all pairs turned", "by colour", "by colour, some",
    ],
)  # fmt: skip
def test_an_order_that_is_meant_is_left_alone(joints, more):
    """No advice where the joints follow an order of their own."""
    assert told(spliced(joints, **more)) == []


def test_tubes_changed_round_where_only_the_far_cable_has_tubes():
    """48 cores in one tube to four tubes of 12, the last two tubes exchanged: whole tubes, so nothing is crossed."""
    joints = [(n, n if n <= 24 else n + 12 if n <= 36 else n - 12) for n in range(1, 49)]
    assert told(spliced(joints, 48, one={"cores_per_tube": None})) == []


def test_a_cable_that_branches_is_left_alone():
    """Odd cores to one cable and even ones to another are in order on both."""
    plant = spliced([(n, (n + 1) // 2) for n in range(1, 25, 2)])
    plant.cable("C3", "J1", "P2", 12, colour_code=TIA)
    for n in range(2, 25, 2):
        plant.splice("J1", ("C1", n), ("C3", n // 2))
    assert told(plant) == []


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_exchanged_pairs_are_found_and_no_others(data):
    """Of up to 24 cores joined straight, each pair that is exchanged is named, as long as half are in order."""
    many = data.draw(st.integers(4, 24))
    places = data.draw(st.permutations(range(many)))[: 2 * data.draw(st.integers(0, many // 4))]
    turns = list(zip(places[::2], places[1::2], strict=True))
    one_tube = {"cores_per_tube": None}
    plant = spliced(with_turns([(n, n) for n in range(1, many + 1)], *turns), one=one_tube, other=one_tube)
    assert crossed(plant) == {p + 1 for p in places}


@settings(max_examples=40, deadline=None)
@given(st.sets(st.integers(1, 24), min_size=1), st.randoms(use_true_random=False))
def test_whatever_rises_is_in_order(near, rng):
    """Cores joined in rising order on both sides are never advised on, in one tube or in two."""
    far = sorted(rng.sample(range(1, 25), len(near)))
    assert told(spliced(list(zip(sorted(near), far, strict=True)))) == []
