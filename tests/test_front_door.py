"""The front door without a browser: addresses, what is found, what asks for attention, screens that are kept."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from demo_once import make_demo

import fibrebook
from fibrebook.plugins import Attention
from fibrebook.screens.front_door import attention, cards
from fibrebook.screens.front_door.addresses import Address, read_address
from fibrebook.screens.front_door.door import OUR_SCREENS
from fibrebook.screens.front_door.lately import lately_used, look_at
from fibrebook.snapshot.find_in_firm import FirmFinder

TRICKY = [
    Address(),
    Address("spares"),
    Address("return-visit", "Grain store"),
    Address("return-visit", "a/b#c?d%e", ("core", "HO-FM/1", 9)),
    Address("return-visit", "Mill", ("port", "P1", "1", "")),
    Address("headroom", "Münster/Süd", ("channel", "CH 1")),
    Address("site-picture", "", ("cable", "C1")),
]


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The demo firm's register; nothing here writes into it."""
    where = tmp_path_factory.mktemp("front") / "register"
    make_demo(where)
    return fibrebook.open(where)


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))


@pytest.fixture
def home(reg: Any) -> Any:
    """The page, as it stands before anything is made ready."""
    return fibrebook.home(reg)


@pytest.mark.parametrize("address", TRICKY, ids=lambda a: a.text)
def test_an_address_is_read_back_as_it_was(address: Address) -> None:
    """Whatever stands in a label, slashes and signs of addresses included."""
    assert read_address(address.text) == address
    assert read_address(address.link) == address


@pytest.mark.parametrize("text", ["", "#", "/", "#/", "nonsense", "/a//b/c", "/x/y/core/C1/notanumber", "/%zz/%"])
def test_no_address_is_too_odd_to_be_read(text: str) -> None:
    """What a person types or a mail program breaks is taken as far as it goes."""
    found = read_address(text)
    assert read_address(found.text) == found


def test_a_colour_and_a_number_find_the_core(reg: Any) -> None:
    """Orange 7: the core of that number in the orange tube comes first, at the site named; worked out from the cores."""
    cores = reg.table("cores", "Harbour")
    in_tube = cores.groupby(["cable", "tube"]).cumcount() + 1
    right = cores[(cores["tube_colour"] == "orange") & (in_tube == 7)]
    found = fibrebook.find(reg, "harbour orange 7")
    assert len(right) == 2
    assert set(zip(right["cable"], right["core"], strict=True)) == {k[1:] for k in found["key"]}
    assert set(found["site"]) == {"Harbour"}
    assert found["found_in"].str.contains("orange tube, core 7 in it").all()
    other = fibrebook.find(reg, "orange 7", site="Campus")["found_in"]
    assert other.str.contains("orange core in tube 7").any()
    both = fibrebook.find(reg, "HO-FM/1 orange 7")
    assert both["key"].iloc[0] == ("core", "HO-FM/1", int(right.loc[right["cable"] == "HO-FM/1", "core"].iloc[0]))


@pytest.mark.parametrize(("typed", "site", "label"), [
    ("HO-FM/1/9", "Harbour", "HO-FM/1/9"),
    ("ho fm 1 9", "Harbour", "HO-FM/1/9"),
    ("harbour p1/18/a", "Harbour", "P1/18/A"),
    ("zemblewick harbour", "Harbour", "Harbour"),
    ("lock gates", "Harbour", "CH5"),
    ("mill port 5", "Mill", "P1/5"),
    ("meter battery", "Depot", "S1"),
])  # fmt: skip
def test_things_are_found_as_people_write_them(reg: Any, typed: str, site: str, label: str) -> None:
    """Case, blanks and strokes aside; by a customer's name, a purpose, what a snag says."""
    best = fibrebook.find(reg, typed).iloc[0]
    assert (best["site"], best["label"]) == (site, label)


