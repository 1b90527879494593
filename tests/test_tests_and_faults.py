"""The screen of tests and faults: each question answered as its analysis answers it, or refused in words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from demo_once import make_demo

import fibrebook
from fibrebook import screens
from fibrebook.drawings import path_picture
from fibrebook.screens.testing.broken import with_place
from fibrebook.screens.testing.screen import PARTS


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The demo firm's register; nothing here writes into it."""
    where = tmp_path_factory.mktemp("tested") / "register"
    make_demo(where)
    return fibrebook.open(where)


def screen(reg: Any, site: str, part: str) -> Any:
    """The screen with one question in front, and that question."""
    made = screens.tests_and_faults(reg, site)
    made.turn_to_part(part)
    return made, made.parts[part]


def choose(picker: Any, typed: str) -> None:
    """Type and take the first that is offered."""
    picker.query = typed
    picker.value = picker.options[0][0]


@pytest.mark.parametrize("kind", PARTS, ids=lambda k: k.name)
@pytest.mark.parametrize("site", ["", "Quarry", "Grain store"])
def test_every_question_may_be_turned_to(reg: Any, kind: Any, site: str) -> None:
    """With all sites, with one, and with one that has no tests: an answer, or that a site is to be chosen."""
    made, part = screen(reg, site, kind.name)
    assert made.said == ""
    needs = kind.one_site and not site
    assert list(made._front.children) == [made._needs if needs else part]


def test_what_did_not_pass_stands_first(reg: Any) -> None:
    """The counts are those of `acceptance`; the table shows what did not pass, and all on demand."""
    judged = fibrebook.acceptance(reg)
    made, part = screen(reg, "", "accepted")
    assert f"{len(judged)} loss tests: {(judged['verdict'] == 'pass').sum()} pass" in part.lead.value
    assert part.tests.total == (judged["verdict"] != "pass").sum()
    part.which.value = "all"
    assert part.tests.total == len(judged)
    made.turn_to("Mill", ("test", "T0001"))
    assert part.tests.find == "T0001"
    assert any("T0001" in row for row in part.tests.rows)


def test_every_test_that_asks_for_attention_is_shown_where_its_link_leads(reg: Any) -> None:
    """Each failed test of whatever method is alone in the table it stands in; one that passed otherwise is told of."""
    failed = fibrebook.failed_tests(reg)
    assert {*failed["method"]} - {"loss test"}
    for site, test, method in failed[["site", "test", "method"]].itertuples(index=False):
        made, part = screen(reg, site, "accepted")
        made.turn_to(site, ("test", test))
        where, other = (part.tests, part.failed) if method == "loss test" else (part.failed, part.tests)
        assert where.total == 1 and test in where.rows[0] and where in part.children
        assert other.find == "" and part.sought.value == ""
    tests = reg.table("tests")
    passed = tests[(tests["method"] != "loss test") & ~tests["test"].isin(failed["test"])].iloc[0]
    made, part = screen(reg, passed["site"], "accepted")
    made.turn_to(passed["site"], ("test", passed["test"]))
    assert f"Test {passed['test']} is not among those below" in part.sought.value
    assert part.tests.find == part.failed.find == ""


def test_a_distance_is_named_and_drawn_where_it_lies(reg: Any) -> None:
    """The words are `locate`'s first row; the mark stands as far along the core as it says."""
    made, part = screen(reg, "Quarry", "broken")
    choose(part.start, "P1/1/A")
    part.distance.value = 1845.0
    part.ask()
    place = fibrebook.locate(reg, "Quarry", ("port", "P1", "1", "A"), 1845.0).iloc[0]
    assert f"In core {place['at']}/{place['name']}, {place['along_m']:.0f} m from {place['from_enclosure']}" in (
        part.answer.value
    )
    assert part.answer.value.count("▼ here") == 1
    assert made.said == ""


