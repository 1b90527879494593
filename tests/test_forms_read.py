"""What the reading screens do, without a browser: finding, the return visit, spares, headroom, bringing in."""

from __future__ import annotations

import datetime as dt
import shutil
import time
from pathlib import Path
from typing import Any

import pytest
from demo_once import make_demo

import fibrebook
from fibrebook import screens
from fibrebook.errors import ConflictError, InputError
from fibrebook.screens.exchange.bring_in_model import AS_GUESSED, AS_OWN, BringingIn, fates, files_in
from fibrebook.screens.owner import headroom_model, spares_model
from fibrebook.screens.returning.model import SiteView
from fibrebook.snapshot.find import Finder, path_start, start_of

TODAY = dt.date(2026, 11, 20)
LISTS = Path(__file__).parents[1] / "data" / "old_lists"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the demo firm's register is; not to be changed."""
    where = tmp_path_factory.mktemp("demo") / "register"
    make_demo(where)
    return where


@pytest.fixture(scope="module")
def reg(demo: Path) -> fibrebook.Register:
    """The demo firm's register, read only."""
    return fibrebook.open(demo, read_only=True)


@pytest.fixture
def own(demo: Path, tmp_path: Path) -> fibrebook.Register:
    """A copy of it that may be changed."""
    shutil.copytree(demo, tmp_path / "register")
    return fibrebook.open(tmp_path / "register")


@pytest.fixture(scope="module")
def harbour(reg: fibrebook.Register) -> SiteView:
    """The harbour."""
    return SiteView(reg, "Harbour")


# --- finding ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("HO-FM/1 9", ("core", "HO-FM/1", 9)),
        ("ho-fm/1/9", ("core", "HO-FM/1", 9)),
        ("core HO-FM/1 9", ("core", "HO-FM/1", 9)),
        ("P1/2/A", ("port", "P1", "2", "A")),
        ("p1 2 b", ("port", "P1", "2", "B")),
        ("SW1", ("equipment", "SW1")),
        ("sw1 49 tx", ("interface", "SW1", "49", "Tx")),
        ("ch8", ("channel", "CH8")),
        ("fog", ("channel", "CH7")),
        ("pc-017", ("cord", "PC-017")),
        ("panel P3", ("enclosure", "P3")),
        ("cable ho-fm", ("cable", "HO-FM/1")),
        ("ice house", ("location", "Ice house")),
    ],
)
def test_what_is_typed_is_found_first(harbour: SiteView, typed: str, first: tuple[Any, ...]) -> None:
    """A cable and core, a port, equipment, or any word of a label, in any case and with any stroke between."""
    assert harbour.finder.find(typed)[0].start == first


def test_every_word_must_match_and_nonsense_finds_nothing(harbour: SiteView) -> None:
    """Words narrow the list; what is nowhere is found nowhere; nothing typed lists nothing."""
    assert harbour.finder.find("fog marmalade") == []
    assert harbour.finder.find("   ") == []
    many, fewer = harbour.finder.find("sw1"), harbour.finder.find("sw1 49")
    assert len(fewer) < len(many)


def test_a_start_survives_the_way_through_a_widget(harbour: SiteView) -> None:
    """The value of a hit is read back as the very start, numbers and slashes included."""
    for hit in harbour.finder.hits:
        assert start_of(hit.value) == hit.start


