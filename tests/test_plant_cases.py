"""Small plants made by hand, each a sentence of what the answers mean."""

from __future__ import annotations

from pathlib import Path

import pytest
from hand_plant import Plant
from plants import put_all, tables_of

import fibrebook
from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.analyses.spare.spare import spare_cores
from fibrebook.plant.light_ways import VERDICTS, light_ways
from fibrebook.records.rules.check import check
from fibrebook.snapshot.snapshot import PlantSnapshot


def three_buildings():
    """P1 in one building, P2 in the next, P3 in a third; C1 from 1 to 2, C2 from 2 to 3."""
    plant = Plant().panel("P1").panel("P2").panel("P3")
    plant.cable("C1", "P1", "P2").cable("C2", "P2", "P3")
    return plant.make_off("P1", "1A", "C1", 1).make_off("P3", "1A", "C2", 1)


def test_onward_hop_by_splice():
    """A core spliced on reaches the third building, and counts as made off at both ends."""
    plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1))
    core = plant.cores()["C1", 1]
    assert (core["a_port"], core["b_port"], core["b_reaches"], core["state"]) == ("1", "", "P3/1/A", "ready")
    assert plant.cores()["C2", 1]["a_reaches"] == "P1/1/A"
    assert plant.trace("core", "C1", 1) == [
        ("port", "P1", "1/A"), ("core", "C1", "1"), ("splice", "P2", "1/1"), ("core", "C2", "1"), ("port", "P3", "1/A"),
    ]  # fmt: skip


def test_onward_hop_by_cord():
    """A cord between two ports of the middle panel carries on to the third building; both cores are then patched."""
    plant = three_buildings().make_off("P2", "1A", "C1", 1).make_off("P2", "2A", "C2", 1)
    assert plant.cores()["C1", 1]["b_reaches"] == "P2/1/A"
    plant.cord(("P2", "1", "A"), ("P2", "2", "A"))
    core = plant.cores()["C1", 1]
    assert (core["b_port"], core["b_reaches"], core["state"]) == ("1", "P3/1/A", "patched")
    middle = [("port", "P2", "2/A"), ("cord", "K1", "1"), ("port", "P2", "1/A")]
    assert plant.trace("port", "P3", "1", "A")[2:5] == middle


def test_joint_closure_mid_route():
    """Through a closure mid-route some cores go on, one is split off, one stays in its tray."""
    plant = Plant().panel("P1").panel("J1", ports=0, kind="joint closure").panel("P2").panel("P3")
    plant.cable("C1", "P1", "J1").cable("C2", "J1", "P2").cable("C3", "J1", "P3")
    plant.splice("J1", ("C1", 1), ("C2", 1)).splice("J1", ("C1", 2), ("C3", 1)).make_off("P3", "2B", "C3", 1)
    cores = plant.cores()
    assert [cores["C1", n]["b_reaches"] for n in (1, 2, 3)] == ["C2/1/B", "P3/2/B", "C1/3/B"]
    assert [cores["C1", n]["b_reaches_kind"] for n in (1, 2, 3)] == ["core end", "port", "core end"]
    assert [cores["C1", n]["state"] for n in (1, 2, 3)] == ["unterminated", "half-terminated", "unterminated"]


def test_mechanical_splice_joins_like_a_fusion_splice():
    """How a splice was made changes what it may lose, never where it leads."""
    for method in ("fusion", "mechanical"):
        plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1), method=method)
        assert plant.cores()["C1", 1]["b_reaches"] == "P3/1/A"
    rows = trace_table(plant.seen, "S1", ("core", "C1", 1)).to_pylist()
    assert [(r["loss_db"] > 0, r["basis"]) for r in rows if r["kind"] == "splice"] == [(True, "catalogue")]


