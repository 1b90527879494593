"""In a real JupyterLab: photos on the return visit; the site's picture printed, large, and at 200 % zoom."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from driver import axe_violations
from PIL import Image, ImageDraw
from playwright.sync_api import expect
from reach import unreadable

import fibrebook
from fibrebook.register.photos import keep_photo

ZOOMED = {"width": 640, "height": 360}  # 200 % zoom of a laptop's 1280 x 720
CORE = "ho-fm/1 9"  # P1 port 5/A, a splice in P3, P4 port 2/A
CATCH_PRINT = """() => {
  window.fbPrinted = [];
  const own = Object.getOwnPropertyDescriptor(HTMLIFrameElement.prototype, 'contentWindow');
  Object.defineProperty(HTMLIFrameElement.prototype, 'contentWindow', { configurable: true, get() {
    const inner = own.get.call(this);
    if (inner && this.classList.contains('fb-print')) {
      inner.print = () => {
        const shown = getComputedStyle(this).display !== 'none';
        window.fbPrinted.push({ html: inner.document.documentElement.outerHTML, title: inner.document.title, shown });
      };
    }
    return inner;
  } });
}"""


def show(lab: Any, screen: str, call: str = "") -> None:
    """Open a notebook with one screen."""
    lab.write(f"{screen}.ipynb", f"from fibrebook import screens\n\nscreens.{screen}({call})")
    lab.open(f"{screen}.ipynb")


def photo_of(words: str) -> bytes:
    """A drawing as a photo: words on a plain ground."""
    picture = Image.new("RGB", (1600, 900), "#d8d4c8")
    ImageDraw.Draw(picture).text((100, 100), words, fill="black", font_size=80)
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return out.getvalue()


def keep(where: Path, shots: list[tuple[str, str, str, str]]) -> dict[str, Path]:
    """Keep photos of the harbour (label, what, where, day); return label -> its file."""
    reg = fibrebook.open(where)
    files = {label: keep_photo(reg, photo_of(label)) for label, *_ in shots}
    with reg.edit(by="RK", why="photos") as edit:
        edit.put(
            "photos",
            [
                {"site": "Harbour", "photo": p, "file": files[p], "what": what, "where": place, "taken_on": on}
                for p, what, place, on in shots
            ],
        )
    return {label: where / "photos" / file for label, file in files.items()}


@pytest.fixture
def zoomed(lab: Any) -> Iterator[Any]:
    """The page at 200 % zoom, as wide as it gets: one document, no side bars."""
    size = lab.page.viewport_size
    lab.page.set_viewport_size(ZOOMED)
    yield lab
    lab.page.set_viewport_size(size)


def test_what_cannot_be_read_is_found(lab: Any) -> None:
    """The look at a screen finds small letters, letters cut off, and letters to the left of where scrolling begins."""
    page = lab.page.context.browser.new_page()
    try:
        page.set_content(
            "<div class='fb-screen' style='font-size:14px'><p style='font-size:8px'>small</p>"
            "<div style='width:50px;overflow:hidden;white-space:nowrap'>this is cut off at a side</div>"
            "<div style='height:9px;overflow:hidden'>one<br>two below</div>"
            "<div style='width:50px;overflow:auto'><span style='margin-left:-200px'>beyond</span></div>"
            "<div style='width:50px;overflow:auto;white-space:nowrap'>this can be scrolled to</div>"
            "<svg viewBox='0 0 100 100' width='50'><text font-size='14' y='50'>shrunk</text></svg></div>"
        )
        found = " | ".join(unreadable(page))
    finally:
        page.close()
    assert all(
        words in found for words in ("8.0 px: small", "this is cut off", "two below", "to: beyond", "7.0 px: shrunk")
    )
    assert "this can be scrolled to" not in found


def ask(lab: Any, words: str) -> None:
    """Ask the return visit for something and wait for the answer."""
    box = lab.shown(".fb-find input")
    box.click()
    box.fill("")
    lab.page.keyboard.type(words)
    lab.page.keyboard.press("Enter")
    expect(lab.shown(".fb-asked")).to_be_visible()


def test_photos_of_what_is_asked_for(lab: Any, demo: Path, axe: Path) -> None:
    """The core's own first, a few, then more; one is opened whole by key and shut again; a lost one is told in words."""
    shots = [(f"F{n}", f"tray 2, look {n}", "P3", f"2026-01-{n:02d}") for n in range(1, 8)]
    files = keep(
        demo, [*shots, ("F8", "core HO-FM/1/9 cut back", "P1", "2025-05-05"), ("F9", "lamp", "LAMP1", "2026-02-02")]
    )
    files["F6"].unlink()
    requests: list[str] = []
    lab.page.on("request", lambda r: requests.append(r.url))
    show(lab, "return_visit", "site='Harbour'")
    ask(lab, CORE)
    pictures = lab.shown(".fb-photos .fb-photo-open img")
    expect(pictures).to_have_count(3)
    expect(pictures.first).to_have_attribute("alt", "core HO-FM/1/9 cut back, P1 (photo F8, 2025-05-05)")
    expect(pictures.nth(1)).to_have_attribute("alt", "tray 2, look 7, P3 (photo F7, 2026-01-07)")
    assert pictures.first.evaluate("(p) => p.complete && p.naturalWidth") == 360
    expect(lab.shown(".fb-photo-lost")).to_contain_text("not in the register")
    expect(lab.shown(".fb-photos")).to_contain_text("tray 2, look 6")
    lab.shown(".fb-photo-more").click()
    expect(pictures).to_have_count(7)
    expect(lab.shown(".fb-photo-more")).to_be_hidden()
    expect(lab.shown(".fb-photos")).not_to_contain_text("lamp")
    lab.shown(".fb-photo-open").nth(1).focus()
    lab.page.keyboard.press("Enter")
    whole = lab.shown(".fb-photo-whole img")
    expect(whole).to_be_visible()
    expect(whole).to_be_in_viewport()
    assert whole.evaluate("(p) => [p.naturalWidth, p.naturalHeight]") == [1600, 900]
    expect(lab.shown(".fb-photo-open").nth(1)).to_have_attribute("aria-expanded", "true")
    assert axe_violations(lab.page, axe) == []
    lab.page.keyboard.press("Escape")
    expect(whole).to_have_count(0)
    expect(lab.shown(".fb-photo-open").nth(1)).to_be_focused()
    lab.shown(".fb-photo-open").first.click()
    expect(lab.shown(".fb-photo-whole figcaption")).to_contain_text("cut back")
    assert all(u.startswith((lab.base, lab.base.replace("http", "ws"), "data:", "blob:")) for u in requests), requests