def test_everything_that_is_found_can_be_shown(harbour: SiteView) -> None:
    """Each hit of the site gives a path or is a thing of several; what goes dark is answered for all."""
    seen = set()
    for hit in harbour.finder.hits[:: max(1, len(harbour.finder.hits) // 120)]:
        path = harbour.path(hit.start)
        assert (path is None) == (hit.kind in ("cable", "enclosure", "equipment", "location"))
        harbour.dark(hit.start)
        harbour.doors(hit.start, path)
        seen.add(hit.kind)
    assert {"core", "port", "interface"} <= seen


def test_a_keystroke_never_waits(reg: fibrebook.Register) -> None:
    """Among the 3,459 things of the campus any search takes far less than the blink of an eye (0.1 s)."""
    finder = SiteView(reg, "Campus").finder
    assert len(finder.hits) > 3000
    for typed in ("d", "dh-en/1 7", "zzz"):
        began = time.perf_counter()
        finder.find(typed)
        assert time.perf_counter() - began < 0.1


def test_a_cord_starts_at_its_first_plug(harbour: SiteView) -> None:
    """A cord's path is that of its first strand, a channel's that of its sending end."""
    assert path_start(harbour.net, ("cord", "PC-017")) == ("port", "P1", "2", "A")
    assert path_start(harbour.net, ("channel", "CH8")) == ("interface", "SW2", "25", "Tx")
    assert path_start(harbour.net, ("cable", "HO-FM/1")) is None


def test_a_finder_of_an_empty_site(tmp_path: Path) -> None:
    """A site with nothing at it finds nothing and breaks nothing."""
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="RK", why="x") as edit:
        edit.put("sites", [{"site": "S1"}])
    finder = SiteView(reg, "S1").finder
    assert isinstance(finder, Finder) and finder.find("p1") == []


# --- the return visit ------------------------------------------------------------------------------------------------


def test_the_visit_tells_snags_tests_and_advice_of_the_path(harbour: SiteView) -> None:
    """PC-017 joins a blue panel to a green one: the snag is named as here, the polish as advice, its tests are listed."""
    start = ("cord", "PC-017")
    path = harbour.path(start)
    assert harbour.snags(start, path)[["here", "snag"]].to_numpy().tolist() == [[True, "S1"]]
    assert set(harbour.advice_on(start, path)["check"]) == {"polish mismatch"}
    tests = harbour.tests_on(start, path)
    assert len(tests) and tests["tested_on"].is_monotonic_decreasing


def test_doors_open_where_the_engineer_stands(harbour: SiteView) -> None:
    """A port opens its own panel first, a cord those of its plugs, a core those of its cable's ends."""
    assert harbour.doors(("port", "P3", "1", "A"), None) == ["P3"]
    assert harbour.doors(("cord", "PC-017"), harbour.path(("cord", "PC-017")))[:2] == ["P1", "P2"]
    core = ("core", "HO-FM/1", 9)
    assert harbour.doors(core, harbour.path(core)) == ["P1", "P3", "P4"]


def test_the_other_cores_of_the_cable_stand_beside(harbour: SiteView) -> None:
    """Of a port the cable behind it; of a core its own; each core with state, ports and channel."""
    assert harbour.cable_of(("port", "P1", "2", "A"), None) == "HO-FM/1"
    cores = harbour.cores_of("HO-FM/1")
    assert len(cores) == 24
    assert cores.loc[2, ["core", "state", "a_port", "channel"]].tolist() == [3, "in service", "2", "CH8"]


def test_a_place_goes_dark_with_all_that_is_in_it(harbour: SiteView) -> None:
    """A room's channels are those of its enclosures and equipment together, each once."""
    found = harbour.dark(("location", "Office"))
    both = {c for thing in harbour.things_in("Office") for c in harbour.dark(thing)["channel"]}
    assert set(found["channel"]) == both and len(found) == len(both)


def test_the_screen_shows_what_is_asked(own: fibrebook.Register) -> None:
    """By program as by typing: choose the site, find, see; another thing at the site replaces it."""
    screen = screens.return_visit(own)
    screen.site.value = "Harbour"
    screen.search.query = "ho-fm/1 9"
    value, shown, hint = screen.search.options[0]
    assert (shown, hint, screen.search.answered) == ("core HO-FM/1/9", "blue tube, yellow core", "ho-fm/1 9")
    screen.search.value = value
    assert screen.start == ("core", "HO-FM/1", 9) and screen.path is not None
    screen.ask(("equipment", "SW1"))
    assert screen.path is None and screen.said == ""
    screen.ask(("core", "HO-FM/1", 99))
    assert "no core '99'" in screen.said


def test_another_commit_is_seen_at_once(own: fibrebook.Register) -> None:
    """What somebody else saves is on the screen without asking again; what they took out is gone."""
    screen = screens.return_visit(own, "Harbour")
    screen.ask(("core", "HO-FM/1", 9))
    with own.edit(by="TB", why="snag") as edit:
        edit.put(
            "snags", [{"site": "Harbour", "snag": "S9", "what": "lid off", "where": "P1", "found_on": "2026-11-20"}]
        )
    screen.watch.refresh()
    assert screen.view is not None and "S9" in screen.view.snags(screen.start, screen.path)["snag"].tolist()
    with own.edit(by="TB", why="taken out") as edit:
        edit.remove("patches", [("Harbour", "PC-017", "1"), ("Harbour", "PC-017", "2")])
    screen.ask(("core", "HO-FM/1", 3))
    assert screen.path is not None and "PC-017" not in set(screen.path["at"])


# --- spares ----------------------------------------------------------------------------------------------------------


def test_sites_with_none_stand_first(reg: fibrebook.Register) -> None:
    """None, then nearly none, as the demo's facts say; every row has its growth or says why not."""
    found = spares_model.overview(reg, TODAY)
    assert set(found["site"].head(3)) == {"Grain store", "Depot", "Brewery"}
    assert found["site"].iloc[3:5].tolist() == ["Boatyard", "Glasshouse"]
    assert (found["at_this_rate"] != "").all()


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("9 to 12, 15", [9, 10, 11, 12, 15]), ("9-11 3", [3, 9, 10, 11]), ("7", [7]), ("1, 2 and 2", [1, 2])],
)
def test_core_numbers_as_people_write_them(text: str, numbers: list[int]) -> None:
    """Ranges with to or a stroke, lists with commas, blanks or and; each number once."""
    assert spares_model.core_numbers(text) == numbers