def test_both_ends_in_one_enclosure():
    """A cable that leaves a closure and comes back to it is joined at the ends that the splices name."""
    plant = Plant().panel("P1").panel("J1", ports=0, kind="joint closure").panel("P2")
    plant.cable("C1", "P1", "J1").cable("LP", "J1", "J1").cable("C2", "J1", "P2")
    plant.splice("J1", ("C1", 1), ("LP", 1), b_end="B").splice("J1", ("LP", 1), ("C2", 1), a_end="A")
    plant.make_off("P1", "1A", "C1", 1).make_off("P2", "1A", "C2", 1)
    loop = plant.cores()["LP", 1]
    assert (loop["a_reaches"], loop["b_reaches"], loop["state"]) == ("P2/1/A", "P1/1/A", "ready")
    assert [e[1] for e in plant.trace("core", "C1", 1) if e[0] == "core"] == ["C1", "LP", "C2"]


def test_loose_end_of_a_cord():
    """A cord that hangs loose is told by its own label; the core behind it is patched, not ready."""
    plant = three_buildings().make_off("P2", "1A", "C1", 1).cord(("P1", "1", "A"))
    core = plant.cores()["C1", 1]
    assert (core["a_reaches_kind"], core["a_reaches_at"], core["a_reaches_port"]) == ("loose end", "K1", "1")
    assert core["state"] == "patched"
    assert plant.trace("core", "C1", 1)[0] == ("loose end", "K1", "1")


def test_a_loop_is_named_and_not_followed():
    """A path that closes on itself ends its trace there, is no spare strand, and is advised against."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2").cable("C2", "P1", "P2")
    plant.splice("P1", ("C1", 1), ("C2", 1)).splice("P2", ("C1", 1), ("C2", 1))
    core = plant.cores()["C1", 1]
    assert (core["a_reaches"], core["b_reaches"], core["a_reaches_kind"]) == ("loop", "loop", "loop")
    assert (core["a_reaches_at"], core["state"]) == ("", "unterminated")
    assert [e[1] for e in plant.trace("core", "C1", 1)] == ["P1", "C2", "P2", "C1"]
    assert plant.between("P1", "P2")["splicing"][0] == 6  # three cores each are left beside the loop
    assert ("loop", "C1") in plant.advice()


def test_end_a_to_end_b_of_one_core_is_a_loop():
    """Both ends of one core joined together may be recorded; it is a loop of one core."""
    plant = Plant().panel("J1").cable("LP", "J1", "J1").splice("J1", ("LP", 1), ("LP", 1), "A", "B")
    assert plant.cores()["LP", 1]["b_reaches"] == "loop"
    assert plant.cores()["LP", 2]["b_reaches"] == "LP/2/B"


def test_double_use_is_named():
    """Where raw tables use a core end twice, the later joint is left out and named; the answer does not hang."""
    plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1)).splice("P2", ("C1", 1), ("C2", 2))
    tables = tables_of(plant.rows)
    assert any("joined twice" in p.what for p in check(tables))
    seen = PlantSnapshot(tables)
    assert seen.network.double_use == [("splice", 1)]
    told = {(r["cable"], r["core"]): r["b_reaches"] for r in cross_reference_table(seen).to_pylist()}
    assert told["C1", 1] == "P3/1/A"


def duplex(turned=(("A", "Tx"), ("B", "Rx")), far=(("A", "Rx"), ("B", "Tx")), strands=2):
    """Two switches over one duplex link of cores 1 and 2, patched as said at each end."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2").switch("SW1", "1").switch("SW2", "1")
    for core, position in ((1, "A"), (2, "B")):
        plant.make_off("P1", f"1{position}", "C1", core).make_off("P2", f"1{position}", "C1", core)
    for panel, switch, pairs in (("P1", "SW1", turned), ("P2", "SW2", far)):
        for position, way in pairs[:strands]:
            plant.cord((panel, "1", position), (switch, "1", way))
    return plant.channel("CH1", ("SW1", "1"), ("SW2", "1"))


