"""What somebody at a site asks: each answer is held against the records, or against another teller of the same thing."""

from __future__ import annotations

import datetime as dt
import itertools
from pathlib import Path

import pytest
from demo_once import make_demo
from light_plant import duplex, register

import fibrebook
from fibrebook.analyses.paths.panel_and_tray import panel_rows, tray_rows
from fibrebook.errors import AmbiguousError, InputError, NotFoundError

SITES = ("Harbour", "Mill", "Secondary school", "Boatyard")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """The demo register, to be read only."""
    where = tmp_path_factory.mktemp("demo") / "register"
    make_demo(where)
    return fibrebook.open(where, read_only=True)


@pytest.fixture
def mill(tmp_path: Path) -> fibrebook.Register:
    """A site of one link, its channel complete."""
    return register(duplex("1000BASE-SX", "OM3", 300.0), tmp_path / "register")


# --- what is on a thing ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("site", SITES)
def test_what_is_on_a_cable_is_what_the_cross_reference_tells(demo: fibrebook.Register, site: str) -> None:
    """Core by core: its state, what it reaches both ways, its channel."""
    whole = fibrebook.cross_reference(demo, site).fillna("")
    for cable, mine in whole.groupby("cable"):
        told = fibrebook.what_is_on(demo, site, ("cable", cable)).fillna("")
        assert told["name"].tolist() == [f"{cable}/{n}" for n in mine["core"]]
        assert told["state"].tolist() == mine["state"].tolist()
        assert told["channel"].tolist() == mine["channel"].tolist()
        for way, end in (("one_way", "a"), ("other_way", "b")):
            for said, reaches, kind in zip(told[way], mine[f"{end}_reaches"], mine[f"{end}_reaches_kind"], strict=True):
                assert said in (f"{kind} {reaches}", "nothing joined")
                assert (said == "nothing joined") == (
                    kind == "core end" and reaches.startswith(f"{cable}/")
                ) or kind == "port"


@pytest.mark.parametrize("site", SITES)
def test_what_is_on_a_panel_a_tray_and_a_switch_is_all_of_it(demo: fibrebook.Register, site: str) -> None:
    """Every port of a panel with its channel, every splice of a tray, every interface of a switch: none left out."""
    for enclosure in demo.table("enclosures", site)["enclosure"]:
        told = fibrebook.what_is_on(demo, site, ("enclosure", enclosure)).fillna("")
        ports = panel_rows(demo, site, enclosure).fillna("")
        names = [
            "/".join(filter(None, row))
            for row in zip(ports["enclosure"], ports["port"], ports["position"], strict=True)
        ]
        mine = told[told["kind"] == "port"]
        assert sorted(mine["name"]) == sorted(names)
        assert dict(zip(mine["name"], mine["channel"], strict=True)) == dict(zip(names, ports["channel"], strict=True))
        splices = tray_rows(demo, site, enclosure).fillna("")
        for tray, here in splices.groupby("tray"):
            if tray:
                found = fibrebook.what_is_on(demo, site, ("tray", enclosure, tray))
                either = [{f"{r.a_cable}/{r.a_core}", f"{r.b_cable}/{r.b_core}"} for r in here.itertuples()]
                assert len(found) == len(here) and all(any(n in pair for pair in either) for n in found["name"])
    interfaces = demo.table("interfaces", site)
    for equipment, mine in interfaces.groupby("equipment"):
        told = fibrebook.what_is_on(demo, site, ("equipment", equipment))
        assert len(told) == len(mine) and set(told["kind"]) == {"interface"}


def test_what_is_on_a_port_or_an_interface_is_every_position_of_it(demo: fibrebook.Register) -> None:
    """Named without its position, none is left out; named with it, it stands alone."""
    for said, names in (
        ("SW2/25", ["SW2/25/Rx", "SW2/25/Tx"]), ("P1/2", ["P1/2/A", "P1/2/B"]), ("SW2/25/Tx", ["SW2/25/Tx"]),
    ):  # fmt: skip
        assert fibrebook.what_is_on(demo, "Harbour", said)["name"].tolist() == names


def test_what_is_on_a_channel_are_the_interfaces_that_send(demo: fibrebook.Register) -> None:
    """From each end, and where the light comes out."""
    told = fibrebook.what_is_on(demo, "Harbour", "CH1")
    assert told[["name", "one_way"]].values.tolist() == [
        ["SW1/49/Tx", "interface SW2/49/Rx"],
        ["SW2/49/Tx", "interface SW1/49/Rx"],
    ]
    with pytest.raises(NotFoundError, match=r"there are|did you mean|write"):
        fibrebook.what_is_on(demo, "Harbour", "SW77")


