"""The reading screens in a real JupyterLab: each one's main task done by typing and clicking, the register checked."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from driver import axe_violations
from playwright.sync_api import expect

import fibrebook

LISTS = Path(__file__).parents[2] / "data" / "old_lists"


def show(lab: Any, screen: str, call: str = "") -> None:
    """Open a notebook with one screen."""
    lab.write(f"{screen}.ipynb", f"from fibrebook import screens\n\nscreens.{screen}({call})")
    lab.open(f"{screen}.ipynb")


def tab_to(lab: Any, selector: str, most: int = 60) -> None:
    """Press Tab until something that matches has the focus; fail where that never comes."""
    for _ in range(most):
        lab.page.keyboard.press("Tab")
        if lab.page.evaluate("s => !!document.activeElement && document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"{most} times Tab never came to {selector}")


def choose_site(lab: Any, letters: str) -> None:
    """Choose a site by a few letters and Enter."""
    box = lab.shown(".fb-site input").first
    box.click()
    box.press_sequentially(letters)
    box.press("Enter")


def sound(lab: Any, axe: Path) -> None:
    """No fault in the page's console, no serious accessibility violation in the screen."""
    # "Unhandled error" alone is JupyterLab's own word for a notebook of an earlier test that is gone from its folder
    assert [e for e in lab.errors if e != "Unhandled error"] == []
    assert axe_violations(lab.page, axe) == []


def test_return_visit_by_keyboard_alone(lab: Any, demo: Path, axe: Path) -> None:
    """Site, cable and core, the open door, another core of the cable: never a touch of the mouse."""
    show(lab, "return_visit")
    keys = lab.page.keyboard
    tab_to(lab, ".fb-site input")
    keys.type("harb")
    keys.press("Enter")
    expect(lab.shown(".fb-about-site")).to_contain_text("Zemblewick Harbour")
    tab_to(lab, ".fb-find input")
    keys.type("ho-fm/1 9")
    began = time.perf_counter()
    keys.press("Enter")
    expect(lab.shown(".fb-asked")).to_contain_text("core HO-FM/1/9")
    assert time.perf_counter() - began < 3  # 0.5 s on an idle machine of two processors
    expect(lab.shown(".fb-path svg")).to_be_visible()
    expect(lab.shown(".fb-steps")).to_contain_text("yellow core")
    expect(lab.shown(".fb-dark")).to_contain_text("Nothing that the register knows of")
    tab_to(lab, ".fb-door select")
    keys.press("ArrowDown")
    expect(lab.shown(".fb-door-open")).to_contain_text("tray 2, 2 splices")
    tab_to(lab, ".fb-cores .fb-pick")
    keys.press("ArrowDown")
    keys.press("ArrowDown")
    keys.press("Enter")
    expect(lab.shown(".fb-asked")).to_contain_text("core HO-FM/1/3")
    expect(lab.shown(".fb-dark")).to_contain_text("light cameras from the market")
    sound(lab, axe)


def test_a_search_typed_fast_is_waited_for(lab: Any, demo: Path) -> None:
    """Enter at once after the last letter chooses from the answer to all letters, not from an older list."""
    show(lab, "return_visit", "site='Campus'")
    box = lab.shown(".fb-find input")
    box.click()
    for text, found in (("dh-en/1 7", "core DH-EN/1/7"), ("pc-119", "cord PC-119"), ("ch60", "channel CH60")):
        box.fill("")
        lab.page.keyboard.type(text)
        lab.page.keyboard.press("Enter")
        expect(lab.shown(".fb-asked h3")).to_contain_text(found)
    expect(lab.shown(".fb-find .fb-picker-list")).to_be_hidden()