def verdicts(plant):
    """Where the light of each sender comes out, in words."""
    return [VERDICTS[v] for v in light_ways(plant.net).verdict]


def test_polarity_right():
    """Transmit reaches receive both ways where the pair is turned over once."""
    plant = duplex()
    assert verdicts(plant) == ["transmit reaches receive"] * 2
    assert [plant.cores()["C1", n]["state"] for n in (1, 2)] == ["in service"] * 2
    assert ("polarity wrong", "CH1") not in plant.advice()


def test_polarity_crossed():
    """Transmit reaches transmit where it is not; the cores are in service all the same, and advice says so."""
    plant = duplex(far=(("A", "Tx"), ("B", "Rx")))
    assert verdicts(plant) == ["transmit reaches transmit"] * 2
    assert plant.cores()["C1", 1]["state"] == "in service"
    assert ("polarity wrong", "CH1") in plant.advice()


def test_one_strand_only():
    """One strand patched of two: that strand's core is in service, the other ready, and the channel is incomplete."""
    plant = duplex(strands=1)
    cores = plant.cores()
    assert [cores["C1", n]["state"] for n in (1, 2)] == ["in service", "ready"]
    assert [cores["C1", n]["channel"] for n in (1, 2)] == ["CH1", ""]
    assert verdicts(plant) == ["transmit reaches receive", "light does not arrive"]
    assert ("path not complete", "CH1") in plant.advice()


def test_a_channel_needs_both_its_interfaces():
    """A whole path between two interfaces that are not one channel's is patched, not in service."""
    plant = duplex()
    plant.rows["channels"].clear()
    assert plant.cores()["C1", 1]["state"] == "patched"
    plant.switch("SW3", "1").channel("CH1", ("SW1", "1"), ("SW3", "1"))
    assert plant.cores()["C1", 1]["state"] == "patched"
    assert ("path not complete", "CH1") in plant.advice()


def test_faulty_core_shuts_off_its_neighbour():
    """A sound core spliced to a faulty one counts as not made off on that side, and no strand runs through it."""
    plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1))
    assert plant.between("P1", "P3")["now"][0] == 1
    plant.put("cores", cable="C2", core=1, condition="faulty", fault_m=3.5)
    cores = plant.cores()
    assert (cores["C1", 1]["state"], cores["C2", 1]["state"]) == ("half-terminated", "faulty")
    assert cores["C1", 1]["b_reaches"] == "P3/1/A"  # what is joined stays joined
    assert plant.between("P1", "P3")["now"][0] == 0
    told = {(r["cable"], r["core"]): r["why_not"] for r in spare_cores(plant.net).to_pylist()}
    assert told["C2", 1] == "faulty, 3.5 m from end A"


def test_reserved_holds_for_the_whole_path_and_names_the_core():
    """One reserved core keeps every core on its path, and each of them says which core that is."""
    plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1))
    plant.put("cores", cable="C2", core=1, reserved_for="gate camera")
    told = {(r["cable"], r["core"]): r for r in spare_cores(plant.net).to_pylist()}
    for cable in ("C1", "C2"):
        assert (told[cable, 1]["state"], told[cable, 1]["spare"]) == ("reserved", False)
        assert told[cable, 1]["why_not"] == "reserved for gate camera (core 1 of cable C2)"
    assert plant.between("P1", "P3")["now"] == (0, [])


def test_states_stand_in_their_order():
    """Faulty before in service before patched before reserved, on one and the same core."""
    plant = duplex()
    plant.put("cores", cable="C1", core=1, reserved_for="later")
    assert plant.cores()["C1", 1]["state"] == "in service"
    plant.rows["channels"].clear()
    assert plant.cores()["C1", 1]["state"] == "patched"
    plant.rows["patches"].clear()
    assert plant.cores()["C1", 1]["state"] == "reserved"
    plant.rows["cores"][0]["condition"] = "faulty"
    assert plant.cores()["C1", 1]["state"] == "faulty"