@pytest.mark.parametrize("text", ["", "all", "5 to 2", "0", "1 to 9999999", "3 x"])
def test_what_is_no_core_number_is_refused(text: str) -> None:
    """Words, ranges backwards and numbers no cable has are named, not guessed at."""
    with pytest.raises(InputError):
        spares_model.core_numbers(text)


def test_cores_are_reserved_and_freed_in_one_commit_each(own: fibrebook.Register) -> None:
    """Reserved cores are no longer spare, history says for what, and freeing them brings them back."""
    base = own.commit
    number = spares_model.reserve(own, "Harbour", "HO-FM/1", [20, 21], "tide gauges", "RK", base)
    assert number == base + 1
    state = spares_model.cable_cores(own, "Harbour", "HO-FM/1").set_index("core")
    assert state.loc[[20, 21], "state"].tolist() == ["reserved", "reserved"]
    assert "cores 20, 21" in own.log()["why"].iloc[-1]
    assert spares_model.reserve(own, "Harbour", "HO-FM/1", [20, 21], "", "RK", number) == number + 1
    assert spares_model.cable_cores(own, "Harbour", "HO-FM/1").set_index("core").loc[20, "state"] == "ready"


def test_what_cannot_be_reserved_is_named_with_why(own: fibrebook.Register) -> None:
    """A core in service, one that is not there, freeing one that is not reserved, no initials: each refused in words."""
    base = own.commit
    for cores, purpose, by, words in (
        ([1], "x", "RK", "serves channel CH1"),
        ([25], "x", "RK", "no core 25"),
        ([20], "", "RK", "not reserved itself"),
        ([20], "x", " ", "initials"),
    ):
        with pytest.raises(InputError, match=words):
            spares_model.reserve(own, "Harbour", "HO-FM/1", cores, purpose, by, base)
    assert own.commit == base


