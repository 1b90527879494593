"""Photos on the return visit: those that belong to what is asked for, newest first, told in words where they are lost."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import pytest
from demo_once import make_demo
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

import fibrebook
from fibrebook import screens
from fibrebook.register.photos import keep_photo
from fibrebook.screens.returning.model import SiteView, naming
from fibrebook.screens.widgets.photo_strip import A_PAGE, FEW, PhotoStrip, caption

CORE = ("core", "HO-FM/1", 9)  # P1 port 5/A, spliced in P3 tray 2 to FM-IH/1, P4 port 2/A: the demo's harbour
SHOTS = [
    ("F1", "tray 2 with the lid off", "P3", "2026-03-01"),
    ("F2", "whole rack", "Office", "2026-10-01"),
    ("F3", "front of P1 as left", None, "2026-05-05"),
    ("F4", "core HO-FM/1 9 cut back", "P1", "2025-01-01"),
    ("F5", "HO-FM/1/9 after the mend", None, "2025-06-01"),
    ("F6", "gland of HO-FM/1", "P1", None),
    ("F7", "lamp", "LAMP1", "2026-11-01"),
    ("F8", "ap1 and P12 and P1-old", None, "2026-11-02"),
    ("F9", "tray 2 with the lid off", "p3, at the market", "2026-09-09"),
    ("F10", "drum of HO-FM/1/91", None, "2026-09-10"),
]


def drawn(words: str, size: tuple[int, int] = (640, 480)) -> bytes:
    """A drawing as a photo: words on a plain ground."""
    picture = Image.new("RGB", size, "#d8d4c8")
    ImageDraw.Draw(picture).text((20, 20), words, fill="black")
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return out.getvalue()


def keep(reg: fibrebook.Register, shots: list[tuple[str, str, str | None, str | None]]) -> dict[str, str]:
    """Keep photos and their rows at the harbour; return label -> file."""
    files = {label: keep_photo(reg, drawn(label)) for label, *_ in shots}
    rows = [
        {
            "site": "Harbour",
            "photo": p,
            "file": files[p],
            "what": what,
            "where": where,
            "taken_on": on,
            "taken_by": "RK",
        }
        for p, what, where, on in shots
    ]
    with reg.edit(by="RK", why="photos") as edit:
        edit.put("photos", rows)
    return files


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """The demo firm's register with some photos of the harbour."""
    where = tmp_path_factory.mktemp("photos") / "register"
    make_demo(where)
    made = fibrebook.open(where)
    keep(made, SHOTS)
    return made


def shown(reg: fibrebook.Register, start: tuple[object, ...] | None) -> list[str]:
    """Labels of the photos of a thing, in order."""
    view = SiteView(reg, "Harbour")
    path = view.path(start) if start is not None else None
    return [r["photo"] for r in view.photos(start, path)]


def test_the_thing_then_what_it_is_in_then_its_way_then_the_rooms(reg: fibrebook.Register) -> None:
    """The core's own, newest first; its cable's; those of panels and trays on its path; those of the rooms they are in."""
    assert shown(reg, CORE) == ["F5", "F4", "F10", "F6", "F9", "F3", "F1", "F2"]


def test_a_port_shows_its_panel_and_an_interface_its_equipment(reg: fibrebook.Register) -> None:
    """What the engineer stands before comes first; what is elsewhere on the site is not shown."""
    port = shown(reg, ("port", "P1", "5", "A"))
    assert port[:3] == ["F3", "F4", "F6"] and "F7" not in port
    assert shown(reg, ("equipment", "LAMP1")) == ["F7"]
    assert shown(reg, ("location", "Office"))[0] == "F2"
    assert shown(reg, ("enclosure", "P3"))[:2] == ["F9", "F1"]


def test_without_a_question_all_photos_of_the_site(reg: fibrebook.Register) -> None:
    """Newest first; the one without a date last."""
    assert shown(reg, None) == ["F8", "F7", "F2", "F10", "F9", "F3", "F1", "F5", "F4", "F6"]
    view = SiteView(reg, "Campus")
    assert view.photos(None, None) == []


@given(
    st.sampled_from(["P1", "A", "HO-FM/1", "C.1", "[x]", "(+)"]),
    st.sampled_from(["", "a ", "see: ", "("]),
    st.sampled_from(["", ".", ", open", "/2", ")"]),
)
def test_a_label_is_found_in_a_sentence_and_never_within_another(label: str, before: str, after: str) -> None:
    """Any label stands out between blanks and stops, whatever signs are in it; letters or digits beside it make another."""
    named = naming({label})
    assert named(f"{before}{label}{after}")
    assert not named(f"{before}x{label}{after}") and not named(f"{before}{label}9{after}")


def test_capitals_count_in_short_labels_only() -> None:
    """A person writes "p12" for P12; "a" and "in" are words."""
    assert naming({"P12"})("behind p12") and not naming({"A", "IN"})("a cord in the way")


