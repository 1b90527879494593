"""A copy taken away and brought back by typing and clicking, with conflicts; the register looked at afterwards."""

from __future__ import annotations

from typing import Any

import pytest
from driver import axe_violations
from hands import Hands, opened
from playwright.sync_api import expect

import fibrebook

OPEN = "from fibrebook.screens import bring_back\nbring_back()"


@pytest.fixture
def hands(lab: Any, small: fibrebook.Register) -> Hands:
    """The screen, open in a notebook."""
    return opened(lab, OPEN)


def change(reg: fibrebook.Register, by: str, **values: Any) -> None:
    """Change a cable in one commit."""
    with reg.edit(by, f"by {by}") as edit:
        edit.put("cables", {"site": "Mill", "cable": "C1", **values})


def sound(hands: Hands, axe: Any) -> None:
    """No fault in the page's console, no serious accessibility violation in the screen."""
    assert [e for e in hands.lab.errors if e != "Unhandled error"] == []
    assert axe_violations(hands.lab.page, axe) == []


def test_away_and_back_with_a_conflict(hands: Hands, small: fibrebook.Register, lab: Any, axe: Any) -> None:
    """A copy of one site is taken by the screen, changed, and brought back: one value chosen, the other left to us."""
    hands.click(".fb-to-take-a-copy-away")
    hands.pick(".fb-site", "mi")
    expect(hands.see(".fb-to-take")).to_contain_text("To take: Mill")
    expect(hands.see(".fb-site input")).to_have_value("")
    hands.pick(".fb-site", "far")
    expect(hands.see(".fb-to-take")).to_contain_text("To take: Mill, Farm")
    hands.see(".fb-take-out").filter(has_text="Farm").click()
    expect(hands.see(".fb-to-take")).to_have_text("To take: Mill")
    hands.type(".fb-away-folder input", str(lab.root / "van"))
    hands.click(".fb-without input")
    sound(hands, axe)
    hands.click(".fb-take-away")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("1 site as at commit 1", timeout=15_000)
    van = fibrebook.open(lab.root / "van")
    assert van.sites() == ["Mill"]
    change(van, "CD", length_m=131.25, notes="wet duct", route="ditch")
    change(small, "EF", length_m=131.5, notes="damp")

    hands.click(".fb-to-bring-a-copy-back")
    hands.click(".fb-look")
    expect(hands.see(".fb-about-copy")).to_contain_text("A copy of 1 site (Mill)", timeout=15_000)
    expect(hands.see(".fb-copy-commits tbody tr")).to_have_count(1)
    grid = hands.see(".fb-conflict-grid")
    expect(grid.locator("tbody tr")).to_have_count(2)
    for words in ("131.25", "131.5", "wet duct", "damp", "120"):
        expect(grid).to_contain_text(words)
    hands.type(".fb-by input", "AB")
    hands.click(".fb-bring-back-now")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("2 value(s) have no choice yet")
    expect(grid.locator(".fb-fault:visible")).to_have_count(2)
    sound(hands, axe)
    assert small.commit == 2
    hands.click(".fb-all-theirs")
    expect(grid.locator(".fb-fault:visible")).to_have_count(0)
    row = grid.locator("tbody tr", has_text="Length")
    row.locator("select").select_option("mine")
    expect(hands.see(".fb-open-choices")).to_have_count(0)
    expect(hands.see(".fb-summary")).to_contain_text("Mill: 1 cable changed: C1")
    sound(hands, axe)
    hands.click(".fb-bring-back-now")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("brought back as commit 3", timeout=15_000)
    expect(hands.see(".fb-copy-commits")).to_contain_text("commit 3")
    expect(hands.see(".fb-bring-back-now")).to_be_hidden()
    cable = small.table("cables", "Mill").iloc[0]
    assert (cable["length_m"], cable["notes"], cable["route"]) == (131.25, "damp", "ditch")
    assert small.log()["by"].tolist() == ["AB", "EF", "CD"]


def test_a_wrong_folder_and_rules_broken_together(hands: Hands, small: fibrebook.Register, lab: Any) -> None:
    """A folder that is none, told in words; two cores in one port, told before anything is brought."""
    hands.type(".fb-copy input", str(lab.root / "nowhere"))
    hands.click(".fb-look")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("there is no folder")
    van = small.take_away(lab.root / "van")
    for reg, core in ((van, 1), (small, 2)):
        with reg.edit("CD", "made off") as edit:
            port = {"site": "Mill", "enclosure": "P1", "port": "1", "position": "A"}
            edit.put("terminations", {**port, "port": str(core), "cable": "C1", "core": 5})
    box = hands.see(".fb-copy input")
    box.click()
    box.fill("")
    box.press_sequentially("van")
    hands.see(".fb-copy .fb-picker-option").first.wait_for()
    box.press("Enter")
    hands.click(".fb-look")
    expect(hands.see(".fb-broken")).to_contain_text("joined twice", timeout=15_000)
    hands.type(".fb-by input", "AB")
    hands.click(".fb-bring-back-now")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("joined twice")
    assert small.commit == 2
