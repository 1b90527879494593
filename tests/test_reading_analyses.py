"""What goes dark, growth of use, spare between buildings, what if, and an enclosure with its door open."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from demo_once import make_demo
from hand_plant import Plant

import fibrebook
from fibrebook.analyses.paths.goes_dark import goes_dark_table
from fibrebook.analyses.paths.panel_and_tray import panel_rows, tray_rows
from fibrebook.analyses.spare.growth import by_dates
from fibrebook.errors import InputError, NotFoundError
from fibrebook.register.store.state import utc_text

TODAY = dt.date(2026, 11, 20)


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """The demo firm's register."""
    where = tmp_path_factory.mktemp("demo") / "register"
    make_demo(where)
    return fibrebook.open(where)


def two_panels() -> Plant:
    """Two switches, two panels, a cable of four cores; one duplex channel on cores 1 and 2."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2").switch("SW1", "1", "2").switch("SW2", "1")
    for core, port in ((1, "1A"), (2, "1B"), (3, "2A"), (4, "2B")):
        plant.make_off("P1", port, "C1", core).make_off("P2", port, "C1", core)
    plant.cord(("SW1", "1", "Tx"), ("P1", "1", "A")).cord(("SW1", "1", "Rx"), ("P1", "1", "B"))
    plant.cord(("P2", "1", "A"), ("SW2", "1", "Rx")).cord(("P2", "1", "B"), ("SW2", "1", "Tx"))
    return plant.channel("CH1", ("SW1", "1"), ("SW2", "1"))


def dark(plant: Plant, *start: Any) -> list[tuple[str, int]]:
    """Channels that go dark, with the strands of each."""
    rows = goes_dark_table(plant.seen, plant.site, start).to_pylist()
    return [(r["channel"], r["strands"]) for r in rows]


@pytest.mark.parametrize(
    ("start", "strands"),
    [
        (("cable", "C1"), 2),
        (("enclosure", "P1"), 2),
        (("port", "P1", "1"), 2),
        (("port", "P1", "1", "A"), 1),
        (("core", "C1", 2), 1),
        (("interface", "SW1", "1", "Tx"), 1),
        (("equipment", "SW2"), 2),
        (("cord", "K1"), 1),
    ],
)
def test_a_channel_goes_dark_with_anything_on_its_path(start: tuple[Any, ...], strands: int) -> None:
    """Whatever of its path is unplugged, the channel is named, with how many of its fibres pass there."""
    assert dark(two_panels(), *start) == [("CH1", strands)]


def test_what_no_channel_passes_goes_dark_alone() -> None:
    """A spare core, a free port: nothing."""
    assert dark(two_panels(), "core", "C1", 3) == []
    assert dark(two_panels(), "port", "P2", "2") == []


def test_light_without_a_channel_is_told() -> None:
    """A cord from an interface that no channel claims is told as what may carry light."""
    plant = two_panels().cord(("SW1", "2", "Tx"), ("P1", "2", "A"))
    rows = goes_dark_table(plant.seen, plant.site, ("core", "C1", 3)).to_pylist()
    assert [(r["channel"], r["purpose"]) for r in rows] == [("", "no channel recorded, may carry light")]
    assert {rows[0]["a"], rows[0]["b"]} == {"SW1/2/Tx", "P2/2/A"}


def test_an_unknown_thing_is_named_with_what_is_there() -> None:
    """A misspelt cable, port, tray, cord or equipment is told with the nearest label, or with those that there are."""
    for start in (("cable", "C9"), ("port", "P1", "9"), ("tray", "P1", "1"), ("cord", "K9"), ("equipment", "SW9")):
        with pytest.raises(NotFoundError, match=r"has no .*(did you mean|there are)"):
            goes_dark_table(two_panels().seen, "S1", start)


@pytest.mark.parametrize("site", ["Harbour", "Marina", "Quarry"])
def test_goes_dark_agrees_with_every_channel_traced(reg: fibrebook.Register, site: str) -> None:
    """By array work the same channels are found as by tracing each channel and looking what lies on its path."""
    on: dict[tuple[str, str], set[str]] = {}
    for row in reg.table("channels", site).to_dict("records"):
        for face in reg.table("interfaces", site).to_dict("records"):
            if (face["equipment"], face["interface"]) != (row["a_equipment"], row["a_interface"]):
                continue
            path = fibrebook.trace(
                reg, site, ("interface", face["equipment"], face["interface"], face["position"] or "")
            )
            for kind, at in zip(path["kind"], path["at"], strict=True):
                on.setdefault((kind, at), set()).add(row["channel"])
    for cable in reg.table("cables", site)["cable"]:
        found = set(fibrebook.goes_dark(reg, site, ("cable", cable))["channel"]) - {""}
        assert found == on.get(("core", cable), set())
    for enclosure in reg.table("enclosures", site)["enclosure"]:
        found = set(fibrebook.goes_dark(reg, site, ("enclosure", enclosure))["channel"]) - {""}
        assert found == on.get(("port", enclosure), set()) | on.get(("splice", enclosure), set())


def days(*texts: str) -> Any:
    """Days since 1970."""
    import numpy as np

    return np.array([(dt.date.fromisoformat(t) - dt.date(1970, 1, 1)).days for t in texts], np.int64)


def test_use_is_counted_at_the_end_of_each_year() -> None:
    """Cores that came into use in a year are in the count of its last day and of all later ones."""
    past = by_dates(days("2023-03-01", "2023-12-31", "2024-01-01", "2025-06-01"), TODAY)
    assert [d.year for d in past.days] == [2023, 2024, 2025]
    assert past.in_use == [2, 3, 4]


def test_undated_cores_are_said_and_give_no_answer_when_many() -> None:
    """One core in ten without a day counts as old; half of them without one and there is no answer."""
    import numpy as np

    nine = days(*["2023-03-01"] * 9)
    assert by_dates(np.append(nine, -1), TODAY).in_use == [10, 10, 10]
    past = by_dates(np.append(days("2023-03-01"), -1), TODAY)
    assert past.days == [] and "1 of 2" in past.lacks


def test_growth_is_cores_a_year_since_the_site_was_built(reg: fibrebook.Register) -> None:
    """Boatyard: 4 cores at the end of 2024, 6 on 2026-11-20, so 2 in 1.886 years; one spare core is gone in 2027."""
    found = fibrebook.spare_growth(reg, "Boatyard", TODAY).iloc[0]
    assert (found["from_in_use"], found["in_use"], found["spare"]) == (4, 6, 1)
    assert found["growth_per_year"] == pytest.approx(2 / ((TODAY - dt.date(2024, 12, 31)).days / 365.25))
    assert (found["runs_out"], found["said"], found["basis"]) == (2027, "none left in 2027", "dates")


def test_sites_that_run_out_first_stand_first(reg: fibrebook.Register) -> None:
    """None left, then by year; no year is named without growth or without a year of history."""
    found = fibrebook.spare_growth(reg, today=TODAY)
    assert set(found["site"].head(3)) == {"Depot", "Brewery", "Grain store"}
    years = found["runs_out"].dropna().tolist()
    assert years == sorted(years)
    assert found.set_index("site").loc["Foundry", "said"].startswith("no answer")
    assert found.set_index("site").loc["Stud", "said"] == "no growth"


def test_growth_by_commits_where_the_register_is_old_enough(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A register that has seen two year ends is asked itself, not today's records."""
    stamp = {"now": dt.datetime(2023, 5, 1, 8, tzinfo=dt.UTC)}
    monkeypatch.setattr("fibrebook.register.commits.writing.utc_text", lambda when=None: utc_text(when or stamp["now"]))
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="built") as edit:
        for kind, rows in two_panels().rows.items():
            edit.put(kind, rows)
    stamp["now"] = dt.datetime(2025, 3, 1, 8, tzinfo=dt.UTC)
    with reg.edit(by="RK", why="another pair patched") as edit:
        edit.put(
            "patches", [{"site": "S1", "cord": "K9", "strand": "1", "a_at": "P1", "a_port": "2", "a_position": "A"}]
        )
    found = fibrebook.spare_growth(reg, "S1", TODAY).iloc[0]
    used = fibrebook.in_use_by_year(reg, "S1", TODAY)
    assert used[["year", "in_use"]].to_numpy().tolist() == [[2023, 2], [2024, 2], [2025, 3]]
    assert (found["basis"], found["from_in_use"], found["in_use"]) == ("commits", 2, 3)