# --- a site in one look ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("site", SITES)
def test_about_a_site_tells_its_record_its_cables_and_what_is_open(demo: fibrebook.Register, site: str) -> None:
    """As recorded; spare as `spare` counts it; open snags and no settled one; the checks of `advice`; the last visit."""
    told = fibrebook.about_site(demo, site)
    about = dict([*told.groupby("about")])
    (record,) = demo.table("sites", site).to_dict("records")
    assert about["contact"]["told"].tolist() == [record["contact"]]
    assert about["access"]["told"].tolist() == [record["access"]]
    assert about["cable"]["name"].tolist() == sorted(demo.table("cables", site)["cable"], key=lambda c: c)
    (spare,) = fibrebook.spare(demo, site=site).to_dict("records")
    assert about["spare"]["told"].tolist() == [f"{spare['spare']} of {spare['total']} cores are spare"]
    snags = demo.table("snags", site)
    still = snags[snags["done_on"].isna()]["snag"].tolist()
    assert sorted(about["snag"]["name"] if "snag" in about else []) == sorted(still)
    checks = fibrebook.advice(demo, site)["check"].unique().tolist()
    assert (about["worth a second look"]["name"].tolist() if checks else []) == checks
    assert about["last visit"]["told"].iloc[0].startswith(str(demo.table("visits", site)["visited_on"].max())[:10])


def test_about_a_site_of_which_nothing_is_recorded_yet(tmp_path: Path) -> None:
    """One row: nothing is spare of nothing."""
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="begun") as edit:
        edit.put("sites", [{"site": "Byre"}])
    assert fibrebook.about_site(reg, "Byre")[["about", "told"]].values.tolist() == [["spare", "0 of 0 cores are spare"]]


# --- why there is no light ---------------------------------------------------------------------------------------------
def checks(reg: fibrebook.Register, said: object) -> list[list[str]]:
    """Where, and what to check there, in order."""
    told = fibrebook.why_no_light(reg, "S1", said)
    assert told["order"].tolist() == list(range(1, len(told) + 1))
    return told[["where", "check"]].values.tolist()


def test_without_a_fault_recorded_each_connection_is_looked_at_from_both_ends(mill: fibrebook.Register) -> None:
    """Both interfaces, then the panels from either side inwards; nothing that is not on the way."""
    told = checks(mill, "CH1")
    where = [row[0].split(" (")[0] for row in told if "untested" not in row[1]]
    first = [w for w in where if not w.startswith("channel")]
    assert [w.rsplit("/", 1)[0] for w in first[:4]] == ["interface SW1/1", "interface SW2/1", "port P1/1", "port P2/1"]


def test_what_the_records_say_is_wrong_comes_first(mill: fibrebook.Register) -> None:
    """A cord taken off, a faulty core, an open snag: each is the first thing told as soon as it is recorded."""
    cords = mill.table("patches", "S1")
    with mill.edit(by="RK", why="snag") as edit:
        edit.put(
            "snags",
            [{"site": "S1", "snag": "1", "what": "cracked adaptor", "where": "P1", "found_on": dt.date(2026, 1, 1)}],
        )
    told = fibrebook.why_no_light(mill, "S1", "CH1")
    assert told[told["why"].str.contains("cracked adaptor")]["where"].str.startswith("port P1/1").all()
    cable = mill.table("cables", "S1")["cable"].iloc[0]
    with mill.edit(by="RK", why="dug up") as edit:
        edit.put("cores", [{"site": "S1", "cable": cable, "core": 1, "condition": "faulty"}])
    first = fibrebook.why_no_light(mill, "S1", "CH1").iloc[0]
    assert first["where"].startswith(f"core {cable}/1") and first["why"] == "it is recorded as faulty"
    one = cords.iloc[0]
    with mill.edit(by="RK", why="taken off") as edit:
        edit.remove(
            "patches", [("S1", one["cord"], strand) for strand in cords[cords["cord"] == one["cord"]]["strand"]]
        )
    first = fibrebook.why_no_light(mill, "S1", ("port", "P2", "1", "A")).iloc[0]
    assert "ends here: nothing is joined to it" in first["why"]


def test_a_channel_whose_transmit_meets_transmit_says_so_first(demo: fibrebook.Register) -> None:
    """The demo's one channel of wrong polarity; the caution stands over the whole answer, not in each line."""
    first = fibrebook.why_no_light(demo, "Secondary school", "CH7").iloc[0]
    assert (first["where"], first["why"]) == ("channel CH7", "transmit reaches transmit")
    assert "Never look" not in first["check"]


