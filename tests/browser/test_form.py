"""The form of one record of any kind, by typing and clicking; the register looked at afterwards."""

from __future__ import annotations

from typing import Any

import pytest
from driver import axe_violations
from hands import Hands, opened
from playwright.sync_api import expect

import fibrebook


@pytest.fixture
def hands(lab: Any, small: fibrebook.Register) -> Hands:
    """The form of a cable, with C1 chosen."""
    hands = opened(lab, "from fibrebook.screens import form\nform('cables')")
    hands.pick(".fb-site", "mi")
    hands.pick(".fb-picker:not(.fb-site)", "C1")
    expect(hands.see(".fb-in-length_m input")).to_have_value("120")
    return hands


def test_a_cable_is_changed_relabelled_and_removed(hands: Hands, small: fibrebook.Register, axe: Any) -> None:
    """A wrong value is told in its field; the change is shown beforehand; each save is one commit by its author."""
    hands.type(".fb-in-core_count input", "twelve")
    expect(hands.see(".fb-field-wrong .fb-fault")).to_contain_text("Wrong")
    assert axe_violations(hands.lab.page, axe) == []
    hands.type(".fb-in-core_count input", "24")
    hands.type(".fb-in-cable input", "C9")
    expect(hands.see(".fb-diff")).to_contain_text("12 → 24")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("saved as commit 2")
    cables = small.table("cables", "Mill").set_index("cable")
    assert cables["core_count"].to_dict() == {"C2": 12, "C9": 24}
    hands.pick(".fb-picker:not(.fb-site)", "C9")
    hands.click(".fb-remove")
    expect(hands.see(".fb-message").first).to_contain_text("Press Remove again")
    hands.lab.page.wait_for_timeout(800)  # read first: the second half of a double click does not remove
    assert small.commit == 2
    hands.click(".fb-remove")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("removed by commit 3")
    assert small.table("cables", "Mill")["cable"].tolist() == ["C2"]
    assert small.log()["by"].tolist() == ["AB", "CD", "CD"]


def test_a_conflict_is_settled_on_the_form(hands: Hands, small: fibrebook.Register) -> None:
    """Others changed the same value since it was read: both are shown, one is chosen, nothing typed is lost."""
    hands.type(".fb-in-length_m input", "130")
    with small.edit("EF", "measured") as edit:
        edit.put("cables", {"site": "Mill", "cable": "C1", "length_m": 140})
    hands.type(".fb-by input", "CD")
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("others changed the same values")
    grid = hands.see(".fb-conflict-grid")
    expect(grid).to_contain_text("140")
    expect(grid).to_contain_text("130")
    grid.locator("select").select_option("mine")
    hands.click(".fb-resolve")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("saved as commit 3")
    assert small.table("cables", "Mill").set_index("cable").loc["C1", "length_m"] == 130