def test_routes_between_buildings_agree_with_the_planted_strands(reg: fibrebook.Register) -> None:
    """Harbour office to ice house: 2 now, 7 by patching, 11 by splicing, as data/README.md's facts say."""
    found = fibrebook.spare_routes(reg, "Harbour").set_index(["here", "there"])
    route = found.loc[("Harbour office", "Ice house")]
    assert route[["now", "patching", "splicing"]].tolist() == [2, 7, 11]
    assert not route["direct"]
    assert found["splicing"].is_monotonic_increasing


def test_chambers_are_passed_through_not_asked_for(reg: fibrebook.Register) -> None:
    """A place with nothing but joint closures is no end of a route; what it joins counts as joined directly."""
    found = fibrebook.spare_routes(reg, "Marina")
    assert "Bridgehead" not in set(found["here"]) | set(found["there"])
    assert len(fibrebook.spare_routes(reg, "Marina", all_pairs=False)) == 10


def test_what_if_nothing_is_changed_is_the_headroom(reg: fibrebook.Register) -> None:
    """As recorded, every figure of every channel is that of `headroom`."""
    rows = fibrebook.headroom(reg, "Harbour")
    for channel in rows["channel"].unique():
        keys = ["direction", "wavelength_nm", "loss_db", "limit_db", "headroom_db", "binding"]
        want = rows.loc[rows["channel"] == channel, keys].sort_values(keys[:2]).to_numpy().tolist()
        got = fibrebook.what_if(reg, "Harbour", channel)[keys].sort_values(keys[:2]).to_numpy().tolist()
        assert got == want