def test_one_slip_is_forgiven_and_said(reg: Any) -> None:
    """What matches nothing as it stands is taken for the nearest word there is, and the answer says so."""
    answer = FirmFinder(reg).find("glasshuose")
    assert answer.found[0].site == "Glasshouse"
    assert "“glasshuose” as “glasshouse”" in answer.words


def test_nothing_found_is_said_in_words(reg: Any) -> None:
    """No silence: what was typed, and what may be typed instead; or what part of it is there."""
    assert "Nothing in the register matches “qqqq”. Try part of a label" in FirmFinder(reg).find("qqqq").words
    near = FirmFinder(reg).find("orange 99")
    assert "Nothing in the register matches “orange 99”. Shown is what matches “orange”." in near.words
    assert all("orange" in f.hit.hint for f in near.found)


def test_a_place_in_the_firm_is_one_answer_for_screen_and_python(reg: Any, home: Any) -> None:
    """The find box shows what `fibrebook.find` finds, the best first."""
    home.find.query = "harbour orange 7"
    items = [i for g in home.find.found for i in g["items"]]
    keys = fibrebook.find(reg, "harbour orange 7")["key"]
    assert [read_address(i["link"]).thing for i in items] == keys.tolist()
    assert home.find.answered == "harbour orange 7"


def test_words_for_a_screen_lead_to_it_at_the_site_named(home: Any) -> None:
    """ "spare Halls" asks for the spares of that site; a screen is no empty search."""
    home.find.query = "spare Halls"
    assert home.find.found[0]["items"][0]["link"] == "/spares/Halls"
    assert home.find.words == ""
    home.find.query = "history"
    assert home.find.found[0]["items"][0]["link"] == "/history"


def test_what_asks_for_attention_is_what_the_analyses_say(reg: Any) -> None:
    """Each line counts what its analysis finds, and each of its links leads to a screen that is there."""
    lines = {line.title: line.rows for line in attention.lines(reg)}
    spare = fibrebook.spare(reg, by="site")
    assert {r[0] for r in lines["No spare core"]} == set(spare.loc[spare["spare"] == 0, "site"])
    assert len(lines["In use and not tested"]) == len(fibrebook.untested(reg))
    snags = reg.table("snags")
    assert len(lines["Open snags"]) == snags["done_on"].isna().sum()
    found = fibrebook.headroom(reg)
    over = found[(found["headroom_db"] < 0) | (found["over_m"] > 0)]
    assert len(lines["Losses over the limit"]) == len(over[["site", "channel"]].drop_duplicates()) > 0
    assert {a.screen for rows in lines.values() for *_, a in rows} <= {p.name for p in OUR_SCREENS}