def test_spares_to_a_core_and_reserve(lab: Any, demo: Path, axe: Path) -> None:
    """From the sites to a cable's cores, some reserved: the register has them, and the page shows them."""
    show(lab, "spares")
    expect(lab.shown(".fb-lead")).to_contain_text("Grain store")
    lab.shown(".fb-sites .fb-pick").filter(has_text="Harbour").click()
    expect(lab.shown(".fb-routes")).to_contain_text("Ice house")
    lab.shown(".fb-cables .fb-pick").filter(has_text="HO-FM/1").click()
    lab.shown(".fb-reserve-cores input").fill("20 to 22")
    lab.shown(".fb-reserve-for input").fill("tide gauges")
    lab.shown(".fb-reserve-by input").fill("RK")
    lab.shown("button.fb-reserve").click()
    expect(lab.shown(".fb-said")).to_contain_text("3 core(s) of HO-FM/1")
    expect(lab.shown(".fb-cores")).to_contain_text("reserved for tide gauges")
    reg = fibrebook.open(demo)
    kept = reg.table("cores", "Harbour").set_index(["cable", "core"])["reserved_for"]
    assert [kept[("HO-FM/1", n)] for n in (20, 21, 22)] == ["tide gauges"] * 3
    assert reg.log()["by"].iloc[-1] == "RK"
    lab.shown(".fb-cores .fb-pick").filter(has_text="24").click()
    expect(lab.shown(".fb-path svg")).to_be_visible()
    sound(lab, axe)


def test_headroom_what_if(lab: Any, demo: Path, axe: Path) -> None:
    """The tightest stand first; two more splices and another application change the verdict, nothing is stored."""
    before = fibrebook.open(demo).commit
    show(lab, "headroom")
    expect(lab.shown(".fb-channels .fb-pick").first).to_contain_text("Mill")
    lab.shown(".fb-channels .fb-pick").nth(1).click()
    expect(lab.shown(".fb-verdict")).to_contain_text("would run, 0.43 dB left")
    splices = lab.shown(".fb-if-splices input")
    splices.fill("2")
    splices.press("Tab")
    expect(lab.shown(".fb-verdict")).to_contain_text("would NOT run")
    lab.shown(".fb-if-application select").select_option(label="100BASE-FX")
    expect(lab.shown(".fb-verdict")).to_contain_text("100BASE-FX would run")
    sound(lab, axe)
    assert fibrebook.open(demo).commit == before


def test_bring_in_a_list_by_correcting_the_guess(lab: Any, demo: Path, axe: Path) -> None:
    """A list is chosen by path, read by the guess, a column left out by its drop-down, looked at and brought in."""
    show(lab, "bring_in")
    box = lab.shown(".fb-file input")
    box.fill(str(LISTS / "all_cores.csv"))
    box.press("Enter")
    lab.shown(".fb-look").click()
    expect(lab.shown(".fb-summary")).to_contain_text("352 added")
    lab.shown(".fb-way select").select_option(label="guessed from its headings")
    expect(lab.shown(".fb-meaning")).to_have_count(12)
    lab.shown(".fb-meaning select").last.select_option(label="(leave out)")
    expect(lab.shown(".fb-says")).to_contain_text("12 of 12")
    expect(lab.shown(".fb-summary")).to_contain_text("added; nothing wrong")
    lab.shown(".fb-by input").fill("RK")
    sound(lab, axe)
    lab.shown("button.fb-commit").click()
    expect(lab.shown(".fb-said")).to_contain_text("it can be undone")
    reg = fibrebook.open(demo)
    assert {"Sorting office", "Saw mill", "Ice rink"} <= set(reg.sites())
    assert reg.table("cores", "Sorting office")["notes"].dropna().tolist().count("+2 spare") == 0


