"""A visit recorded by typing and clicking; the register looked at afterwards."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from driver import axe_violations
from hands import Hands, opened
from playwright.sync_api import expect

import fibrebook

OPEN = "from fibrebook.screens import record_visit\nrecord_visit()"


@pytest.fixture
def hands(lab: Any, small: fibrebook.Register) -> Hands:
    """The screen, open in a notebook."""
    return opened(lab, OPEN)


def saved(hands: Hands, commit: int) -> None:
    """Wait until the screen says that this commit was saved."""
    expect(hands.see(".fb-message.fb-done").first).to_contain_text(f"saved as commit {commit}", timeout=15_000)


def test_twelve_cores_spliced_and_made_off_in_twelve_actions(hands: Hands, small: fibrebook.Register, axe: Any) -> None:
    """Site, initials, twelve splices with pasted losses, twelve pigtails, save: at most twelve actions."""
    hands.pick(".fb-site", "mi")  # 2
    hands.type(".fb-by input", "CD")  # 3
    expect(hands.see(".fb-tray-grid tbody tr")).to_have_count(12)
    hands.paste(".fb-tray-grid .fb-cell-loss_db", "\n".join(f"0,0{n % 9 + 1} dB" for n in range(12)))  # 4: ticks too
    expect(hands.see(".fb-tray-grid .fb-cell-made:checked")).to_have_count(12)
    hands.choose("enclosure", "P2")  # 5
    expect(hands.see(".fb-tray-grid caption")).to_contain_text("C2 in P2")
    hands.click(".fb-tray-grid .fb-all")  # 6
    expect(hands.see(".fb-summary")).to_contain_text("12 terminations new", timeout=10_000)
    expect(hands.see(".fb-summary")).to_contain_text("12 splices new")
    assert axe_violations(hands.lab.page, axe) == []
    hands.click(".fb-save")  # 7
    saved(hands, 2)
    print("interactions:", hands.count)
    assert hands.count <= 12
    splices = small.table("splices", "Mill")
    assert (splices["a_core"] == splices["b_core"]).all() and len(splices) == 12
    assert splices["loss_db"].tolist()[:3] == [0.01, 0.02, 0.03] and set(splices["made_by"]) == {"CD"}
    assert len(small.table("terminations", "Mill")) == 12
    assert small.log()["by"].tolist() == ["AB", "CD"]


def test_a_wrong_value_is_told_in_its_cell_and_nothing_typed_is_lost(hands: Hands, small: fibrebook.Register) -> None:
    """A loss that is no number waits in its cell, in words; put right, it is saved with the rest."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-tray-grid .fb-all")
    cell = hands.see(".fb-tray-grid .fb-cell-loss_db").nth(4)
    cell.fill("O.05")
    cell.press("Enter")
    fault = hands.see(".fb-tray-grid .fb-fault:visible")
    expect(fault).to_contain_text("no number")
    expect(hands.see(".fb-tray-grid .fb-cell-loss_db:focus")).to_have_attribute("data-row", "5")
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("no number")
    assert small.commit == 1
    cell.fill("0.05")
    cell.press("Tab")
    expect(fault).to_have_count(0)
    hands.click(".fb-save")
    saved(hands, 2)
    assert small.table("splices", "Mill")["loss_db"].dropna().tolist() == [0.05]