def test_a_line_that_breaks_says_so_and_hides_no_other(reg: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plugin's fault stands in words where its line would; the rest is told."""

    def breaks(reg: Any) -> pd.DataFrame:
        raise ValueError("no such <column>")

    asked = {"Broken": breaks, "Open snags": attention.open_snags, "None": lambda reg: pd.DataFrame({"site": []})}
    asked = {name: Attention(name, run) for name, run in asked.items()}
    monkeypatch.setattr(attention, "gathered_attention", lambda: asked)
    lines = attention.lines(reg)
    assert [line.title for line in lines] == ["Broken", "Open snags"]
    assert "no such &lt;column&gt;" in cards.attention(lines)


def test_screens_are_built_once_and_keep_what_is_typed(home: Any) -> None:
    """Going away and coming back shows the same screen, with what was typed in it."""
    home.go(Address("record-visit", "Marina"))
    visit = home.built["record-visit"]
    visit.by.value = "CD"
    home.go(Address("spares", "Halls"))
    assert home.shown() == ["spares"]
    home.go(Address("record-visit"))
    assert home.built["record-visit"] is visit
    assert (visit.by.value, visit.site.value) == ("CD", "Marina")
    home.go(Address())
    assert home.shown() == []


@pytest.mark.parametrize("name", [p.name for p in OUR_SCREENS])
def test_every_screen_is_reached_by_its_address(home: Any, name: str) -> None:
    """Without and with a site; nothing wrong is said."""
    home.go(Address(name))
    home.go(Address(name, "Harbour"))
    assert home.shown() == [name]
    assert home.said == home.built[name].said == ""
    assert home.bar.shown == f"/{name}/Harbour"


def test_the_address_follows_what_a_screen_shows(home: Any) -> None:
    """A thing asked for within a screen is in the address; coming back by the address shows it again."""
    home.go(Address("return-visit", "Harbour"))
    screen = home.built["return-visit"]
    screen.ask(("core", "HO-FM/1", 9))
    assert home.bar.shown == "/return-visit/Harbour/core/HO-FM%2F1/9"
    screen.ask(("port", "P1", "1", "A"))
    home.go(read_address("/return-visit/Harbour/core/HO-FM%2F1/9"))
    assert screen.start == ("core", "HO-FM/1", 9)
    home.go(read_address("/return-visit/Harbour"))
    assert screen.start is None
    home.go(read_address("/headroom/Mill/channel/CH6"))
    assert home.built["headroom"].chosen == ("Mill", "CH6")
    home.go(read_address("/spares/Mill/core/M1/11"))
    assert (home.built["spares"].site, home.built["spares"].cable) == ("Mill", "M1")


@pytest.mark.parametrize("text", ["/no-such-screen", "/return-visit/Nowhere", "/return-visit/Mill/core/M1/999",
                                  "/headroom/Mill/channel/NONE", "/spares/Nowhere/cable/X"])  # fmt: skip
def test_an_address_of_what_is_not_there_is_said_in_words(home: Any, text: str) -> None:
    """An old bookmark: words, never an error; the page goes on working."""
    address = read_address(text)
    home.go(address)
    screen = home.built.get(address.screen)
    assert home.said or (screen is not None and screen.said)
    home.go(Address("return-visit", "Mill", ("core", "M1", 1)))
    assert home.built["return-visit"].start == ("core", "M1", 1)


def test_sites_lately_used_are_those_looked_at(reg: Any) -> None:
    """The latest first; a site that has gone since is left out, a damaged list is none."""
    look_at(reg, "Mill")
    look_at(reg, "Gone")
    look_at(reg, "Halls")
    assert lately_used(reg)[:2] == ["Halls", "Mill"]
    assert "Gone" not in lately_used(reg)


def test_an_empty_register_shows_how_to_begin(tmp_path: Path) -> None:
    """Three ways, and no error."""
    page = fibrebook.home(fibrebook.create(tmp_path / "new", name="Ours & theirs"))
    page.make_ready()
    assert "Three ways to begin" in page._ways.value
    assert "Ours &amp; theirs" in page._top.value
    page.find.query = "orange 7"
    assert "Nothing in the register matches" in page.find.words
    assert page.said == ""


def test_an_empty_register_gets_its_first_site_where_it_says(tmp_path: Path) -> None:
    """The way "Type a site" leads to a form that makes one; the front page then shows it, and its address opens it."""
    reg = fibrebook.create(tmp_path / "new")
    page = fibrebook.home(reg)
    page.make_ready()
    way = page._ways.value.partition("Type a site")[0].rpartition('href="')[2] or page._ways.value
    assert "#/sites" in way
    page.go(Address("sites"))
    form = page.built["sites"]
    form.box.fields["site"].control.value, form.box.fields["name"].control.value, form.by.value = (
        "Mill",
        "Old mill",
        "RK",
    )
    form.save()
    assert "saved as commit 1" in form.said and reg.table("sites").name.tolist() == ["Old mill"]
    page.go(Address())
    assert page._ways.value == "" and "Mill" in page._lately.value
    page.go(Address("sites", "Mill"))
    assert form.which.value == "Mill" and form.box.fields["name"].control.value == "Old mill"