@pytest.mark.parametrize("site", SITES)
def test_every_channel_has_an_answer_and_names_only_what_is_on_its_way(demo: fibrebook.Register, site: str) -> None:
    """Whatever is named is the channel or lies on one of its two paths."""
    for row in demo.table("channels", site).to_dict("records"):
        told = fibrebook.why_no_light(demo, site, ("channel", row["channel"]))
        on_way = {f"channel {row['channel']}"}
        for end in "ab":
            at, interface = row[f"{end}_equipment"], row[f"{end}_interface"]
            for one in (
                demo.table("interfaces", site).query("equipment == @at and interface == @interface").itertuples()
            ):
                path = fibrebook.trace(demo, site, ("interface", at, interface, one.position))
                named = path[["kind", "at", "name"]].itertuples(index=False)
                on_way |= {f"{kind} {where}/{name}" for kind, where, name in named}
        assert len(told) and {where.split(" (")[0] for where in told["where"]} <= on_way


# --- the spare ones ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("site", SITES)
def test_the_spare_strands_named_are_as_many_as_are_counted(demo: fibrebook.Register, site: str) -> None:
    """Between every two enclosures, either way round; each core of them is ready, its ends at the ports that are named."""
    cores = fibrebook.cross_reference(demo, site).set_index(["cable", "core"])
    for here, there in itertools.combinations(demo.table("enclosures", site)["enclosure"], 2):
        told = fibrebook.spare_strands(demo, site, here, there)
        counts = fibrebook.spare_between(demo, site, here, there).set_index("level")["strands"]
        assert len(told) == counts["now"]
        back = fibrebook.spare_strands(demo, site, there, here)
        assert sorted(zip(back["to"], back["from"], strict=True)) == sorted(zip(told["from"], told["to"], strict=True))
        for row in told.itertuples():
            assert row.cores.count("/") >= 1
            for one in row.cores.split(" + "):
                cable, core = one.rsplit("/", 1)
                found = cores.loc[(cable, int(core))]
                assert found["state"] == "ready"
                assert {found["a_reaches"], found["b_reaches"]} == {row[2], row[3]}


# --- a month -----------------------------------------------------------------------------------------------------------
def test_a_month_tells_what_was_saved_under_somebodys_initials(tmp_path: Path) -> None:
    """Only theirs, of that month, counted by kind and by what was done; no such month and nobody are said in words."""
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="begun") as edit:
        edit.put("sites", [{"site": "Byre"}, {"site": "Mill"}])
        edit.put("locations", [{"site": "Byre", "location": "Loft"}])
    with reg.edit(by="TB", why="contact") as edit:
        edit.put("sites", [{"site": "Byre", "contact": "the keeper"}])
    with reg.edit(by="RK", why="hazards") as edit:
        edit.put("sites", [{"site": "Byre", "hazards": "bull"}, {"site": "Mill", "hazards": "race"}])
    told = fibrebook.month_of(reg, "rk")
    assert told["why"].tolist() == ["begun", "hazards"]
    assert told["work"].tolist() == ["2 sites added, 1 location added", "2 sites changed"]
    assert told["sites"].tolist() == ["Byre, Mill", "Byre, Mill"]
    this = f"{reg.log()['time_utc'].iloc[-1]:%Y-%m}"
    assert fibrebook.month_of(reg, "RK", this)["commit"].tolist() == [1, 3]
    assert fibrebook.month_of(reg, "RK", "1999-12").empty
    with pytest.raises(NotFoundError, match="there are: RK, TB"):
        fibrebook.month_of(reg, "XY")
    for wrong in ("October", "2026-13", "2026-1"):
        with pytest.raises(InputError, match="is no month"):
            fibrebook.month_of(reg, "RK", wrong)


# --- a core by its colour ----------------------------------------------------------------------------------------------
def test_which_takes_a_core_by_its_colour_and_number(demo: fibrebook.Register) -> None:
    """The one that is meant is told as by its label; where several are meant, all are named, with why."""
    by_label = fibrebook.which(demo, "Harbour", "HO-FM/1/19")
    for said in ("HO-FM/1 orange 7", ("HO-FM/1", "orange", "7"), "ho-fm/1 Orange 7"):
        assert (
            fibrebook.which(demo, "Harbour", said).to_dict("records")[0]["start"].tolist()
            == by_label["start"][0].tolist()
        )
    with pytest.raises(AmbiguousError, match=r"HO-FM/1/19 \(orange tube, core 7 in it") as caught:
        fibrebook.which(demo, "Harbour", "orange 7")
    assert ("core", "HO-FM/1", "19") in caught.value.meant
    with pytest.raises(NotFoundError, match="write cable/core"):
        fibrebook.which(demo, "Harbour", "ultramarine 7")