def test_the_whole_order_of_the_work(hands: Hands, small: fibrebook.Register, lab: Any, tmp_path: Path) -> None:
    """A cable, a cord with its polarity, a loss test pasted as a block, a snag settled, a photo: one commit."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-to-cables-and-enclosures")
    hands.type(".fb-in-cable input", "C3")
    hands.type(".fb-in-a_enclosure input", "P1")
    hands.type(".fb-in-b_enclosure input", "P2")
    hands.type(".fb-in-core_count input", "4")
    hands.click(".fb-add-cables")
    expect(hands.see(".fb-message").first).to_contain_text("cable C3 is in the visit")
    hands.click(".fb-to-panel-and-cords")
    hands.pick(".fb-in-cord-a", "SW1")
    hands.pick(".fb-in-cord-b", "P1 / 1")
    expect(hands.see(".fb-polarity")).to_contain_text("strand 2: SW1/1/Rx to P1/1/A")
    hands.click(".fb-add-cord")
    expect(hands.see(".fb-message").first).to_contain_text("cord PC-001 is in the visit")
    hands.click(".fb-to-tests")
    hands.choose("test-cable", "C3")
    expect(hands.see(".fb-test-grid caption")).to_have_text("C3: loss test")
    hands.paste(".fb-test-grid .fb-cell-loss_1310", "0.41\t0.33\tpass\n0.45\t0.36\tpass\n\t\tfail")
    expect(hands.see(".fb-test-grid .fb-grid-told")).to_have_text("3 rows filled")
    hands.click(".fb-to-snags")
    hands.click(".fb-to-settle-a-snag")
    hands.click(".fb-settle")
    hands.click(".fb-to-photos")
    from PIL import Image

    Image.new("RGB", (640, 480), "#336699").save(tmp_path / "tray.png")
    with lab.page.expect_file_chooser() as chooser:
        hands.click(".fb-in-photos")
    chooser.value.set_files(str(tmp_path / "tray.png"))
    expect(hands.see(".fb-photos img")).to_have_count(1, timeout=10_000)
    hands.click(".fb-add-photos")
    expect(hands.see(".fb-summary")).to_contain_text("1 photo new", timeout=10_000)
    hands.click(".fb-save")
    saved(hands, 2)
    assert small.table("cables", "Mill")["cable"].tolist() == ["C1", "C2", "C3"]
    assert small.table("patches", "Mill")["b_position"].tolist() == ["B", "A"]
    tests = small.table("tests", "Mill")
    assert tests["loss_db"].dropna().tolist() == [0.41, 0.33, 0.45, 0.36]
    assert tests["verdict"].tolist() == ["pass", "pass", "pass", "pass", "fail"]
    assert small.table("snags", "Mill")["done_by"].tolist() == ["CD"]
    assert len(list((lab.root / "register" / "photos").iterdir())) == 1


def test_a_kernel_that_ends_loses_nothing(hands: Hands, small: fibrebook.Register, lab: Any) -> None:
    """Killed in the middle of typing, the draft is offered, gone on with and saved; then it is offered no more."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-tray-grid .fb-all")
    cell = hands.see(".fb-tray-grid .fb-cell-loss_db").nth(2)
    cell.press_sequentially("0.07")
    hands.click(".fb-to-snags")
    expect(hands.see(".fb-in-found_on input")).not_to_have_value("")  # the day of the visit
    hands.type(".fb-in-what input", "gland loose")
    expect(hands.see(".fb-summary")).to_contain_text("12 splices new", timeout=10_000)
    lab.page.wait_for_timeout(800)  # the draft follows what is typed by a moment
    lab.restart_kernel()
    lab.run()
    expect(hands.see(".fb-resume")).to_have_count(1)
    expect(hands.see(".fb-screen")).to_contain_text("Not saved: Mill, by CD")
    hands.click(".fb-resume")
    expect(hands.see(".fb-in-what input")).to_have_value("gland loose")
    hands.click(".fb-add-snags")
    hands.click(".fb-to-tray")
    expect(cell).to_have_value("0.07")
    expect(hands.see(".fb-tray-grid .fb-cell-made:checked")).to_have_count(12)
    hands.click(".fb-save")
    saved(hands, 2)
    assert small.table("splices", "Mill")["loss_db"].dropna().tolist() == [0.07]
    lab.run()
    expect(hands.see(".fb-save").first).to_be_visible()
    expect(hands.see(".fb-resume")).to_have_count(0)


