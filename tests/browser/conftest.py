"""One JupyterLab server, one Chromium, one loaded page for all browser tests; kernels end with each test."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # the driver stands beside; tests are imported as single files

REPO = Path(__file__).parents[2]
PICTURES = REPO / "build" / "browser"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder drives a browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Any:
    """Keep a picture of the page as it was when a test failed."""
    report = yield
    here = getattr(item, "funcargs", {}).get("lab")
    if report.when == "call" and report.failed and here is not None:
        PICTURES.mkdir(parents=True, exist_ok=True)
        here.page.screenshot(path=str(PICTURES / f"failed-{item.name}.png"))
    return report


@pytest.fixture(scope="session")
def axe() -> Path:
    """Where axe-core's one file lies: the one AXE_CORE names, else the one a test package brings along."""
    if os.environ.get("AXE_CORE"):
        return Path(os.environ["AXE_CORE"])
    import axe_playwright_python

    return Path(axe_playwright_python.__file__).with_name("axe.min.js")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The browser of all tests: there is room for one at a time in a process."""
    from driver import chromium as launch
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = launch(playwright)
        yield browser
        browser.close()


@pytest.fixture
def alone(chromium: Any) -> Iterator[Any]:
    """A bare page for single controls; no script on it may fail."""
    from alone import Alone

    made = Alone(chromium)
    yield made
    made.close()
    assert made.errors == []


@pytest.fixture
def clocked(alone: Any) -> Any:
    """Such a page, whose clock goes when it is told to."""
    alone.stop_the_clock()
    return alone


@pytest.fixture(scope="session")
def _page(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Iterator[Any]:
    from driver import Lab
    from lab_server import lab as serve

    root = tmp_path_factory.mktemp("notebooks")
    register = root / "register"  # every test has its own, put here under this name
    drafts = tmp_path_factory.mktemp("drafts")
    seen = tmp_path_factory.mktemp("seen")  # of registers that come and go at one place
    with serve(
        root,
        tmp_path_factory.mktemp("lab"),
        FIBREBOOK_REGISTER=str(register),
        FIBREBOOK_DRAFTS=str(drafts),
        FIBREBOOK_WITNESS=str(seen),
        PYTHONPATH=str(REPO),
    ) as base:
        page = chromium.new_page(viewport={"width": 1280, "height": 720}, locale="en-GB")
        here = Lab(base, root, page)
        here.seen = seen
        yield here
        page.close()


@pytest.fixture
def lab(_page: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The loaded page with an empty folder and no kernels; afterwards everything is closed."""
    monkeypatch.setenv("FIBREBOOK_WITNESS", str(_page.seen))
    _clear(_page.root)
    _clear(_page.seen)
    _page.errors.clear()
    yield _page
    _page.close()


@pytest.fixture
def demo(lab: Any, _demo: Path) -> Path:
    """A fresh copy of the demo register, the one that the notebooks open; return where it is."""
    shutil.copytree(_demo, lab.root / "register")
    return Path(lab.root / "register")


@pytest.fixture
def small(lab: Any) -> Any:
    """The small register of one mill, where the notebooks look for it."""
    from work import make_small

    return make_small(lab.root / "register")


@pytest.fixture(scope="session")
def _demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import fibrebook

    where = tmp_path_factory.mktemp("demo") / "register"
    reg = fibrebook.create(where, name="Demo firm")
    books = sorted((REPO / "data" / "demo").glob("*.xlsx"), key=lambda p: (p.name == "visits.xlsx", p.name))
    for book in books:
        fibrebook.bring_in(reg, book, by="DEMO", why=f"demo data: {book.stem}")
    return where


def _clear(root: Path) -> None:
    for path in root.iterdir():
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink()