def test_equal_labels_at_two_sites_do_not_meet():
    """The same cable, panel and port labels at two sites are two plants."""
    one = three_buildings().splice("P2", ("C1", 1), ("C2", 1))
    other = three_buildings()
    other.site = "S2"
    for name, rows in other.rows.items():
        one.rows[name] += [{**r, "site": "S2"} for r in rows]
    told = {(r["site"], r["cable"], r["core"]): r for r in cross_reference_table(one.seen).to_pylist()}
    assert told["S1", "C1", 1]["b_reaches"] == "P3/1/A"
    assert (told["S2", "C1", 1]["b_reaches"], told["S2", "C1", 1]["state"]) == ("C1/1/B", "half-terminated")


def test_labels_with_slashes_are_told_apart_by_columns():
    """A slash in a label leaves the structured columns true, whatever the text looks like."""
    plant = Plant().panel("HO/FM", ports=1, positions=("",)).panel("HO", ports=0)
    plant.put("ports", enclosure="HO", port="FM/1", position="").cable("C/1", "HO/FM", "HO", cores=2)
    plant.make_off("HO/FM", "1", "C/1", 1)
    plant.put("terminations", enclosure="HO", port="FM/1", position="", cable="C/1", core=1)
    core = plant.cores()["C/1", 1]
    assert core["a_reaches"] == core["b_reaches"] == "HO/FM/1"
    assert (core["a_reaches_at"], core["a_reaches_port"]) == ("HO/FM", "1")
    assert (core["b_reaches_at"], core["b_reaches_port"]) == ("HO", "FM/1")


def test_colours_with_tracers():
    """In one tube of 24, core 13 is blue again, with the tracer in a column of its own; tubes are coloured in turn."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2", cores=24)
    plant.cable("C2", "P1", "P2", cores=24, cores_per_tube=12)
    cores = plant.cores()
    # TIA-598: blue is the first of twelve, orange the second; positions 13 to 24 repeat them with a tracer
    assert [cores["C1", n]["core_colour"] for n in (1, 2, 13, 14)] == ["blue", "orange", "blue", "orange"]
    assert [bool(cores["C1", n]["core_tracer"]) for n in (12, 13)] == [False, True]
    assert [cores["C2", n]["tube_colour"] for n in (1, 12, 13)] == ["blue", "blue", "orange"]
    assert (cores["C2", 13]["core_colour"], cores["C2", 13]["core_tracer"]) == ("blue", None)


def made_off_both_ways(far_ports):
    """Cores 1 to 4 on ports 1A, 1B, 2A, 2B at end A, and on these at end B."""
    plant = Plant().panel("P1").panel("P2").panel("P3", positions=("",)).cable("C1", "P1", "P2").cable("C2", "P1", "P3")
    for core, near, far in zip((1, 2, 3, 4), ("1A", "1B", "2A", "2B"), far_ports, strict=True):
        on_p3 = far.isdigit()
        cable = "C2" if on_p3 else "C1"
        plant.make_off("P1", near, cable, core).make_off("P3" if on_p3 else "P2", far, cable, core)
    return plant


def test_order_of_colours_at_the_two_ends():
    """Advised where cores changed places; not where all pairs are turned over, nor from duplex to simplex ports."""
    for far in (("1A", "1B", "2A", "2B"), ("1B", "1A", "2B", "2A"), ("1", "2", "3", "4")):
        assert [a for a in made_off_both_ways(far).advice() if a[0] == "colour order differs"] == []
    for far in (("1A", "1B", "2B", "2A"), ("1A", "2A", "1B", "2B")):
        assert ("colour order differs", "C1") in made_off_both_ways(far).advice()
    assert ("colour order differs", "C2") in made_off_both_ways(("1", "3", "2", "4")).advice()


def test_correcting_a_cable_keeps_what_is_joined(tmp_path):
    """Mending a cable's core count or colour code leaves its joints as they were; too small a count is refused."""
    plant = three_buildings().splice("P2", ("C1", 1), ("C2", 1)).make_off("P2", "2A", "C1", 4)
    reg = fibrebook.create(tmp_path / "register")
    put_all(reg, plant.rows)
    before = fibrebook.cross_reference(reg, "S1").set_index(["cable", "core"])
    with reg.edit(by="ts", why="it has twelve") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 12, "colour_code": "IEC 60304"}])
    after = fibrebook.cross_reference(reg, "S1").set_index(["cable", "core"])
    assert len(after) == len(before) + 8
    joined = ["a_port", "b_port", "a_reaches", "b_reaches", "state"]
    assert after.loc[before.index, joined].equals(before[joined])
    assert (before["core_colour"]["C1", 2], after["core_colour"]["C1", 2]) == ("orange", "green")  # second of each code
    with pytest.raises(fibrebook.RuleError, match="core 4"), reg.edit(by="ts", why="three?") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 3}])


