"""Pictures of every screen, light, dark and at 200 % zoom: python -m tests.browser.screens [name ...] -> build/screens."""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from driver import Lab, chromium
from hands import Hands
from lab_server import lab as serve
from PIL import Image, ImageDraw
from playwright.sync_api import sync_playwright

import fibrebook
from fibrebook.demo import make_demo
from fibrebook.register.photos import keep_photo

REPO = Path(__file__).parents[2]
PICTURES = REPO / "build" / "screens"
LISTS = REPO / "data" / "old_lists"
THEMES = {"light": "JupyterLab Light", "dark": "JupyterLab Dark"}
# 200 % zoom of a laptop's 1280 x 720: half the CSS pixels, twice as dense
SIZES = {"": (1280, 720, 1), "-zoomed": (640, 360, 2)}
TALL = 2600  # a notebook scrolls within its panel: the window is made tall for a picture of the whole screen
Act = Callable[[Hands], None]


def _site(letters: str) -> Act:
    def act(hands: Hands) -> None:
        hands.pick(".fb-site", letters)
        hands.lab.page.wait_for_timeout(1200)

    return act


def _visit(section: str) -> Act:
    def act(hands: Hands) -> None:
        hands.pick(".fb-site", "marina")
        hands.type(".fb-by input", "CD")
        hands.click(f".fb-to-{section}")
        hands.lab.page.wait_for_timeout(1500)

    return act


def _tray(hands: Hands) -> None:
    hands.pick(".fb-site", "marina")
    hands.type(".fb-by input", "CD")
    hands.choose("to", "cable C4")
    hands.lab.page.wait_for_timeout(800)
    box = hands.see(".fb-tray-grid .fb-cell-loss_db").nth(4)
    box.fill("O.1")
    box.press("Enter")
    hands.see(".fb-tray-grid .fb-cell-loss_db").nth(5).fill("0.05")
    hands.see(".fb-tray-grid .fb-cell-loss_db").nth(5).press("Enter")
    hands.lab.page.wait_for_timeout(1500)


def _commit(hands: Hands) -> None:
    hands.click(".fb-commits tbody tr:nth-child(2) .fb-pick")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-undo")
    hands.lab.page.wait_for_timeout(1200)


def _record(hands: Hands) -> None:
    hands.pick(".fb-site", "dairy")
    hands.pick(".fb-picker:nth-child(2)", "C1")
    hands.type(".fb-in-core_count input", "twelve")
    hands.lab.page.wait_for_timeout(800)


def _path(hands: Hands) -> None:
    hands.pick(".fb-site", "harb")
    hands.pick(".fb-find", "ho-fm/1 9")
    hands.lab.page.wait_for_timeout(2500)


def _photos(hands: Hands) -> None:
    _path(hands)
    hands.click(".fb-photo-open")
    hands.lab.page.wait_for_timeout(800)


def _part(hands: Hands) -> None:
    _site("harb")(hands)
    hands.click(".fb-part[data-kind='enclosure'][data-label='P4']")
    hands.lab.page.wait_for_timeout(1500)


def _guess(hands: Hands) -> None:
    hands.type(".fb-file input", "old_lists/panel_ports.xlsx")
    hands.click(".fb-look")
    hands.see(".fb-way select").select_option(label="guessed from its headings")
    hands.see(".fb-line-site input").wait_for()
    hands.type(".fb-line-site input", "Cold store")
    hands.lab.page.wait_for_timeout(1500)
    hands.see(".fb-keep-layout").scroll_into_view_if_needed()


def _read(hands: Hands, name: str) -> None:
    hands.type(".fb-file input", f"old_lists/{name}")
    hands.click(".fb-look")
    hands.see(".fb-counts").wait_for()
    hands.lab.page.wait_for_timeout(1500)


def _list(hands: Hands) -> None:
    _read(hands, "core_schedule.xlsx")


def _list_pointed(hands: Hands) -> None:
    _read(hands, "panel_ports.xlsx")
    hands.click(".fb-sheet [data-row='5'][data-column='3']")
    hands.lab.page.wait_for_timeout(800)
    hands.click(".fb-understood tbody tr:nth-child(2) .fb-pick")
    hands.lab.page.wait_for_timeout(800)


def _copy(hands: Hands) -> None:
    hands.see(".fb-conflict-grid select").first.select_option("mine")
    hands.type(".fb-by input", "CD")
    hands.click(".fb-bring-back-now")
    hands.click(".fb-every-change .jupyter-widget-Collapse-header")
    hands.lab.page.wait_for_timeout(1200)


def _away(hands: Hands) -> None:
    hands.click(".fb-to-take-a-copy-away")
    for letters in ("harb", "marina"):
        hands.pick(".fb-site", letters)
        hands.lab.page.wait_for_timeout(800)
    hands.type(".fb-away-folder input", "stick")
    hands.lab.page.wait_for_timeout(500)


def _nothing(hands: Hands) -> None:
    hands.lab.page.wait_for_timeout(2500)