def test_a_conflict_is_shown_side_by_side_and_settled_value_by_value(hands: Hands, small: fibrebook.Register) -> None:
    """Two change the same cable; the second sees both values, chooses, and both choices are kept."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-to-cables-and-enclosures")
    hands.click(".fb-to-core")
    expect(hands.see(".fb-in-reserved_for input")).to_be_visible()
    hands.type(".fb-in-cable input", "C1")
    hands.type(".fb-in-core input", "3")
    hands.type(".fb-in-reserved_for input", "lift")
    hands.type(".fb-in-fault_m input", "40")
    hands.click(".fb-add-cores")
    expect(hands.see(".fb-summary")).to_contain_text("1 core", timeout=10_000)
    with small.edit("EF", "from the office") as edit:
        edit.put("cores", {"site": "Mill", "cable": "C1", "core": 3, "reserved_for": "pump", "fault_m": 41.5})
    hands.click(".fb-save")
    grid = hands.see(".fb-conflict-grid")
    expect(grid.locator("tbody tr")).to_have_count(2, timeout=10_000)
    expect(grid).to_contain_text("pump")
    expect(grid).to_contain_text("lift")
    hands.click(".fb-resolve")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("no choice yet")
    for n in range(2):
        what = grid.locator("tbody th").nth(n).inner_text()
        grid.locator("select").nth(n).select_option("mine" if "Reserved" in what else "theirs")
    hands.click(".fb-resolve")
    saved(hands, 3)
    core = small.table("cores", "Mill").query("cable == 'C1' and core == 3").iloc[0]
    assert (core["reserved_for"], core["fault_m"]) == ("lift", 41.5)
    assert small.pending().empty


def test_two_notebooks_see_each_others_saves(hands: Hands, small: fibrebook.Register, lab: Any, axe: Any) -> None:
    """What one saves, the other's history shows within two seconds, without a click; there it is undone."""
    expect(hands.see(".fb-site input")).to_be_visible()  # drawn before another notebook comes in front
    lab.write("history.ipynb", "from fibrebook.screens import history\nhistory()")
    lab.open("history.ipynb")
    expect(hands.see(".fb-commits tbody tr")).to_have_count(1)
    lab.front("visit.ipynb")
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-tray-grid .fb-all")
    hands.click(".fb-save")
    saved(hands, 2)
    lab.front("history.ipynb")
    expect(hands.see(".fb-commits tbody tr")).to_have_count(2, timeout=3_000)
    hands.click(".fb-commits tbody tr:first-child .fb-pick")
    expect(hands.see(".fb-changes")).to_contain_text("splices")
    assert axe_violations(lab.page, axe) == []
    hands.type(".fb-by input", "EF")
    hands.click(".fb-undo")
    expect(hands.see(".fb-history")).to_contain_text("12 splices removed")
    assert small.commit == 2
    hands.click(".fb-sure")
    expect(hands.see(".fb-message.fb-done")).to_contain_text("commit 2 is undone by commit 3")
    lab.front("visit.ipynb")
    expect(hands.see(".fb-tray-grid caption")).to_contain_text("0 joined already", timeout=3_000)
    assert small.table("splices", "Mill").empty


def test_an_undo_that_cannot_be_is_refused_in_words(lab: Any, small: fibrebook.Register) -> None:
    """A later commit that changed the same is named; the site as it was on a day is shown."""
    for length in (130, 140):
        with small.edit("EF", f"measured {length}") as edit:
            edit.put("cables", {"site": "Mill", "cable": "C1", "length_m": length})
    hands = opened(lab, "from fibrebook.screens import history\nhistory()")
    hands.click(".fb-commits tbody tr:nth-child(2) .fb-pick")
    hands.type(".fb-by input", "EF")
    hands.click(".fb-undo")
    hands.click(".fb-sure")
    expect(hands.see(".fb-message.fb-wrong")).to_contain_text("commit 3 changed the same since")
    hands.see(".fb-day input").fill("2099-01-01")
    hands.see(".fb-day input").press("Tab")
    expect(hands.see(".fb-then tbody tr")).to_have_count(2)
    expect(hands.see(".fb-then")).to_contain_text("140")


def test_a_paste_meets_fresh_rows(hands: Hands, small: fibrebook.Register) -> None:
    """Others save while losses are typed and pasted: the list is drawn anew, and every value stands and is saved."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    losses = hands.see(".fb-tray-grid .fb-cell-loss_db")
    expect(losses).to_have_count(12)
    losses.nth(0).click()
    for n in range(4):
        with small.edit("EF", f"remark {n}") as edit:  # a note on a core of this cable: its row is another one now
            edit.put("cores", {"site": "Mill", "cable": "C1", "core": 12, "notes": f"remark {n}"})
        for digit in f"0.0{n + 1}":
            hands.lab.page.keyboard.type(digit)
            hands.lab.page.wait_for_timeout(250)
        hands.lab.page.keyboard.press("Enter")
    hands.paste(".fb-tray-grid .fb-cell-loss_db[data-row='4']", "\n".join(["0.05"] * 8))
    expect(hands.see(".fb-tray-grid .fb-cell-made:checked")).to_have_count(12)
    expect(hands.see(".fb-tray-grid .fb-cell-note").nth(11)).to_have_value("remark 3")
    hands.click(".fb-save")
    saved(hands, 6)
    assert small.table("splices", "Mill")["loss_db"].tolist() == [0.01, 0.02, 0.03, 0.04] + [0.05] * 8


def test_all_ticks_what_there_is_something_to_join_to(hands: Hands, small: fibrebook.Register) -> None:
    """Where the other cable is the smaller one, "All" ticks the cores that have a partner and says how many have none."""
    with small.edit("AB", "a smaller cable goes on") as edit:
        edit.put("cables", {"site": "Mill", "cable": "C3", "core_count": 4, "a_enclosure": "J1"})
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.choose("to", "cable C3")
    expect(hands.see(".fb-tray-grid caption + thead th").nth(3)).to_contain_text("Core of C3")
    hands.click(".fb-tray-grid .fb-all")
    expect(hands.see(".fb-tray-grid .fb-grid-told")).to_have_text(
        "4 rows ticked; 8 left: nothing stands under Core of C3"
    )
    expect(hands.see(".fb-summary")).to_contain_text("4 splices new", timeout=10_000)
    hands.click(".fb-save")
    saved(hands, 3)
    assert small.table("splices", "Mill")["b_core"].tolist() == [1, 2, 3, 4]


SLOW = """
import time
from fibrebook.screens import record_visit
from fibrebook.screens.recording.visit_draft import Day
save = Day.save
def slow(day):
    time.sleep(3)
    return save(day)
