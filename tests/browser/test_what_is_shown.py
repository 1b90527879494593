"""What a screen shows or saves is so: a register that went away, text that matches nothing, a press made twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hands import opened
from playwright.sync_api import TimeoutError, expect

import fibrebook

AWAY = "is not at"
SCREENS = {  # the site chosen first, what is shown of it, and a word in that which no other site's has
    "return_visit": ("Harbour", ".fb-about-site", "Harbour"),
    "site_picture": ("Harbour", ".fb-about-site", "Harbour"),
    "headroom": ("Harbour", ".fb-channels tbody tr", "Harbour"),
    "history": ("Primary school", ".fb-commits tbody tr", "demo data: schools"),
}


@pytest.mark.parametrize(
    "screen", ["return_visit", *(pytest.param(s, marks=pytest.mark.long) for s in list(SCREENS)[1:])]
)
def test_another_site_of_a_register_that_went_away(lab: Any, demo: Path, screen: str) -> None:
    """With the folder moved, nothing of the first site stands under the name of the second, and words say why."""
    site, shown, word = SCREENS[screen]
    hands = opened(lab, f"from fibrebook import screens\nscreens.{screen}()")
    hands.pick(".fb-site", site)
    expect(hands.see(shown).filter(has_text=word).first).to_be_visible(timeout=20_000)
    demo.rename(demo.with_name("moved"))
    hands.pick(".fb-site", "Marina")
    expect(hands.see(".fb-message.fb-wrong:visible").first).to_contain_text(AWAY, timeout=20_000)
    expect(hands.see(shown).filter(has_text=word)).to_have_count(0)


def test_a_register_that_goes_away_is_told_by_itself_and_its_return_too(lab: Any, demo: Path) -> None:
    """Nobody touches the screen; within seconds it says that the register is away, and stops saying so when it is back."""
    hands = opened(lab, "from fibrebook import screens\nscreens.return_visit(site='Harbour')")
    expect(hands.see(".fb-about-site")).to_be_visible(timeout=20_000)
    demo.rename(demo.with_name("moved"))
    expect(hands.see(".fb-trouble .fb-message:visible")).to_contain_text("as it was read last", timeout=10_000)
    demo.with_name("moved").rename(demo)
    expect(hands.see(".fb-trouble .fb-message:visible")).to_have_count(0, timeout=10_000)


def test_a_visit_stays_at_its_site_when_another_cannot_be_read(lab: Any, demo: Path) -> None:
    """The lists of the first site stay under the first site's name."""
    hands = opened(lab, "from fibrebook import screens\nscreens.record_visit()")
    hands.pick(".fb-site", "Harbour")
    expect(hands.see(".fb-tray-grid caption")).to_contain_text("joined already", timeout=20_000)
    demo.rename(demo.with_name("moved"))
    hands.pick(".fb-site", "Marina")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text(AWAY, timeout=20_000)
    expect(hands.see(".fb-site input").first).to_have_value("Harbour")


def test_a_cable_of_a_register_that_went_away(lab: Any, demo: Path) -> None:
    """Spares: another site chosen in the list; the first one's cables and the form that reserves are gone."""
    hands = opened(lab, "from fibrebook import screens\nscreens.spares()")
    rows = hands.see(".fb-sites tbody tr .fb-pick")
    rows.nth(0).click()
    expect(hands.see(".fb-cables tbody tr").first).to_be_visible(timeout=20_000)
    hands.see(".fb-cables .fb-pick").first.click()
    expect(hands.see(".fb-reserve").first).to_be_visible(timeout=20_000)
    demo.rename(demo.with_name("moved"))
    rows.nth(1).click()
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text(AWAY, timeout=20_000)
    expect(hands.see(".fb-cables")).to_have_count(0)
    expect(hands.see("button.fb-reserve")).to_be_hidden()


def test_a_cord_to_what_is_not_there_is_not_saved_as_a_loose_one(lab: Any, small: fibrebook.Register) -> None:
    """What is typed stays, is said to match nothing, and neither the cord nor the visit is saved until it is put right."""
    hands = opened(lab, "from fibrebook import screens\nscreens.record_visit()")
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "AB")
    hands.click(".fb-to-panel-and-cords")
    hands.pick(".fb-in-cord-a", "P1 / 1")
    hands.type(".fb-in-cord-b input", "P9 / 7")
    expect(hands.see(".fb-in-cord-b input")).to_have_value("P9 / 7")
    expect(hands.see(".fb-in-cord-b .fb-picker-note")).to_contain_text("Nothing here matches")
    hands.click(".fb-add-cord")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("nothing matches 'P9 / 7'")
    expect(hands.see(".fb-in-cord-b input")).to_have_value("P9 / 7")
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("matches no free port")
    assert small.commit == 1
    hands.type(".fb-in-cord-b input", "p2/1")  # as people write it; no choice from the list is needed
    expect(hands.see(".fb-in-cord-b input")).to_have_value("P2 / 1")
    expect(hands.see(".fb-in-cord-b .fb-picker-note")).to_be_hidden()
    hands.click(".fb-add-cord")
    expect(hands.see(".fb-summary")).to_contain_text("2 patches new", timeout=15_000)
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("commit 2", timeout=15_000)
    assert small.table("patches", "Mill")["b_at"].tolist() == ["P2", "P2"]


