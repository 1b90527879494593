"""Each hard rule, broken once: the problem names table, key, what is wrong and what to do; nothing else is named."""

from __future__ import annotations

import pytest
from hand_plant import Plant
from plants import put_all, tables_of

import fibrebook
from fibrebook.records.rules.breach import Judged
from fibrebook.records.rules.check import MOST, check
from fibrebook.records.rules.door import OUR_RULES


def sound():
    """A plant that obeys every rule and has a row of every kind that a rule speaks of."""
    plant = Plant().panel("P1", 2, location="hall").panel("J1", 2, kind="joint closure").panel("P2", 2)
    plant.cable("C1", "P1", "J1").cable("C2", "J1", "P2").cable("LP", "J1", "J1")
    plant.splice("J1", ("C1", 1), ("C2", 1)).splice("J1", ("C1", 2), ("LP", 1), b_end="A")
    plant.make_off("P1", "1A", "C1", 1).make_off("P2", "1A", "C2", 1).make_off("P1", "1B", "C1", 2)
    plant.switch("SW1", "1", "2").switch("SW2", "1", "2").channel("CH1", ("SW1", "1"), ("SW2", "1"))
    plant.cord(("P1", "1", "A"), ("SW1", "1", "Tx")).cord(("P2", "1", "A"), ("SW2", "1", "Rx"))
    plant.cord(("P1", "2", "A"))
    plant.put("cores", cable="C1", core=3, reserved_for="later")
    return plant.put("tests", test="T1", from_at="P1", from_port="1", from_position="A", cable="C1", core=1)


def test_the_sound_plant_is_sound():
    """Nothing is wrong before anything is broken."""
    assert check(sound().tables) == []


def _tables(spoil):
    plant = sound()
    spoil(plant)
    return tables_of(plant.rows)