def test_one_of_several_sites_answers_for_itself(tmp_path):
    """Asked for one site of many, every answer tells of that site alone."""
    reg = fibrebook.create(tmp_path / "register")
    for site in ("A", "B", "C"):
        plant = three_buildings()
        put_all(reg, {name: [{**r, "site": site} for r in rows] for name, rows in plant.rows.items()})
    for by in ("core", "cable", "site"):
        assert set(fibrebook.spare(reg, by=by, site="C")["site"]) == {"C"}
    assert set(fibrebook.cross_reference(reg, "B")["site"]) == {"B"}
    assert set(fibrebook.advice(reg, "C")["site"]) == {"C"}


def test_levels_of_spare_strands():
    """Ready strands now; more by patching in the middle room; more again by splicing what is not made off."""
    plant = Plant().panel("P1", location="hut").panel("P2", location="hall").panel("P3", location="barn")
    plant.cable("C1", "P1", "P2").cable("C2", "P2", "P3", cores=3)
    plant.splice("P2", ("C1", 1), ("C2", 1)).make_off("P1", "1A", "C1", 1).make_off("P3", "1A", "C2", 1)
    plant.make_off("P1", "1B", "C1", 2).make_off("P2", "1B", "C1", 2)
    plant.make_off("P2", "2B", "C2", 2).make_off("P3", "1B", "C2", 2)
    levels = plant.between("hut", "barn")
    assert [levels[level][0] for level in ("now", "patching", "splicing")] == [1, 2, 3]
    assert levels["splicing"][1] == ["C2"]  # three cores run out before four do
    assert plant.between("hut", "P2")["patching"][0] == 2  # the second goes to the barn and back


def test_strands_that_fit_count_the_free_ports():
    """Six cores may be spliced through, but each takes a free port at either end: the smaller panel has four left."""
    plant = Plant().panel("P1", 4, location="hut").panel("P2", 3, location="barn").cable("C1", "P1", "P2", cores=6)
    told = plant.fit("hut", "barn")
    assert (told.strands, told.stops) == (6, ("cable C1",))
    plant.cord(("P2", "1", "A")).cord(("P2", "1", "B"))  # nothing on their rear, a plug in their front
    told = plant.fit("hut", "barn")
    assert (told.strands, told.stops) == (4, ("free ports of P2 (4)",))


def test_what_stops_a_strand_is_named_at_nought():
    """A room whose box has no port at all takes no strand, and the box is named."""
    plant = Plant().panel("P1", 4, location="hut").panel("P2", 0, location="barn").cable("C1", "P1", "P2", cores=6)
    assert plant.between("hut", "barn")["splicing"][0] == 6
    told = plant.fit("hut", "barn")
    assert (told.strands, told.stops) == (0, ("no free port in P2",))