def test_a_few_then_the_rest(reg: fibrebook.Register) -> None:
    """A few small pictures to begin with, and how many more there are; each press shows more until none is left."""
    rows = [{"photo": str(n), "file": keep_photo(reg, drawn("x"))} for n in range(FEW + A_PAGE + 2)]
    strip = PhotoStrip(reg, rows)
    seen = []
    for _ in range(3):
        strip.show_more()
        seen.append((len(strip.photos), strip.more))
    assert seen == [(FEW, A_PAGE + 2), (FEW + A_PAGE, 2), (len(rows), 0)]


def test_small_in_the_row_and_whole_below(tmp_path: Path) -> None:
    """The row has small JPEGs made from what is kept; the one chosen is shown as large as it is, within reason."""
    reg = fibrebook.create(tmp_path / "register")
    row = {"photo": "1", "file": keep_photo(reg, drawn("rack", (3000, 1500))), "what": "rack"}
    strip = PhotoStrip(reg, [row])
    strip.show_more()
    strip._asked(strip, {"open": 0}, [])
    sizes = []
    for source in (strip.photos[0]["source"], strip.whole["source"]):
        kind, _, data = source.partition(",")
        assert kind == "data:image/jpeg;base64"
        sizes.append(Image.open(io.BytesIO(base64.b64decode(data))).size)
    assert sizes == [(360, 180), (2000, 1000)]
    strip._asked(strip, {"open": 7}, [])
    assert strip.opened == 0
    strip._asked(strip, "shut", [])
    assert (strip.opened, strip.whole) == (-1, {})


def test_a_photo_that_is_lost_or_damaged_is_told(tmp_path: Path) -> None:
    """A missing file, turned bits and a file that is no picture are said in words; the others are shown all the same."""
    reg = fibrebook.create(tmp_path / "register")
    files = [keep_photo(reg, drawn(t)) for t in ("good", "missing", "damaged")]
    with reg.edit("ab", "as they came") as edit:
        edit.put("choices", {"choice": "photo_details", "value": "keep"})
    files.append(keep_photo(reg, b"\xff\xd8\xff but no picture"))
    files.append("../../etc/passwd")
    folder = Path(reg.where) / "photos"
    (folder / files[1]).unlink()
    (folder / files[2]).write_bytes((folder / files[2]).read_bytes()[:-9] + b"123456789")
    strip = PhotoStrip(reg, [{"photo": str(n), "file": f} for n, f in enumerate(files)])
    strip.show_more()
    strip.show_more()
    assert [bool(p["source"]) for p in strip.photos] == [True, False, False, False, False]
    told = [p["fault"] for p in strip.photos]
    for words, fault in zip(
        ("", "not in the register", "not what was kept", "no picture", "not the name"), told, strict=True
    ):
        assert words in fault and bool(words) == bool(fault)
    strip.show_whole(1)
    assert "not in the register" in strip.whole["fault"]


def test_the_caption_says_what_where_and_when() -> None:
    """What and where, label, day and initials; nothing is made up where nothing was written."""
    row = {"photo": "F1", "what": "lid off", "where": "P3", "taken_on": "2026-03-01", "taken_by": "RK"}
    assert caption(row) == "lid off, P3 (photo F1, 2026-03-01 RK)"
    assert caption({"photo": "F2"}) == "no words to it (photo F2, no date)"


def test_the_screen_shows_them_with_the_answer(reg: fibrebook.Register) -> None:
    """Asking shows those of the thing; a site without any says so only where something was asked for."""
    screen = screens.return_visit(reg, "Harbour")
    assert screen.photos is not None and screen.photos.more == len(SHOTS) - FEW
    screen.ask(CORE)
    assert screen.photos is not None and screen.photos.photos[0]["caption"].startswith("HO-FM/1/9 after the mend")
    screen.site.value = "Campus"
    assert screen.photos is None
    screen.ask(("cord", "PC-119"))
    assert screen.photos is None and screen.said == ""


def test_what_others_save_elsewhere_leaves_the_screen_alone(tmp_path: Path) -> None:
    """A commit at another site draws nothing anew; one here does, and the door that is open stays open."""
    where = tmp_path / "register"
    make_demo(where)
    reg = fibrebook.open(where)
    screen = screens.return_visit(reg, "Harbour")
    screen.ask(CORE)
    screen.door.value = "P4"
    before = screen.answer.children
    with reg.edit(by="TB", why="elsewhere") as edit:
        edit.put("snags", [{"site": "Campus", "snag": "S90", "what": "lid off", "found_on": "2026-11-20"}])
    screen.watch.refresh()
    assert screen.answer.children == before and screen.view is not None and screen.view.commit == reg.commit
    keep(reg, SHOTS[:1])
    screen.watch.refresh()
    assert screen.photos is not None and len(screen.photos.photos) == 1
    assert screen.door.value == "P4" and screen.answer.children != before