CASES = {
    "key stands twice": (
        lambda p: p.put("enclosures", enclosure="P1"),
        "enclosures", ("S1", "P1"), "stands 2 times", "another label",
    ),
    "no such site": (
        lambda p: p.rows["locations"].append({"site": "S9", "location": "hut"}),
        "locations", ("S9", "hut"), "no site 'S9'", "add it",
    ),
    "no such location": (
        lambda p: p.put("enclosures", enclosure="P9", location="cellar"),
        "enclosures", ("S1", "P9"), "no location 'cellar'", "add it",
    ),
    "no such location of equipment": (
        lambda p: p.put("equipment", equipment="SW9", location="cellar"),
        "equipment", ("S1", "SW9"), "no location 'cellar'", "add it",
    ),
    "port of no enclosure": (
        lambda p: p.put("ports", enclosure="P9", port="1", position=""),
        "ports", ("S1", "P9", "1", ""), "no enclosure 'P9'", "add it",
    ),
    "port on equipment": (
        lambda p: p.put("ports", enclosure="SW1", port="1", position=""),
        "ports", ("S1", "SW1", "1", ""), "no enclosure 'SW1'", "add it",
    ),
    "interface of no equipment": (
        lambda p: p.put("interfaces", equipment="P1", interface="1", position="Tx"),
        "interfaces", ("S1", "P1", "1", "Tx"), "no equipment 'P1'", "add it",
    ),
    "cable to no enclosure": (
        lambda p: p.cable("C9", "P1", "P9"),
        "cables", ("S1", "C9"), "no enclosure 'P9'", "add it",
    ),
    "said of no cable": (
        lambda p: p.put("cores", cable="C9", core=1, notes="bent"),
        "cores", ("S1", "C9", 1), "no cable 'C9'", "add it",
    ),
    "said of no core": (
        lambda p: p.put("cores", cable="C1", core=5, notes="bent"),
        "cores", ("S1", "C1", 5), "has no core 5", "core_count",
    ),
    "tube sizes do not add up": (
        lambda p: p.cable("C9", "P1", "P2", 12, tube_sizes="8, 8"),
        "cables", ("S1", "C9"), "do not add up", "12, 12, 6",
    ),
    "enclosure and equipment of one name": (
        lambda p: p.put("equipment", equipment="P1"),
        "enclosures", ("S1", "P1"), "same name", "rename one",
    ),
    "splice in no enclosure": (
        lambda p: p.put("splices", enclosure="J9", tray="1", slot="9", a_cable="C1", a_core=3, b_cable="C2", b_core=3),
        "splices", ("S1", "J9", "1", "9"), "no enclosure 'J9'", "add it",
    ),
    "splice where the cable has no end": (
        lambda p: p.splice("P1", ("C1", 3), ("C2", 3)),
        "splices", ("S1", "P1", "1", "3"), "cable 'C2' has no end at enclosure 'P1'", "mend the enclosure",
    ),
    "splice at the end that is elsewhere": (
        lambda p: p.splice("J1", ("C1", 3), ("C2", 3), a_end="A"),
        "splices", ("S1", "J1", "1", "3"), "cable 'C1' has no end A at enclosure 'J1'", "mend the enclosure",
    ),
    "splice of a core beyond the count": (
        lambda p: p.splice("J1", ("C1", 5), ("C2", 3)),
        "splices", ("S1", "J1", "1", "3"), "cable 'C1' has no core 5", "core_count",
    ),
    "splice of no cable": (
        lambda p: p.splice("J1", ("C1", 3), ("C9", 3)),
        "splices", ("S1", "J1", "1", "3"), "no cable 'C9'", "add it",
    ),
    "splice that does not say which end": (
        lambda p: p.splice("J1", ("C1", 3), ("LP", 3)),
        "splices", ("S1", "J1", "1", "3"), "cable 'LP' has both ends at 'J1'", "A or B in 'b_end'",
    ),
    "splice of an end to itself": (
        lambda p: p.splice("J1", ("LP", 3), ("LP", 3), "A", "A"),
        "splices", ("S1", "J1", "1", "3"), "joins a core end to itself", "other core end",
    ),
    "termination where the cable has no end": (
        lambda p: p.make_off("P2", "2A", "C1", 3),
        "terminations", ("S1", "P2", "2", "A"), "cable 'C1' has no end at enclosure 'P2'", "mend the enclosure",
    ),
    "termination that does not say which end": (
        lambda p: p.make_off("J1", "2A", "LP", 3),
        "terminations", ("S1", "J1", "2", "A"), "cable 'LP' has both ends at 'J1'", "A or B in 'end'",
    ),
    "termination on no port": (
        lambda p: p.make_off("P1", "9A", "C1", 3),
        "terminations", ("S1", "P1", "9", "A"), "no port 'P1/9/A'", "add it",
    ),
    "core end spliced twice": (
        lambda p: p.splice("J1", ("C1", 1), ("C2", 3)),
        "splices", ("S1", "J1", "1", "1"), "end B of core 1 of cable C1 is joined twice: also by splices S1/J1/1/3",
        "remove one",
    ),
    "core end spliced and made off": (
        lambda p: p.make_off("J1", "1A", "C1", 1),
        "splices", ("S1", "J1", "1", "1"), "is joined twice: also by terminations S1/J1/1/A", "remove one",
    ),
    "core end made off twice": (
        lambda p: p.make_off("P1", "2B", "C1", 1),
        "terminations", ("S1", "P1", "1", "A"), "is joined twice: also by terminations S1/P1/2/B", "remove one",
    ),
    "front of a port used twice": (
        lambda p: p.cord(("P1", "1", "A"), ("SW1", "2", "Tx")),
        "patches", ("S1", "K1", "1"), "the front of port P1/1/A is joined twice: also by patches S1/K4/1", "remove one",
    ),
    "interface position used twice": (
        lambda p: p.cord(("P1", "2", "B"), ("SW1", "1", "Tx")),
        "patches", ("S1", "K1", "1"), "interface SW1/1/Tx is joined twice: also by patches S1/K4/1", "remove one",
    ),
    "cord to no port": (
        lambda p: p.cord(("P1", "9", "A"), ("SW1", "2", "Tx")),
        "patches", ("S1", "K4", "1"), "no port or interface 'P1/9/A'", "add it",
    ),
    "cord to no position": (
        lambda p: p.cord(("P1", "2", "B"), ("SW1", "2", "")),
        "patches", ("S1", "K4", "1"), "no port or interface 'SW1/2'", "add it",
    ),
    "cord from nowhere": (
        lambda p: p.cord(("", "", ""), ("SW1", "2", "Tx")),
        "patches", ("S1", "K4", "1"), "end a is blank", "a columns",
    ),
    "cord from a position to itself": (
        lambda p: p.cord(("P1", "2", "B"), ("P1", "2", "B")),
        "patches", ("S1", "K4", "1"), "joins a position to itself", "other end",
    ),
    "channel of no interface": (
        lambda p: p.channel("CH9", ("SW1", "9"), ("SW2", "2")),
        "channels", ("S1", "CH9"), "no interface 'SW1/9'", "add it",
    ),
    "channel with one interface at both ends": (
        lambda p: p.channel("CH9", ("SW1", "2"), ("SW1", "2")),
        "channels", ("S1", "CH9"), "the same interface at both ends", "mend one end",
    ),
    "test of no core": (
        lambda p: p.put("tests", test="T9", cable="C1", core=9),
        "tests", ("S1", "T9"), "no core 'C1/9'", "add it",
    ),
    "test from no port": (
        lambda p: p.put("tests", test="T9", from_at="P1", from_port="9", from_position="A"),
        "tests", ("S1", "T9"), "no port or interface 'P1/9/A'", "add it",
    ),
}  # fmt: skip
# What is named besides, because it follows from the same mistake.
ALSO_NAMED = {
    "cord from a position to itself": "joined twice",
    "splice of an end to itself": "joined twice",
    "splice in no enclosure": "has no end",
}