def test_a_correction_kept_as_a_layout_reads_the_next_list(lab: Any, demo: Path, axe: Path) -> None:
    """A guess corrected by keyboard is kept under a name; the same list, looked at again, is read by it, with its site."""
    show(lab, "bring_in")
    box = lab.shown(".fb-file input")
    box.fill(str(LISTS.parents[1] / "tests" / "old_lists" / "two_ends.ods"))
    box.press("Enter")
    lab.shown(".fb-look").click()
    expect(lab.shown(".fb-cannot")).to_contain_text("say which site the list is of")
    site = lab.shown(".fb-line-site input")
    site.fill("Waterworks")
    site.press("Tab")
    expect(lab.shown(".fb-summary")).to_contain_text("nothing wrong")
    expect(lab.shown(".fb-cannot")).not_to_contain_text("site")
    remark = lab.shown(".fb-meaning select").last
    remark.focus()
    remark.evaluate("(s) => { s.fbSame = true; }")
    lab.page.keyboard.type("(leave")
    expect(lab.shown(".fb-summary")).to_contain_text("nothing wrong")
    expect(remark).to_be_focused()
    assert remark.evaluate("(s) => s.fbSame === true")  # the same box: it was not drawn anew under the hand
    name = lab.shown(".fb-layout-name input")
    name.fill("waterworks list")
    name.press("Tab")
    lab.page.keyboard.press("Enter")
    expect(lab.shown(".fb-layout-kept")).to_contain_text("waterworks list.toml")
    sound(lab, axe)
    lab.page.keyboard.press("Enter")
    expect(lab.shown(".fb-layout-kept")).to_contain_text("already: choose another name")
    kept = demo.parent / "layouts" / "waterworks list.toml"
    before = kept.read_bytes()
    lab.shown(".fb-look").click()
    expect(lab.shown(".fb-says")).to_contain_text("waterworks list.toml reads every line of it")
    expect(lab.shown(".fb-line-site input")).to_have_value("Waterworks")
    expect(lab.shown(".fb-summary")).to_contain_text("nothing wrong")
    assert kept.read_bytes() == before


def test_bring_in_an_uploaded_file_with_faults(lab: Any, demo: Path) -> None:
    """An uploaded list in which something is wrong names its cells and cannot be brought in."""
    show(lab, "bring_in")
    with lab.page.expect_file_chooser() as chooser:
        lab.shown(".fb-upload").click()
    chooser.value.set_files(str(LISTS / "panel_ports.xlsx"))
    expect(lab.shown(".fb-summary")).to_contain_text("nothing wrong")
    lab.shown(".fb-way select").select_option(label="guessed from its headings")
    site = lab.shown(".fb-line-site input")
    expect(site).to_be_visible()
    site.fill("Cold store")
    site.press("Tab")
    expect(lab.shown(".fb-problems").first).to_contain_text("sheet 'Hall 2', row 4, column A")
    expect(lab.shown("button.fb-commit")).to_be_hidden()


def test_site_picture_by_click_and_by_key(lab: Any, demo: Path, axe: Path) -> None:
    """A cable clicked tells its cores; a panel reached by Tab and chosen by Enter opens its door."""
    show(lab, "site_picture", "site='Harbour'")
    lab.shown(".fb-part[data-kind='cable'][data-label='HO-FM/1']").click()
    expect(lab.shown(".fb-asked")).to_contain_text("cable HO-FM/1")
    expect(lab.shown(".fb-dark")).to_contain_text("CH8")
    lab.page.wait_for_function("document.activeElement.querySelector('.fb-asked')")  # the keyboard was brought there
    lab.shown(".fb-schematic-frame").focus()
    tab_to(lab, ".fb-part[data-kind='enclosure'][data-label='P4']")
    lab.page.keyboard.press("Enter")
    expect(lab.shown(".fb-asked")).to_contain_text("enclosure P4")
    expect(lab.shown(".fb-door-open")).to_contain_text("port 1")
    sound(lab, axe)


def test_the_open_screen_follows_what_others_save(lab: Any, demo: Path) -> None:
    """Somebody else's commit appears by itself within a few seconds."""
    show(lab, "return_visit", "site='Harbour'")
    expect(lab.shown(".fb-snags")).to_contain_text("S1")
    with fibrebook.open(demo).edit(by="TB", why="found another") as edit:
        edit.put(
            "snags", [{"site": "Harbour", "snag": "S77", "what": "lid off", "where": "P1", "found_on": "2026-11-20"}]
        )
    expect(lab.shown(".fb-snags")).to_contain_text("S77", timeout=15_000)
