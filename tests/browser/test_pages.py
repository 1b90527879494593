"""The notebooks as pages without code: the same screens, on this machine only, and with nothing from a network."""

from __future__ import annotations

import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from served import Served, served

import fibrebook

TOLD_WITHIN_S = 2.0
VISIT = "voila/render/record_visit.ipynb"


@pytest.fixture
def pages(demo: Path, tmp_path: Path) -> Iterator[Served]:
    """`fibrebook open --pages`, running, with its token."""
    with served(demo, tmp_path / "pages", "--pages", FIBREBOOK_DRAFTS=str(tmp_path / "drafts")) as running:
        yield running


@pytest.fixture
def page(lab: Any) -> Iterator[Any]:
    """A page of a browser that knows nothing yet."""
    context = lab.page.context.browser.new_context(viewport={"width": 1280, "height": 720}, locale="en-GB")
    yield context.new_page()
    context.close()


def choose_marina(page: Any) -> None:
    """Choose the site by typing, give initials, and wait for its tray."""
    box = page.locator(".fb-site input").first
    box.click(timeout=90_000)
    box.press_sequentially("marina")
    page.locator(".fb-site .fb-picker-option").first.wait_for()
    box.press("Enter")
    page.locator(".fb-by input").fill("CD")
    expect(page.locator(".fb-tray-grid caption")).to_contain_text("joined already", timeout=15_000)


def tick_one(page: Any) -> None:
    """Tick the first core of the tray, and wait until it is in the visit and in the draft."""
    page.locator(".fb-tray-grid .fb-cell-made").first.click()
    expect(page.locator(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    page.wait_for_timeout(500)


def kernels_settle(pages: Served, number: int) -> None:
    """Wait until so many kernels run, no more and no fewer."""
    end = time.monotonic() + 20
    while (now := len(pages.kernels())) != number:
        assert time.monotonic() < end, f"{now} kernels"
        time.sleep(0.2)


def test_a_visit_is_recorded_on_a_page_without_code(page: Any, pages: Served, demo: Path) -> None:
    """No code is to be seen, nobody without the token comes in, no other machine is asked, and the save is a commit."""
    with urllib.request.urlopen(f"{pages.base}/{VISIT}") as answer:
        assert "/login" in answer.url
    page.route(lambda url: not url.startswith((pages.base, "data:", "blob:", "ws")), lambda r: r.abort())
    page.goto(pages.url(VISIT))
    choose_marina(page)
    before = fibrebook.open(demo).commit
    tick_one(page)
    page.locator(".fb-save").first.click()
    expect(page.locator(".fb-message.fb-done").first).to_contain_text(f"commit {before + 1}", timeout=15_000)
    assert fibrebook.open(demo).log()["by"].iloc[-1] == "CD"
    assert page.locator(".jp-CodeCell .jp-InputArea-editor:visible").count() == 0


def test_a_visit_outlives_its_page_being_loaded_again(page: Any, pages: Served, demo: Path) -> None:
    """Typed, loaded again twice: each time the visit is offered at once, whole, and no kernel more runs than before.

    The screen says so as soon as it stands; how long that takes is Voila's and the machine's.
    """
    page.goto(pages.url(VISIT))
    choose_marina(page)
    tick_one(page)
    kernels_settle(pages, 1)
    for _ in range(2):
        page.reload()
        page.locator(".fb-site input").first.wait_for(timeout=90_000)
        shown = time.monotonic()
        page.locator("button.fb-resume").first.wait_for(timeout=10_000)
        assert time.monotonic() - shown < TOLD_WITHIN_S
        kernels_settle(pages, 1)
        page.locator("button.fb-resume").first.click()
        expect(page.locator(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
        page.wait_for_timeout(500)
    page.locator(".fb-save").first.click()
    expect(page.locator(".fb-message.fb-done").first).to_contain_text("commit", timeout=15_000)
    page.reload()
    page.locator(".fb-site input").first.wait_for(timeout=90_000)
    page.wait_for_timeout(3_000)
    assert page.locator("button.fb-resume").count() == 0


def test_a_second_page_is_told_of_the_first_ones_visit_and_may_take_it_over(page: Any, pages: Served) -> None:
    """Two pages, two kernels, one visit: the second names it, takes it over, and the first then keeps and saves nothing."""
    page.goto(pages.url(VISIT))
    choose_marina(page)
    tick_one(page)
    second = page.context.new_page()
    second.goto(pages.url(VISIT))
    told = second.locator(".fb-elsewhere")
    expect(told).to_contain_text("Being typed in another page", timeout=90_000)
    expect(told).to_contain_text("Marina, by CD")
    expect(second.locator(".fb-discard")).to_have_count(0)
    second.locator("button.fb-resume").first.click()
    expect(second.locator(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    expect(page.locator(".fb-message.fb-wrong").first).to_contain_text("taken over in another page", timeout=10_000)
    expect(page.locator("button.fb-save").first).to_be_disabled()


def test_a_page_whose_kernel_died_says_so_and_begins_again(page: Any, pages: Served, demo: Path) -> None:
    """The kernel is killed: within seconds words say so, nothing can be pressed, and one press brings the visit back."""
    page.goto(pages.url(VISIT))
    choose_marina(page)
    tick_one(page)
    before = fibrebook.open(demo).commit
    for kernel in pages.kernels():
        kernel.kill()
    cut = page.locator(".fb-cut-off")
    expect(cut).to_contain_text("Nothing on it can be saved", timeout=15_000)
    expect(cut).to_contain_text("is kept on this machine")
    assert page.locator("button.fb-save").first.evaluate("b => b.closest('[inert]') !== null")
    page.locator(".fb-begin-again").click()
    page.locator("button.fb-resume").first.click(timeout=90_000)
    expect(page.locator(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
    assert fibrebook.open(demo).commit == before