def test_each_joint_added_costs_its_published_limit(reg: fibrebook.Register) -> None:
    """A fusion splice 0.3 dB and a connection 0.75 dB (TIA-568.3-D): 2 x 0.3 + 1 x 0.75 = 1.35 dB less is left."""
    before = fibrebook.what_if(reg, "Mill", "CH3")
    after = fibrebook.what_if(reg, "Mill", "CH3", splices=2, connections=1)
    assert (before["headroom_db"] - after["headroom_db"]).tolist() == pytest.approx([1.35, 1.35])


def test_another_application_brings_its_own_limits(reg: fibrebook.Register) -> None:
    """10GBASE-SR over OM1 is specified to 33 m (IEEE 802.3 table 52-6), so 266 m do not do."""
    found = fibrebook.what_if(reg, "Mill", "CH3", "10GBASE-SR")
    assert set(found["length_max_m"]) == {33.0}
    assert (found["headroom_db"] < 0).all()
    assert reg.table("channels", "Mill").set_index("channel").loc["CH3", "application"] == "1000BASE-SX"


def test_what_if_names_what_cannot_be(reg: fibrebook.Register) -> None:
    """An unknown application or channel, a negative or absurd count: each a named error."""
    with pytest.raises(NotFoundError, match="no application 'tin cans'"):
        fibrebook.what_if(reg, "Mill", "CH3", "tin cans")
    with pytest.raises(NotFoundError, match="no channel 'CH99'"):
        fibrebook.what_if(reg, "Mill", "CH99")
    for count in (-1, 101):
        with pytest.raises(InputError, match=f"{count} splices"):
            fibrebook.what_if(reg, "Mill", "CH3", splices=count)


def test_a_panel_shows_cord_core_and_channel_of_each_position(reg: fibrebook.Register) -> None:
    """Harbour P1 port 2 A: cord PC-017 to P2, core 3 of HO-FM/1 behind, blue tube and green core (TIA-598), CH8."""
    found = panel_rows(reg, "Harbour", "P1")
    row = found[(found["port"] == "2") & (found["position"] == "A")].iloc[0]
    assert (row["cord"], row["leads_to"], row["cable"], row["core"]) == ("PC-017", "P2/2/A", "HO-FM/1", 3)
    assert (row["colour"], row["channel"]) == ("blue tube, green core", "CH8")
    assert found["port"].drop_duplicates().tolist() == [str(n) for n in range(1, 25)]


def test_a_loose_cord_is_told_as_one(reg: fibrebook.Register) -> None:
    """The cord whose other end hangs loose leads to "loose end"."""
    found = panel_rows(reg, "Primary school", "P1").set_index(["port", "position"])
    assert found.loc[("2", "A"), "leads_to"] == "loose end"


def test_trays_show_both_fibres_in_their_colours(reg: fibrebook.Register) -> None:
    """Harbour P3 tray 2 slot 1 joins core 9 of HO-FM/1 (yellow in the blue tube) to core 3 of FM-IH/1 (green)."""
    row = tray_rows(reg, "Harbour", "P3").iloc[0]
    assert (row["a_cable"], row["a_core"], row["a_colour"]) == ("HO-FM/1", 9, "blue tube, yellow core")
    assert (row["b_cable"], row["b_core"], row["b_colour"]) == ("FM-IH/1", 3, "green core")