Day.save = slow
record_visit()
"""


def test_a_keystroke_never_waits_for_a_commit(lab: Any, small: fibrebook.Register) -> None:
    """While a save takes three seconds, a loss is typed at the usual pace; it stands there afterwards and is saved next."""
    hands = opened(lab, SLOW)
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-tray-grid .fb-cell-made")
    expect(hands.see(".fb-summary")).to_contain_text("1 splice new", timeout=10_000)
    hands.click(".fb-save")
    cell = hands.see(".fb-tray-grid input[aria-label='Loss (dB), core 3']")
    cell.press_sequentially("0.05")
    assert cell.input_value() == "0.05" and small.commit == 1  # the commit is still being made
    saved(hands, 2)
    expect(hands.see(".fb-tray-grid tbody tr")).to_have_count(11)
    expect(cell).to_have_value("0.05")
    expect(hands.see(".fb-summary")).to_contain_text("1 splice new", timeout=10_000)
    hands.click(".fb-save")
    saved(hands, 3)
    assert small.table("splices", "Mill")["loss_db"].dropna().tolist() == [0.05]


def test_ninety_six_cores_appear_at_once(lab: Any) -> None:
    """The grid of a 96-core cable is drawn in under 0.3 s."""
    reg = fibrebook.create(lab.root / "register", name="Big")
    with reg.edit("AB", "made") as edit:
        edit.put("sites", {"site": "Big"})
        edit.put("enclosures", [{"site": "Big", "enclosure": e} for e in ("J1", "J2", "J3")])
        edit.put(
            "cables",
            [
                {"site": "Big", "cable": f"C{n}", "core_count": 96, "cores_per_tube": 12, "a_enclosure": f"J{n}",
                 "b_enclosure": f"J{n + 1}"} for n in (1, 2)
            ],
        )  # fmt: skip
    hands = opened(lab, OPEN)
    hands.pick(".fb-site", "bi")
    expect(hands.see(".fb-tray-grid")).to_have_count(1)
    hands.choose("enclosure", "J2")
    expect(hands.see(".fb-tray-grid tbody tr")).to_have_count(96)
    painted_ms = float(
        hands.see(".fb-tray-grid .fb-grid, .fb-tray-grid.fb-grid").first.get_attribute("data-paint-ms") or 1e9
    )
    print(json.dumps({"painted_ms": painted_ms}))
    assert painted_ms < 300


def test_every_section_is_sound_for_all_hands(hands: Hands, axe: Any) -> None:
    """axe-core finds nothing serious in any section of the visit, nor in any form that a section holds."""
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "CD")
    found = {}
    for section in ("cables-and-enclosures", "tray", "panel-and-cords", "equipment", "tests", "snags", "photos"):
        hands.click(f".fb-to-{section}")
        expect(hands.see(f".fb-to-{section}.fb-on").first).to_be_visible()
        inner = hands.see("[class*='fb-section-'] [class*='fb-step-']")
        words = [
            w for w in inner.evaluate_all("bs => bs.map(b => [...b.classList].find(c => c.startsWith('fb-to-')))") if w
        ]
        for word in words or [""]:
            if word:
                hands.see(f".{word}").last.click()
                expect(hands.see(f".{word}.fb-on").last).to_be_visible()
            hands.lab.page.wait_for_timeout(200)
            found[section, word] = axe_violations(hands.lab.page, axe)
    assert {at: bad for at, bad in found.items() if bad} == {}
    assert len(found) >= 12  # the sections with several forms were gone through