@pytest.mark.parametrize(("ends", "share"), [(("P1", "P2"), 0.25), (("P2", "P1"), 0.75)])
def test_the_mark_stands_by_the_end_that_the_light_came_from(ends: tuple[str, str], share: float) -> None:
    """A path told the other way round has the same place at the other side of the core."""
    path = pd.DataFrame(
        {"kind": ["port", "core", "port"], "at": [ends[0], "C1", ends[1]], "name": ["1", "7", "1"],
         "length_m": [None, 400.0, None]}
    )  # fmt: skip
    place = {"kind": "core", "at": "C1", "name": 7, "along_m": 100.0, "from_enclosure": "P1"}
    found = with_place(path, place)
    assert found["here"].tolist()[1] == share
    assert found["here"].isna().tolist() == [True, False, True]
    assert "▼ here" in path_picture(found).svg
    assert "▼ here" not in path_picture(path).svg


@pytest.mark.parametrize(("start", "distance", "words"), [
    ("", 100.0, "it is not said where the light went in"),
    ("P1/1/A", -5.0, "is impossible"),
])  # fmt: skip
def test_what_cannot_be_asked_is_said(reg: Any, start: str, distance: float, words: str) -> None:
    """No start, or a distance that cannot be: words, and no older answer stays."""
    made, part = screen(reg, "Quarry", "broken")
    if start:
        choose(part.start, start)
    part.distance.value = distance
    made.guard(part.ask, part._nothing)
    assert words in made.said
    assert part.answer.value == ""


def test_dead_channels_share_what_the_analysis_says(reg: Any) -> None:
    """Ticked, the answer stands at once; unticked it goes."""
    _, part = screen(reg, "Quarry", "shared")
    part.boxes["CH3"].value = part.boxes["CH4"].value = True
    first = fibrebook.shared_by_dead(reg, "Quarry", ["CH3", "CH4"]).iloc[0]
    assert f"<td>{first['record']}</td>" in part.answer.value
    part.boxes["CH3"].value = part.boxes["CH4"].value = False
    assert part.answer.value == ""


def test_the_chart_is_of_the_group_chosen(reg: Any) -> None:
    """By engineer, splicer, month or cable; the first group's chart stands there at once."""
    made, part = screen(reg, "Quarry", "splices")
    for by in part.by.options:
        part.by.value = by
        quality = fibrebook.splice_quality(reg, by, "Quarry")
        assert len(part.frame) == len(quality)
        assert str(quality["group"].iloc[0]) in part.chart.value
        assert made.said == ""


def test_a_pair_of_spare_cores_is_tried_together(reg: Any) -> None:
    """As `would_run` of both; one alone where only one is chosen."""
    _, part = screen(reg, "Mill", "faster")
    choose(part.first, "core M1/11")
    choose(part.second, "core M1/12")
    part.ask()
    runs = fibrebook.would_run(reg, "Mill", ("core", "M1", 11), ("core", "M1", 12))["runs"]
    assert f"{runs.isin(['yes', 'with an attenuator']).sum()} of {len(runs)} would run" in part.answer.value


def test_another_site_leaves_no_old_answer(reg: Any) -> None:
    """What was chosen and answered belongs to the site before."""
    made, part = screen(reg, "Mill", "faster")
    choose(part.first, "CH3")
    part.ask()
    made.site.value = "Quarry"
    assert (part.first.value, part.answer.value) == ("", "")


def test_it_leads_on_from_the_front_page(reg: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What asks for attention leads to the test itself; the address keeps the question."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path))
    from fibrebook.screens.front_door.addresses import read_address

    home = fibrebook.home(reg)
    home.go(read_address("/tests-and-faults/Quarry/part/broken"))
    made = home.built["tests-and-faults"]
    assert (made.site.value, made.on) == ("Quarry", "broken")
    made.turn_to_part("shared")
    assert home.bar.shown == "/tests-and-faults/Quarry/part/shared"
