"""The page of a site in a browser: everything without JavaScript, a search with it, and no fault that hinders anyone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from driver import axe_violations

import fibrebook

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo's campus, as a file."""
    from fibrebook.demo import make_demo

    where = tmp_path_factory.mktemp("page")
    make_demo(where / "r")
    file = where / "campus.html"
    file.write_text(fibrebook.site_page(fibrebook.open(where / "r"), "Campus"), encoding="utf-8")
    return file


@pytest.fixture
def browser(chromium: Any) -> Any:
    """The browser that the other tests share."""
    return chromium


def test_everything_is_read_without_javascript(browser: Any, page_file: Path) -> None:
    """No search box is promised; every link of the index leads to what it names, opened."""
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(page_file.as_uri())
    assert not page.locator("#q").is_visible()
    links = page.locator("main a[href^='#c'], main a[href^='#e']")
    for n in range(0, links.count(), 6):
        there = links.nth(n).get_attribute("href")
        page.goto(f"{page_file.as_uri()}{there}")
        assert page.locator(f"[id='{there[1:]}']").is_visible()
    page.goto(f"{page_file.as_uri()}#c1-7")
    assert "red core" in page.locator("#c1-7").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_a_colour_and_a_number_find_the_core_before_the_port(browser: Any, page_file: Path, axe: Path) -> None:
    """`orange 7` is the seventh core of the orange tube; its row is opened; a search without an answer says so."""
    page = browser.new_context(viewport=PHONE).new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(page_file.as_uri())
    assert axe_violations(page, axe, "body") == []
    page.fill("#q", "orange 7")
    first = page.locator("#hits a").first
    first.wait_for()
    assert "orange tube, red core" in first.inner_text() and first.inner_text().startswith("core ")
    first.click()
    page.locator("li.found").wait_for()
    assert page.locator("li.found").is_visible() and "orange tube, red core" in page.locator("li.found").inner_text()
    page.fill("#q", "zebra")
    page.locator("#told", has_text="Nothing on this page").wait_for()
    assert wrong == []


def test_a_search_is_quick_on_a_slow_phone(browser: Any, page_file: Path) -> None:
    """At a sixth of the speed an answer is there within 60 ms of the wait after typing, once the page was read."""
    page = browser.new_context(viewport=PHONE).new_page()
    page.goto(page_file.as_uri())
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 6})
    ask = """(typed) => new Promise((done) => {
        const box = document.getElementById("q"), told = document.getElementById("told");
        let began = 0;
        new MutationObserver((_, watch) => { watch.disconnect(); done(performance.now() - began - 60); })
            .observe(told, {childList: true, characterData: true, subtree: true});
        box.value = typed; began = performance.now(); box.dispatchEvent(new Event("input"));
    })"""
    page.evaluate(ask, "blue 1")  # the first reads the page
    taken = sorted(page.evaluate(ask, typed) for typed in ("orange 7", "ch54", "ad-bh/1/7", "jc7", "nothing like it"))
    assert taken[2] < 60, taken