SCREENS: dict[str, tuple[str, Act]] = {
    "record-visit-tray": ("record_visit()", _tray),
    "record-visit-cables": ("record_visit()", _visit("cables-and-enclosures")),
    "record-visit-cords": ("record_visit()", _visit("panel-and-cords")),
    "record-visit-equipment": ("record_visit()", _visit("equipment")),
    "record-visit-tests": ("record_visit()", _visit("tests")),
    "record-visit-snags": ("record_visit()", _visit("snags")),
    "record-visit-photos": ("record_visit()", _visit("photos")),
    "history": ("history()", _commit),
    "form": ("form('cables')", _record),
    "return-visit": ("return_visit()", _path),
    "spares": ("spares()", _nothing),
    "headroom": ("headroom()", _nothing),
    "return-visit-photos": ("return_visit()", _photos),
    "bring-in": ("bring_in()", _nothing),
    "bring-in-guess": ("bring_in()", _guess),
    "any-list": ("any_list()", _nothing),
    "any-list-asked": ("any_list()", _list),
    "any-list-pointed": ("any_list()", _list_pointed),
    "bring-back-choose": ("import fibrebook\n\nbring_back(fibrebook.open('office'), 'van')", _copy),
    "bring-back-away": ("bring_back()", _away),
    "site-picture": ("site_picture()", _site("harb")),
    "site-picture-part": ("site_picture()", _part),
}


def _office_and_van(root: Path) -> None:
    """Lay a register and a copy of it beside the demo register, with work in both."""
    shutil.copytree(root / "register", root / "office")
    office = fibrebook.open(root / "office")
    van = office.take_away(root / "van", ["Harbour", "Marina"], personal=False)
    with van.edit("CD", "ditch flooded; measured again") as edit:
        edit.put(
            "cables", {"site": "Harbour", "cable": "HO-HL/1", "length_m": 823.5, "notes": "ditch floods in winter"}
        )
        edit.put("snags", {"site": "Marina", "snag": "S90", "what": "gland loose", "found_on": "2026-11-20"})
    with van.edit("CD", "spare pair kept") as edit:
        pair = [{"site": "Harbour", "cable": "HO-FM/1", "core": n, "reserved_for": "tide gauge"} for n in (20, 21)]
        edit.put("cores", pair)
    with office.edit("EF", "from the drawing") as edit:
        edit.put("cables", {"site": "Harbour", "cable": "HO-HL/1", "length_m": 823, "notes": "drawing renewed"})


def _photos_of_the_harbour(where: Path) -> None:
    """Keep some drawings as photos; the file of one is lost."""
    reg = fibrebook.open(where)
    rows = []
    for n, (what, place) in enumerate((("tray 2, lid off", "P3"), ("front as left", "P1"), ("rack", "Office")), 1):
        picture = Image.new("RGB", (1600, 900), ("#c9d3dd", "#d8d4c8", "#cfd8cc")[n - 1])
        ImageDraw.Draw(picture).text((120, 380), f"{place}: {what}", fill="black", font_size=90)
        out = io.BytesIO()
        picture.save(out, "JPEG")
        row = {"site": "Harbour", "photo": f"F{n}", "file": keep_photo(reg, out.getvalue()), "what": what}
        rows.append({**row, "where": place, "taken_on": f"2026-03-{n:02d}", "taken_by": "RK"})
    with reg.edit("RK", "photos") as edit:
        edit.put("photos", rows)
    (where / "photos" / rows[2]["file"]).unlink()


def main(wanted: list[str]) -> None:
    """Make the pictures of the screens whose names begin with one of those given; none given = all."""
    shutil.rmtree(PICTURES, ignore_errors=True) if not wanted else None
    PICTURES.mkdir(parents=True, exist_ok=True)
    root = Path(tempfile.mkdtemp(prefix="screens-"))
    make_demo(root / "register")
    _photos_of_the_harbour(root / "register")
    shutil.copytree(LISTS, root / "old_lists")
    _office_and_van(root)
    chosen = [n for n in SCREENS if not wanted or any(n.startswith(x) for x in wanted)]
    for theme, full in THEMES.items():
        env = {
            "FIBREBOOK_REGISTER": str(root / "register"),
            "FIBREBOOK_DRAFTS": tempfile.mkdtemp(),
            "FIBREBOOK_PLUGINS": "",
            "PYTHONPATH": str(REPO),
        }
        with serve(root, theme=full, **env) as base, sync_playwright() as playwright:
            browser = chromium(playwright)
            for size, (width, height, dense) in SIZES.items():
                if size and theme == "dark":
                    continue
                context = browser.new_context(
                    viewport={"width": width, "height": height}, device_scale_factor=dense, locale="en-GB"
                )
                lab = Lab(base, root, context.new_page())
                for name in chosen:
                    _picture(lab, name, PICTURES / f"{name}-{theme}{size}.png", bool(size))
                context.close()
            browser.close()
    shutil.rmtree(root, ignore_errors=True)


def _picture(lab: Lab, name: str, path: Path, zoomed: bool) -> None:
    code, act = SCREENS[name]
    lab.write(f"{name}.ipynb", f"from fibrebook.screens import *\n\n{code}")
    lab.open(f"{name}.ipynb")
    lab.shown(".fb-screen").first.wait_for()
    if zoomed:
        lab.page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-mode')")
    try:
        act(Hands(lab))
    except Exception as error:  # the picture shows what came in the way
        print(f"{name}: {error}")
    if zoomed:
        lab.page.screenshot(path=str(path))
        lab.page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-mode')")
    else:
        size = lab.page.viewport_size
        lab.page.set_viewport_size({**size, "height": TALL})
        lab.page.wait_for_timeout(300)
        lab.shown(".fb-screen").first.screenshot(path=str(path))
        lab.page.set_viewport_size(size)
    lab.close()
    print(path.name)


if __name__ == "__main__":
    main(sys.argv[1:])