def test_two_reserve_the_same_core(own: fibrebook.Register) -> None:
    """Who chose before the other saved is told of the conflict; nothing is overwritten."""
    base = own.commit
    with own.edit(by="TB", why="mine") as edit:
        edit.put("cores", [{"site": "Harbour", "cable": "HO-FM/1", "core": 20, "notes": "looked at"}])
    assert spares_model.reserve(own, "Harbour", "HO-FM/1", [20], "cameras", "RK", base)  # another column: merged
    late = own.commit
    with own.edit(by="TB", why="other use", base=late) as edit:
        edit.put("cores", [{"site": "Harbour", "cable": "HO-FM/1", "core": 20, "reserved_for": "pumps"}])
    with pytest.raises(ConflictError):
        spares_model.reserve(own, "Harbour", "HO-FM/1", [20], "", "RK", late)


def test_the_spares_screen_reserves(own: fibrebook.Register) -> None:
    """Site, cable, cores, purpose, initials, and it is stored; a refusal is said and stores nothing."""
    screen = screens.spares(own)
    screen.choose_site("Harbour")
    screen.choose_cable("HO-FM/1")
    screen.numbers.value, screen.purpose.value, screen.by.value = "20 to 22", "tide gauges", "RK"
    screen.reserve()
    assert "3 core(s)" in screen.said
    kept = own.table("cores", "Harbour").set_index(["cable", "core"])
    assert kept.loc[("HO-FM/1", 21), "reserved_for"] == "tide gauges"
    screen.numbers.value, screen.purpose.value = "1", "x"
    screen.reserve()
    assert "serves channel CH1" in screen.said


# --- headroom --------------------------------------------------------------------------------------------------------


def test_channels_tightest_first_with_what_is_missing(reg: fibrebook.Register) -> None:
    """Mill CH6 is over its limit and stands first; a channel never tested says so; wrong polarity is told beside."""
    found = headroom_model.channels(reg)
    assert found.loc[0, ["site", "channel"]].tolist() == ["Mill", "CH6"] and found.loc[0, "over_m"] > 0
    assert found["headroom_db"].dropna().is_monotonic_increasing
    at = found.set_index(["site", "channel"])
    assert "never tested" in at.loc[("Harbour", "CH7"), "missing_tests"]
    assert "transmit reaches transmit" in at.loc[("Secondary school", "CH7"), "also"]
    assert "too strong" in at.loc[("Observatory", "CH1"), "also"]
    assert len(found) == len(reg.table("channels"))


def test_the_verdict_is_a_sentence(reg: fibrebook.Register) -> None:
    """Would run or not, by how much, what binds, and the length against its limit."""
    rows = [
        {str(k): v for k, v in r.items()} for r in fibrebook.what_if(reg, "Mill", "CH3", splices=2).to_dict("records")
    ]
    assert headroom_model.verdict(rows[0]).startswith("1000BASE-SX would NOT run: 0.17 dB too much.")
    strong = {str(k): v for k, v in fibrebook.what_if(reg, "Observatory", "CH1").to_dict("records")[0].items()}
    assert "too strong" in headroom_model.verdict(strong) and "attenuator" in headroom_model.verdict(strong)


def test_the_headroom_screen_answers_what_if(own: fibrebook.Register) -> None:
    """Choosing a channel and adding joints changes the verdict and nothing in the register."""
    before = own.commit
    screen = screens.headroom(own)
    screen.choose("Mill", "CH3")
    assert "would run, 0.43 dB left" in screen._verdict.value  # by its loss test; by the records 0.17 dB
    screen.splices.value = 2
    assert "would NOT run" in screen._verdict.value
    screen.application.value = "100BASE-FX"
    assert "100BASE-FX would run" in screen._verdict.value
    assert own.commit == before


# --- bringing in -----------------------------------------------------------------------------------------------------