@pytest.mark.parametrize("name", CASES)
def test_a_broken_rule_is_named(name):
    """The problem stands at the record that breaks the rule, and nothing but what follows from it is named."""
    spoil, table, key, what, remedy = CASES[name]
    problems = check(_tables(spoil))
    hits = [p for p in problems if p.table == table and p.key == key and what in p.what]
    assert len(hits) == 1, list(map(str, problems))
    assert remedy in hits[0].remedy
    others = [p for p in problems if p is not hits[0]]
    assert all(name in ALSO_NAMED and ALSO_NAMED[name] in p.what for p in others), list(map(str, others))


def test_every_rule_is_broken_by_some_case():
    """No rule of ours is without a case here that breaks it, or the test of repeated keys below."""
    broken = {"one key, one row"}
    for spoil, *_ in CASES.values():
        judged = Judged(_tables(spoil))
        broken |= {rule.name for rule in OUR_RULES if next(iter(rule.function(judged)), None) is not None}
    assert {rule.name for rule in OUR_RULES} == broken


def test_an_interface_belongs_to_one_channel():
    """Two channels on one interface are both named."""
    problems = check(_tables(lambda p: p.channel("CH2", ("SW1", "1"), ("SW2", "2"))))
    assert {p.key for p in problems} == {("S1", "CH1"), ("S1", "CH2")}
    assert all("shares an interface" in p.what and p.remedy for p in problems)


def test_rear_of_a_port_joined_twice():
    """Two cores on one port are two rows with one key: refused as such."""
    problems = check(_tables(lambda p: p.make_off("P1", "1A", "C1", 3)))
    assert [(p.table, p.key, p.what) for p in problems] == [("terminations", ("S1", "P1", "1", "A"), "stands 2 times")]


def test_names_are_shared_within_a_site_only():
    """An enclosure at one site may bear the name of equipment at another."""
    plant = sound()
    plant.rows["sites"].append({"site": "S2"})
    plant.rows["equipment"].append({"site": "S2", "equipment": "P1"})
    assert check(tables_of(plant.rows)) == []


def test_links_do_not_reach_into_another_site():
    """A cable at one site cannot end in an enclosure of another."""
    plant = sound()
    plant.rows["sites"].append({"site": "S2"})
    row = {"site": "S2", "cable": "C9", "a_enclosure": "P1", "b_enclosure": None, "core_count": 2}
    plant.rows["cables"].append(row)
    assert [(p.key, p.column) for p in check(tables_of(plant.rows))] == [(("S2", "C9"), "a_enclosure")]


def test_a_loose_end_and_a_loop_are_no_breach():
    """One loose end of a cord and a loop of splices are accepted (and advised against)."""
    plant = sound()
    plant.splice("J1", ("LP", 2), ("LP", 2), "A", "B").cord(("P1", "2", "B"))
    assert check(plant.tables) == []


def test_blank_position_and_no_position_are_one():
    """A simplex port is found whether its position is blank or left out."""
    plant = Plant().panel("P1", 1, positions=("",)).panel("P2").cable("C1", "P1", "P2")
    plant.put("terminations", enclosure="P1", port="1", cable="C1", core=1)
    assert check(plant.tables) == []


def test_a_flood_of_problems_is_cut_off():
    """A file that is wrong in every row does not make a list that nobody reads."""
    plant = sound()
    for n in range(MOST + 50):
        plant.put("ports", enclosure="P9", port=str(n), position="")
    assert len(check(tables_of(plant.rows))) == MOST


def test_a_commit_that_breaks_a_rule_is_refused_whole(tmp_path):
    """Through the register: nothing of the edit lands, and the error lists the same problem."""
    reg = fibrebook.create(tmp_path / "register")
    put_all(reg, sound().rows)
    before = reg.commit
    with pytest.raises(fibrebook.RuleError) as caught, reg.edit(by="ts", why="wrong") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C8", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 2}])
        edit.put(
            "terminations", [{"site": "S1", "enclosure": "P1", "port": 2, "position": "A", "cable": "C1", "core": 1}]
        )
    assert [(p.table, p.key[:3]) for p in caught.value.problems] == [("terminations", ("S1", "P1", "1"))]
    assert reg.commit == before
    assert "C8" not in set(reg.table("cables", "S1")["cable"])