def test_photos_taken_meanwhile_appear(lab: Any, demo: Path) -> None:
    """A photo that somebody else saves is there by itself, newest first."""
    keep(demo, [("F1", "tray 2", "P3", "2026-01-01")])
    show(lab, "return_visit", "site='Harbour'")
    ask(lab, CORE)
    expect(lab.shown(".fb-photo-open img")).to_have_count(1)
    keep(demo, [("F2", "tray 2 with the lid off", "P3", "2026-01-02")])
    expect(lab.shown(".fb-photo-open img").first).to_have_attribute("alt", re.compile("lid off"), timeout=15_000)


def test_a_core_chosen_far_down_the_page_is_brought_into_view(lab: Any, demo: Path) -> None:
    """The answer to a row chosen at the foot of the page stands in view, and the keyboard is in it."""
    show(lab, "return_visit", "site='Harbour'")
    ask(lab, CORE)
    lab.shown(".fb-cores .fb-pick").last.click()
    heading = lab.shown(".fb-asked h3")
    expect(heading).to_contain_text("core HO-FM/1/24")
    expect(heading).to_be_in_viewport()
    assert lab.page.evaluate("() => !!document.activeElement.closest('.fb-screen')")


def test_a_click_that_another_commit_falls_into(lab: Any, demo: Path) -> None:
    """The mouse goes down on a row, others save, it goes up: the row that was meant is chosen, and the table is the same."""
    show(lab, "headroom")
    row = lab.shown(".fb-channels .fb-pick").nth(1)  # Mill CH3; the one above it is Mill CH6
    expect(row).to_be_visible()
    row.scroll_into_view_if_needed()
    row.evaluate("(b) => { b.fbSame = true; b.closest('table').fbSame = true; }")
    box = row.bounding_box()
    assert box is not None
    lab.page.mouse.move(box["x"] + 4, box["y"] + 4)
    lab.page.mouse.down()
    reg = fibrebook.open(demo)
    with reg.edit(by="TB", why="no longer in use") as edit:
        edit.remove("channels", [("Mill", "CH6")])
    count = len(reg.table("channels"))
    expect(lab.shown(".fb-lead")).to_contain_text(f"{count} channels", timeout=15_000)
    lab.page.mouse.up()
    expect(lab.shown(".fb-verdict")).to_be_visible()
    expect(lab.shown(".fb-what-if h3")).to_contain_text("channel CH3 at Mill")
    expect(lab.shown(".fb-what-if h3")).to_be_in_viewport()
    assert lab.shown(".fb-channels table").evaluate("(t) => t.fbSame === true")


def pdf_of(lab: Any, html: str) -> Any:
    """What is printed, as a PDF read again."""
    from pypdf import PdfReader

    paper = lab.page.context.browser.new_page()
    try:
        paper.set_content(html)
        return PdfReader(io.BytesIO(paper.pdf(prefer_css_page_size=True)))
    finally:
        paper.close()