@pytest.mark.parametrize(
    ("code", "box", "gone"),
    [
        ("return_visit()", ".fb-site input", ".fb-about-site"),
        pytest.param("headroom()", ".fb-site input", ".fb-channels tbody tr", marks=pytest.mark.long),
        pytest.param("history()", ".fb-site input", ".fb-commits tbody tr", marks=pytest.mark.long),
        ("form('cables')", ".fb-site input", ".fb-diff li"),
    ],
)
def test_a_site_that_is_not_there(lab: Any, small: fibrebook.Register, code: str, box: str, gone: str) -> None:
    """The text stays, is said to match nothing, and nothing of another site, nor of all, stands under it."""
    hands = opened(lab, f"from fibrebook import screens\nscreens.{code}")
    hands.pick(".fb-site", "mi")
    hands.type(box, "Mlil")
    expect(hands.see(box)).to_have_value("Mlil")
    expect(hands.see(".fb-site .fb-picker-note")).to_contain_text("Nothing here matches")
    expect(hands.see(gone)).to_have_count(0)
    if code.startswith("form"):
        hands.click(".fb-save")
        expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("nothing matches 'Mlil'")


def test_a_copy_is_not_taken_of_all_sites_when_one_was_mistyped(lab: Any, small: fibrebook.Register) -> None:
    """No site chosen means all of them; a site typed wrongly does not."""
    hands = opened(lab, "from fibrebook import screens\nscreens.bring_back()")
    hands.click(".fb-to-take-a-copy-away")
    hands.type(".fb-site input", "Mlil")
    hands.type(".fb-away-folder input", str(lab.root / "van"))
    hands.click(".fb-take-away")
    expect(hands.see(".fb-message.fb-wrong").first).to_contain_text("nothing matches 'Mlil'")
    assert not (lab.root / "van").exists()


def test_save_pressed_twice(lab: Any, small: fibrebook.Register) -> None:
    """One commit, and what is told is the success, however often Save is pressed after it."""
    hands = opened(lab, "from fibrebook import screens\nscreens.record_visit()")
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "AB")
    expect(hands.see(".fb-tray-grid caption")).to_contain_text("joined already", timeout=15_000)
    hands.see(".fb-tray-grid .fb-cell-made").first.click()
    expect(hands.see(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    hands.see("button.fb-save").first.evaluate("b => { b.click(); b.click(); b.click(); }")
    done = hands.see(".fb-message.fb-done").first
    expect(done).to_contain_text("commit 2", timeout=15_000)
    lab.page.wait_for_timeout(1_500)
    hands.click(".fb-save")
    lab.page.wait_for_timeout(1_000)
    expect(done).to_contain_text("commit 2")
    expect(hands.see(".fb-message.fb-wrong")).to_have_count(0)
    assert small.commit == 2


def test_the_forms_save_pressed_twice(lab: Any, small: fibrebook.Register) -> None:
    """A new record is one record; the second press says nothing against the first."""
    hands = opened(lab, "from fibrebook import screens\nscreens.form('locations')")
    hands.pick(".fb-site", "mi")
    hands.type(".fb-in-location input", "Loft")
    hands.type(".fb-by input", "AB")
    hands.see("button.fb-save").first.evaluate("b => { b.click(); b.click(); }")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("commit 2", timeout=15_000)
    lab.page.wait_for_timeout(1_500)
    hands.click(".fb-save")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("nothing was changed")
    hands.see("button.fb-remove").first.evaluate("b => { b.click(); b.click(); }")
    expect(hands.see(".fb-message").first).to_contain_text("Press Remove again")
    assert small.commit == 2


@pytest.mark.long  # the pages' own test of a kernel that died runs always
def test_a_screen_whose_kernel_was_started_anew(lab: Any, small: fibrebook.Register) -> None:
    """It says so within seconds and takes nothing in; run again, it offers what was typed."""
    hands = opened(lab, "from fibrebook import screens\nscreens.record_visit()")
    hands.pick(".fb-site", "mi")
    hands.type(".fb-by input", "AB")
    expect(hands.see(".fb-tray-grid caption")).to_contain_text("joined already", timeout=15_000)
    hands.see(".fb-tray-grid .fb-cell-made").first.click()
    expect(hands.see(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    lab.page.wait_for_timeout(500)
    lab.restart_kernel()
    cut = hands.see(".fb-cut-off")
    expect(cut).to_contain_text("Nothing on it can be saved", timeout=10_000)
    assert hands.see("button.fb-save").first.evaluate("b => b.closest('[inert]') !== null")
    hands.click(".fb-begin-again")
    lab.page.locator(".jp-Dialog .jp-mod-accept").click()
    offered = hands.see("button.fb-resume").first
    try:
        offered.wait_for(timeout=20_000)
    except TimeoutError:  # JupyterLab sometimes stays at "Starting" where a kernel is started anew twice in a row
        hands.see(
            "[data-command='notebook:restart-run-all'] button, button[data-command='notebook:restart-run-all']"
        ).click()
        lab.page.locator(".jp-Dialog .jp-mod-accept").click()
    offered.click(timeout=30_000)
    expect(hands.see(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    assert small.commit == 1


@pytest.mark.long  # it waits for a quarter of a minute; test_page_side_alone.py has a clock of its own
def test_a_screen_at_work_is_not_called_lost(lab: Any, small: fibrebook.Register) -> None:
    """A kernel that works for many seconds is waited for; it is not told to have ended."""
    code = "import time\nfrom fibrebook import screens\nfrom fibrebook.screens.frame.screen import button\nv = screens.record_visit()\n"
    hands = opened(lab, f"{code}v.body = [*v.body, button('Work', lambda: time.sleep(9), 'fb-work')]\nv")
    hands.click(".fb-work")
    for _ in range(10):
        lab.page.wait_for_timeout(1_000)
        expect(hands.see(".fb-cut-off")).to_have_count(0)
