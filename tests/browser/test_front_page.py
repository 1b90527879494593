"""The front page in a real browser: one step to a box that takes keys, addresses, screens that stay, a phone's width."""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from driver import axe_violations
from playwright.sync_api import Error, expect
from reach import unreadable
from served import Served, served

import fibrebook

TAKES_KEYS = "() => document.activeElement && document.activeElement.closest('.fb-find-box')"
FULL_MS = 60_000  # a machine at its limit


@pytest.fixture(scope="module")
def register(_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo register of this file's own."""
    where = tmp_path_factory.mktemp("front") / "register"
    shutil.copytree(_demo, where)
    return where


@pytest.fixture(scope="module")
def front(register: Path) -> Iterator[Served]:
    """`fibrebook open`, running with its token."""
    folder = register.parent
    with served(register, folder / "notebooks", FIBREBOOK_DRAFTS=str(folder / "drafts")) as running:
        yield running


@pytest.fixture(scope="module")
def opened(_page: Any, front: Served) -> Iterator[Any]:
    """The page in a browser that knew nothing yet, in front as soon as it takes keys."""
    context = _page.page.context.browser.new_context(viewport={"width": 1366, "height": 768}, locale="en-GB")
    made = context.new_page()
    made.set_default_timeout(FULL_MS)
    made.faults = []
    made.on("pageerror", lambda e: made.faults.append(str(e)[:300]))
    go(made, front.url(""))
    made.wait_for_function(TAKES_KEYS)
    yield made
    context.close()


@pytest.fixture
def page(opened: Any) -> Any:
    """The same page, led back to the front and to its find box."""
    opened.set_viewport_size({"width": 1366, "height": 768})
    opened.locator(".fb-home-name a").click()
    expect(opened.locator(".fb-home-page")).to_be_visible(timeout=FULL_MS)
    opened.keyboard.press("/")
    opened.wait_for_function(TAKES_KEYS)
    opened.keyboard.press("Control+A")
    return opened


def go(page: Any, address: str) -> None:
    """Load a page; a server's address is told a moment before it listens."""
    for left in range(100, -1, -1):
        try:
            page.goto(address)
            return
        except Error:
            if not left:
                raise
            time.sleep(0.1)


def test_typing_leads_to_a_core_and_back_and_reload_and_a_bookmark(page: Any, front: Served) -> None:
    """No click: type, Enter, read; Back is the front page; loaded again, and by the bookmark alone, it is there again."""
    assert "token" not in page.url
    page.keyboard.type("harbour orange 7")
    expect(page.locator(".fb-find-item").first).to_contain_text("orange tube, core 7 in it", timeout=FULL_MS)
    page.keyboard.press("Enter")
    expect(page.locator(".fb-asked")).to_contain_text("core HO-FM/1/19", timeout=FULL_MS)
    there = "#/return-visit/Harbour/core/HO-FM%2F1/19"
    page.wait_for_function("there => location.hash === there", arg=there)
    assert "Harbour" in page.title()
    page.go_back()
    expect(page.locator(".fb-home-page")).to_be_visible(timeout=FULL_MS)
    page.go_forward()
    expect(page.locator(".fb-asked")).to_contain_text("core HO-FM/1/19", timeout=FULL_MS)
    page.reload()
    expect(page.locator(".fb-asked")).to_contain_text("core HO-FM/1/19", timeout=FULL_MS)
    second = page.context.new_page()
    second.goto(f"{front.base}/{there}")  # no token: what a bookmark holds
    expect(second.locator(".fb-asked")).to_contain_text("core HO-FM/1/19", timeout=FULL_MS)
    assert second.locator(".jp-InputArea-editor:visible, .highlight:visible").count() == 0
    second.close(run_before_unload=True)
    assert page.faults == []


def test_every_screen_by_its_link_and_what_is_typed_stays(page: Any, front: Served, axe: Path) -> None:
    """One kernel serves all; a visit half typed is there after all the others were looked at."""
    kernels = len(front.kernels())
    page.locator(".fb-lately a", has_text="Record").first.click()
    box = page.locator(".fb-slot .fb-by input").first
    box.fill("CD")
    links = page.locator(".fb-home-nav a")
    assert links.count() > 8
    for n in range(1, links.count()):  # by place: an address also names the site, as soon as one is chosen
        links.nth(n).click()
        expect(links.nth(n)).to_have_attribute("aria-current", re.compile(".+"), timeout=FULL_MS)
        expect(page.locator(".fb-slot:visible")).to_have_count(1, timeout=FULL_MS)
    page.locator(".fb-home-nav a[href^='#/record-visit']").click()
    expect(box).to_have_value("CD", timeout=FULL_MS)
    assert len(front.kernels()) <= kernels
    page.locator(".fb-home-name a").click()
    expect(page.locator(".fb-attention")).to_contain_text("No spare core", timeout=FULL_MS)
    assert axe_violations(page, axe, ".fb-home") == []
    assert page.faults == []


def test_nothing_found_and_another_question(page: Any) -> None:
    """Words instead of silence; after an answer the next letter begins another question."""
    page.keyboard.type("qqqq")
    expect(page.locator(".fb-find-words")).to_contain_text("Nothing in the register matches “qqqq”", timeout=FULL_MS)
    page.keyboard.press("Control+A")
    page.keyboard.type("glasshuose")
    expect(page.locator(".fb-find-words")).to_contain_text("“glasshuose” as “glasshouse”", timeout=FULL_MS)
    page.keyboard.press("Enter")
    expect(page.locator(".fb-slot:visible .fb-about-site:visible").last).to_contain_text("Glasshouse", timeout=FULL_MS)
    page.keyboard.type("mill")
    expect(page.locator(".fb-find-box input")).to_have_value("mill", timeout=FULL_MS)
    page.keyboard.press("Enter")
    expect(page.locator(".fb-slot:visible .fb-about-site:visible").last).to_contain_text("Mill", timeout=FULL_MS)


def test_an_address_typed_in_and_one_of_nothing(page: Any) -> None:
    """Where there is no such screen, that is said; a thing that is there is shown."""
    page.evaluate("() => { location.hash = '#/nothing-of-the-kind' }")
    expect(page.locator(".fb-message.fb-wrong").first).to_contain_text("There is no screen", timeout=FULL_MS)
    page.evaluate("() => { location.hash = '#/headroom/Mill/channel/CH6' }")
    expect(page.locator(".fb-what-if")).to_contain_text("channel CH6 at Mill", timeout=FULL_MS)


def test_a_distance_is_typed_and_its_place_shown(page: Any, axe: Path) -> None:
    """From what asks for attention to a test; then a distance from a port, and the place on the picture of the way."""
    link = page.locator(".fb-attention a[href*='/test/']").first
    test = link.get_attribute("href").rpartition("/")[2]
    link.click()
    shown = page.locator(".fb-tests:visible tbody tr, .fb-failed-otherwise:visible tbody tr").filter(has_text=test)
    expect(shown).to_have_count(1, timeout=FULL_MS)
    page.evaluate("() => { location.hash = '#/tests-and-faults/Quarry/part/broken' }")
    box = page.locator(".fb-shot-from input")
    box.click()
    box.press_sequentially("P1/1/A")
    box.press("Enter")  # at once, and on: the choice is made when the answer comes
    page.locator(".fb-distance input").fill("1845")
    page.locator(".fb-distance input").press("Tab")
    page.locator(".fb-locate").click()
    expect(page.locator(".fb-place")).to_contain_text("give or take", timeout=FULL_MS)
    expect(page.locator(".fb-place svg")).to_contain_text("▼ here", timeout=FULL_MS)
    assert axe_violations(page, axe, ".fb-tests-and-faults") == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("() => document.scrollingElement.scrollWidth <= innerWidth")


def test_on_a_phone_all_can_be_read(page: Any) -> None:
    """At 390 px nothing of the front page is cut off or too small, and the page does not scroll sideways."""
    page.set_viewport_size({"width": 390, "height": 844})
    expect(page.locator(".fb-attention")).to_contain_text("No spare core", timeout=FULL_MS)
    assert unreadable(page, ".fb-home") == []
    assert page.evaluate("() => document.scrollingElement.scrollWidth <= innerWidth")


def test_news_of_others_reach_the_page(page: Any, register: Path) -> None:
    """What somebody else saves stands on the page within seconds, and is found."""
    with fibrebook.open(register).edit(by="TB", why="first site") as edit:
        edit.put("sites", [{"site": "Boat shed", "customer": "An invented customer"}])
    expect(page.locator(".fb-lately")).to_contain_text("Boat shed", timeout=FULL_MS)
    page.keyboard.type("boat she")
    expect(page.locator(".fb-find-item").first).to_contain_text("Boat shed", timeout=FULL_MS)


def test_in_a_notebook_it_is_the_same_page(lab: Any, demo: Any) -> None:
    """`fibrebook.home(reg)` in a cell: find, go to a screen, and the notebook's own address stays as it is."""
    lab.write(
        "home.ipynb",
        "import fibrebook\nfrom fibrebook.demo import chosen_register\n\nfibrebook.home(chosen_register())",
    )
    lab.open("home.ipynb")
    address = lab.page.url
    box = lab.shown(".fb-find-box input")
    box.click()
    box.press_sequentially("harbour orange 7")
    expect(lab.shown(".fb-find-item").first).to_contain_text("orange tube", timeout=FULL_MS)
    box.press("Enter")
    expect(lab.shown(".fb-asked")).to_contain_text("core HO-FM/1/19", timeout=FULL_MS)
    lab.shown(".fb-home-nav a[href^='#/spares']").click()
    expect(lab.shown(".fb-slot .fb-spares")).to_be_visible(timeout=FULL_MS)
    assert lab.page.url == address