@pytest.mark.parametrize("site", ["Harbour", "Campus"])
def test_the_picture_is_printed_on_one_page(lab: Any, demo: Path, site: str) -> None:
    """One page across with every building's name in it, the picture's title, the commit and the day; shown to the printer."""
    show(lab, "site_picture", f"site='{site}'")
    lab.page.evaluate(CATCH_PRINT)
    lab.shown("button").filter(has_text="Print the picture").click()
    lab.shown("button").filter(has_text="Print the picture").click()
    printed = lab.page.evaluate("() => window.fbPrinted")
    assert len(printed) == 2 and printed[-1]["title"] == f"{site}: buildings and cables" and printed[-1]["shown"]
    assert lab.page.locator("iframe.fb-print").count() == 1
    pdf = pdf_of(lab, printed[-1]["html"])
    assert len(pdf.pages) == 1
    page = pdf.pages[0]
    assert page.mediabox.width > page.mediabox.height
    text = " ".join(page.extract_text().split())
    reg = fibrebook.open(demo)
    for label in [*reg.table("cables", site)["cable"].head(5), *reg.table("equipment", site)["equipment"]]:
        assert str(label) in text, label
    assert f"commit {reg.commit}. Printed 20" in text
    sizes: list[float] = []
    page.extract_text(
        visitor_text=lambda t, cm, tm, font, size: sizes.append(abs(tm[3] * cm[3]) * size) if t.strip() else None
    )
    assert min(sizes) >= 5  # points: small, but legible print (common practice, no source)


def test_full_size_and_back(lab: Any, demo: Path) -> None:
    """Full size has larger letters and scrolls in its own frame, the page does not widen; back again it fits."""
    show(lab, "site_picture", "site='Campus'")
    picture = lab.shown(".fb-schematic-frame svg")
    fitted = picture.bounding_box()
    lab.shown("button").filter(has_text="Full size").click()
    expect(lab.shown("button").filter(has_text="Fit to the page")).to_be_visible()
    full = picture.bounding_box()
    assert fitted is not None and full is not None and full["width"] > 1.25 * fitted["width"]
    frame = lab.shown(".fb-schematic-frame")
    assert frame.evaluate("(f) => f.scrollWidth > f.clientWidth")
    assert lab.shown(".jp-OutputArea-output").first.evaluate("(o) => o.scrollWidth <= o.clientWidth + 1")
    assert unreadable(lab.page, ".fb-schematic-frame", 16) == []
    last = lab.shown(".fb-part").last
    last.focus()
    expect(last).to_be_in_viewport()
    lab.shown("button").filter(has_text="Fit to the page").click()
    expect(lab.shown("button").filter(has_text="Full size")).to_be_visible()
    again = picture.bounding_box()
    assert again is not None and abs(again["width"] - fitted["width"]) < 1


@pytest.mark.parametrize("site", ["Harbour", "Campus"])
def test_the_site_picture_at_200_percent(zoomed: Any, demo: Path, axe: Path, site: str) -> None:
    """Nothing is cut off that no scrolling reaches, no letter is under 12 px, and a part chosen brings its answer into view."""
    lab = zoomed
    show(lab, "site_picture", f"site='{site}'")
    expect(lab.shown(".fb-schematic-frame svg")).to_be_visible()
    assert unreadable(lab.page) == []
    part = lab.shown(".fb-part[data-kind='enclosure']").first
    part.focus()
    expect(part).to_be_in_viewport()
    lab.page.keyboard.press("Enter")
    expect(lab.shown(".fb-asked h3")).to_contain_text("enclosure")
    expect(lab.shown(".fb-asked h3")).to_be_in_viewport()
    expect(lab.shown(".fb-door-open svg").first).to_be_attached()
    assert unreadable(lab.page) == []
    assert axe_violations(lab.page, axe) == []


def test_the_return_visit_with_photos_at_200_percent(zoomed: Any, demo: Path) -> None:
    """Path, panel, tables and photos: all can be read and reached."""
    lab = zoomed
    keep(
        demo,
        [
            ("F1", "tray 2", "P3", "2026-01-01"),
            ("F2", "front of the panel as it was left after the work", "P1", "2026-01-02"),
        ],
    )
    show(lab, "return_visit", "site='Harbour'")
    ask(lab, CORE)
    expect(lab.shown(".fb-photo-open img")).to_have_count(2)
    lab.shown(".fb-photo-open").first.click()
    expect(lab.shown(".fb-photo-whole img")).to_be_visible()
    expect(lab.shown(".fb-photo-shut")).to_be_in_viewport()
    expect(lab.shown(".fb-photo-whole img")).to_be_in_viewport(ratio=0.3)  # wider than high, the page wider still
    assert unreadable(lab.page) == []