def test_a_splice_on_the_way_takes_no_port():
    """Core ends that meet in one box are spliced there; in two boxes of one room they need a port each and a cord."""
    plant = Plant().panel("P1", 4, location="hut").panel("P2", 0, location="hall").panel("P3", 4, location="barn")
    plant.cable("C1", "P1", "P2").cable("C2", "P2", "P3")
    assert plant.fit("hut", "barn").strands == 4
    other = Plant().panel("P1", 4, location="hut").panel("P2", 1, location="hall").panel("P4", 2, location="hall")
    other.panel("P3", 4, location="barn").cable("C1", "P1", "P2").cable("C2", "P4", "P3")
    told = other.fit("hut", "barn")
    assert (told.strands, told.stops) == (2, ("free ports of P2 (2)",))


def test_closures_in_one_place_are_not_one_place():
    """Cores that end in two closures in the same chamber cannot be spliced to each other; in one closure they can."""
    plant = Plant().panel("P1").panel("J1", 0, "chamber", "joint closure").panel("J2", 0, "chamber", "joint closure")
    plant.panel("P2").cable("C1", "P1", "J1").cable("C2", "J2", "P2")
    assert plant.between("P1", "P2")["splicing"][0] == 0
    plant.cable("C3", "J1", "J2", 2)
    assert plant.between("P1", "P2")["splicing"] == (2, ["C3"])


def test_fibres_of_two_kinds_never_make_one_strand():
    """A single-mode and a multimode cable that meet in a room give no strand through it."""
    plant = Plant().panel("P1").panel("P2", location="hall").panel("P3")
    plant.cable("C1", "P1", "P2", fibre_class="OS2").cable("C2", "P2", "P3", fibre_class="OM3")
    assert plant.between("P1", "P3")["splicing"][0] == 0
    assert plant.between("P1", "hall")["splicing"][0] == 4


def test_a_start_that_is_not_there_is_told_what_is():
    """A wrong cable, core number, port or position names what there is instead."""
    plant = three_buildings()
    for start, hint in (
        (("core", "C9", 1), "C1"),
        (("core", "C1", 9), "1 to 4"),
        (("port", "P1", "99", "A"), "there are"),
        (("port", "P1", "1"), "'A', 'B'"),
        (("cable", "C1"), "is no start"),
    ):
        with pytest.raises(fibrebook.NotFoundError, match=hint):
            plant.trace(*start)


def test_what_can_be_patched_can_still_be_patched_where_splicing_is_allowed(tmp_path: Path) -> None:
    """A strand that ends on a port in a closure is patched on in the room: more freedom never gives fewer strands."""
    reg = fibrebook.create(tmp_path / "register", name="Closure with ports")
    places = {"A": "ra", "J": "hall", "D": "hall", "B": "rb"}
    with reg.edit("AB", "made") as edit:
        edit.put("sites", {"site": "S"})
        edit.put("locations", [{"site": "S", "location": x} for x in ("ra", "hall", "rb")])
        kinds = {"J": "joint closure"}
        edit.put(
            "enclosures",
            [
                {"site": "S", "enclosure": e, "location": at, "kind": kinds.get(e, "rack panel")}
                for e, at in places.items()
            ],
        )
        edit.put("ports", [{"site": "S", "enclosure": e, "port": "1", "position": ""} for e in places])
        ends = {"C1": ("A", "J"), "C2": ("D", "B")}
        edit.put(
            "cables",
            [
                {"site": "S", "cable": c, "core_count": 1, "a_enclosure": a, "b_enclosure": b}
                for c, (a, b) in ends.items()
            ],
        )
        edit.put(
            "terminations",
            [
                {"site": "S", "enclosure": e, "port": "1", "position": "", "cable": c, "core": 1, "end": end}
                for c, pair in ends.items()
                for e, end in zip(pair, "AB", strict=True)
            ],
        )
    told = fibrebook.spare_between(reg, "S", "A", "B")
    assert told["strands"].tolist() == [0, 1, 1]