def test_a_list_is_looked_at_corrected_and_brought_in(tmp_path: Path) -> None:
    """Choose, see every row's fate, leave a column out, bring in: one commit."""
    reg = fibrebook.create(tmp_path / "register")
    work = BringingIn(reg)
    work.choose(LISTS / "all_cores.csv")
    assert work.way == "layout all_cores.toml"
    work.read_as(AS_GUESSED)
    assert work.can_be_corrected and work.look().ok
    work.mean("L", "")
    assert work.look().ok and reg.commit == 0
    assert work.commit("RK", "the old list") == 1
    assert len(reg.table("cores")) == 92


def test_refused_rows_stand_first(tmp_path: Path) -> None:
    """Of a file in which something is wrong nothing comes in, and the wrong rows are on top."""
    work = BringingIn(fibrebook.create(tmp_path / "register"))
    work.choose(LISTS / "panel_ports.xlsx")
    work.read_as(AS_GUESSED)
    assert work.guess is not None
    work.guess.site = "Cold store"
    report = work.look()
    assert not report.ok and fates(report)["fate"].iloc[0] == "refused"
    with pytest.raises(fibrebook.BringInError):
        work.commit("RK", "x")


def test_a_workbook_that_meets_others_changes_waits_for_a_choice(own: fibrebook.Register, tmp_path: Path) -> None:
    """The look says it is a conflict and nothing else; the screen shows both values side by side."""
    import openpyxl

    path = tmp_path / "harbour.xlsx"
    fibrebook.send_out(own, path, site="Harbour")
    book = openpyxl.load_workbook(path)
    sheet = book["sites"]
    access = [c.value for c in sheet[1]].index("access") + 1
    sheet.cell(2, access).value = "from the file"
    book.save(path)
    with own.edit(by="TB", why="meanwhile") as edit:
        edit.put("sites", [{"site": "Harbour", "access": "from the register"}])
    screen = screens.bring_in(own, path)
    assert screen.model.way == AS_OWN and screen.model.report is not None and screen.model.report.conflict
    screen.by.value = "RK"
    screen.commit()
    assert len(own.pending()) == 1
    waiting = screen._settle.children[0]
    assert waiting.found[["theirs", "mine"]].to_numpy().tolist() == [["from the register", "from the file"]]


def test_files_are_offered_from_here_and_just_below(tmp_path: Path) -> None:
    """Spreadsheets only, hidden ones and locks left out."""
    (tmp_path / "lists").mkdir()
    for name in ("a.xlsx", "b.txt", ".c.xlsx", "~$a.xlsx", "lists/d.csv"):
        (tmp_path / name).write_text("x")
    assert files_in(tmp_path) == ["a.xlsx", "lists/d.csv"]


def test_the_screen_says_what_is_wrong_with_a_file(own: fibrebook.Register, tmp_path: Path) -> None:
    """No file, a file that is not there, one that is no list: said in words, nothing raised."""
    screen = screens.bring_in(own)
    screen.take()
    assert "no file is chosen" in screen.said
    screen.file.value = str(tmp_path / "none.xlsx")
    screen.take()
    assert "none.xlsx" in screen.said


# --- the site picture ------------------------------------------------------------------------------------------------


def test_a_part_clicked_is_told_of(own: fibrebook.Register) -> None:
    """A cable clicked in the picture shows its cores and what goes dark; a change redraws the picture."""
    screen = screens.site_picture(own, "Harbour")
    screen.picture.picked = ["cable", "HO-FM/1"]
    screen.picture.picks += 1
    assert screen.visit.start == ("cable", "HO-FM/1") and screen.said == ""
    before = screen.picture.svg
    with own.edit(by="TB", why="a new box") as edit:
        edit.put("enclosures", [{"site": "Harbour", "enclosure": "WB9", "location": "Lock", "kind": "wall box"}])
    screen.watch.refresh()
    assert "WB9" in screen.picture.svg and screen.picture.svg != before
