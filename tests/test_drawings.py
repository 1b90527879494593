"""Pictures: no text becomes markup, colour never stands alone, text can be read, and the words tell what is drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fibrebook.drawings import Picture, headroom_bars, path_picture, spare_bars
from fibrebook.drawings import svg as builder
from fibrebook.drawings.bars import BASES, STATES
from fibrebook.drawings.fibre import coats
from fibrebook.drawings.svg import Canvas

SVG = "{http://www.w3.org/2000/svg}"
NASTY = "<script>alert(1)</script>&\"'\x00\ud800]]>"
GOLDEN = Path(__file__).parent / "golden" / "small_path.svg"


def step(kind: str, at: str, name: str, **more: Any) -> dict[str, Any]:
    """One row of a trace."""
    blank = {"length_m": None, "loss_db": None, "basis": None, "colour": None, "location": None, "start": False}
    return {"kind": kind, "at": at, "name": name, "wavelength_nm": 1310.0, **blank, **more}


SHORT_PATH = [
    step("port", "P1", "1/A", loss_db=0.8, basis="catalogue + recorded", location="Office"),
    step(
        "core", "C1", "13", length_m=120.0, loss_db=0.05, basis="catalogue", start=True,
        colour="blue tube, orange core with one black stripe",
    ),
    step("splice", "J1", "1/2", loss_db=0.04, basis="measured", location="Chamber"),
    step("core", "C2", "1", length_m=80.5, loss_db=0.03, basis="catalogue", colour="red core"),
]  # fmt: skip


def spare_row(site: str, **counts: int) -> dict[str, Any]:
    """One row of spare(by="site")."""
    row = {column: counts.get(column, 0) for column, *_ in STATES}
    spare = row["ready"] + row["half_terminated"] + row["unterminated"]
    return {"site": site, **row, "spare": spare, "total": sum(row.values())}


def beam(channel: str, headroom_db: float | None, **more: Any) -> dict[str, Any]:
    """One row of headroom()."""
    row = {
        "site": "S", "channel": channel, "application": "1000BASE-SX", "wavelength_nm": 850.0, "loss_db": 2.0,
        "measured_db": 0.5, "recorded_db": 0.5, "catalogue_db": 1.0, "limit_db": 2.6, "headroom_db": headroom_db,
        "binding": "channel insertion loss", "length_m": 100.0, "length_max_m": 550.0,
    }  # fmt: skip
    return row | more


def drawn(picture: Picture) -> ET.Element:
    """The picture as an element tree; a picture that is not well-formed fails here."""
    return ET.fromstring(picture.svg)


def texts(picture: Picture) -> list[str]:
    """Every line of text in a picture."""
    return [t.text or "" for t in drawn(picture).iter(f"{SVG}text")]


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (W3C WCAG 2, definition of relative luminance)."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(a: str, b: str) -> float:
    """Contrast ratio of two colours (W3C WCAG 2, definition of contrast ratio)."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_the_standards_own_figures() -> None:
    """Black on white is 21 : 1, a colour on itself 1 : 1 (W3C WCAG 2, definition of contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#4f7cac", "#4f7cac") == pytest.approx(1)


def test_a_small_path_is_drawn_as_it_was_looked_at() -> None:
    """The picture of a short path is, to the byte, the one that was looked at and kept."""
    assert path_picture(SHORT_PATH).svg == GOLDEN.read_text(encoding="utf-8")


def test_no_record_becomes_markup() -> None:
    """Text full of tags, quotes and characters that XML cannot hold gives a well-formed picture without new tags."""
    evil = [{k: NASTY if isinstance(v, str) and k != "kind" else v for k, v in s.items()} for s in SHORT_PATH]
    pictures = [
        path_picture(evil, title=NASTY),
        spare_bars([spare_row(NASTY, ready=2)], title=NASTY),
        headroom_bars([beam(NASTY, 0.1, site=NASTY, application=NASTY, binding=NASTY)], title=NASTY),
    ]
    for picture in pictures:
        tags = {element.tag.removeprefix(SVG) for element in drawn(picture).iter()}
        assert tags <= {"svg", "title", "desc", "rect", "line", "text", "path", "circle", "pattern"}
        assert "<script" not in picture.svg
        assert any("<script>" in t or "<scrip" in t for t in texts(picture))


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.text(max_size=200))
def test_any_text_gives_a_well_formed_picture(label: str, place: str) -> None:
    """Whatever characters labels, places and colours hold, the picture parses and stays within its frame."""
    rows = [step("port", label, label, location=place), step("core", label, "1", colour=f"{place} core")]
    root = drawn(path_picture(rows, title=label))
    height = float(root.get("height") or 0)
    assert all(float(t.get("y") or 0) < height for t in root.iter(f"{SVG}text"))


def test_words_stand_beside_every_colour() -> None:
    """Tube, core and tracer are written out under the fibre that is drawn in them."""
    said = " ".join(texts(path_picture(SHORT_PATH)))
    for words in ("blue tube,", "orange core", "one black stripe", "red core", "C1 core 13", "splice J1/1/2"):
        assert words in said


def test_tube_core_and_tracer_are_drawn_in_their_colours() -> None:
    """A core's picture holds the tube's colour, the core's and the tracer's, from the table of colour words."""
    worn = coats("blue tube, orange core with one black stripe")
    assert (worn["tube"].colour, worn["core"].colour, worn["core"].tracer) == ("#1f5fbf", "#f58220", "#1a1a1a")
    svg = path_picture(SHORT_PATH).svg
    assert all(f'fill="{c.colour}"' in svg for c in worn.values())
    assert coats("green core with two yellow rings")["core"].ringed


def test_a_colour_without_an_ink_is_still_written() -> None:
    """A word of the firm's own that no ink is known for is drawn as a dashed line and written as it is."""
    picture = path_picture([step("core", "C1", "1", colour="sand core", length_m=10.0)])
    assert "sand core" in texts(picture)
    assert coats("sand core") == {}


def test_ends_that_no_element_tells_are_said() -> None:
    """A core that ends bare says so; a path that comes back to its beginning says that it is a loop."""
    assert "bare end" in texts(path_picture(SHORT_PATH))
    looped = [SHORT_PATH[1], SHORT_PATH[2], SHORT_PATH[3], step("splice", "J2", "1/1")]
    assert "back to the first: a loop" in texts(path_picture(looped))
    assert "bare end" not in texts(path_picture(looped))


def test_what_was_asked_for_is_marked_once() -> None:
    """The element asked for is marked in words, and only that one."""
    assert texts(path_picture(SHORT_PATH)).count("▼ asked for") == 1


def test_a_long_path_goes_on_below_and_nothing_leaves_the_frame() -> None:
    """A path of many elements is broken into rows within 1280 pixels, each but the last saying that it goes on."""
    picture = path_picture(SHORT_PATH[:3] * 12 + SHORT_PATH[3:])
    root = drawn(picture)
    assert picture.width <= 1280
    assert texts(picture).count("on below ▼") == texts(picture).count("▶") > 2
    for box in root.iter(f"{SVG}rect"):
        if box.get("x") is not None:
            assert 0 <= float(box.get("x") or 0) <= picture.width - float(box.get("width") or 0)


def test_the_picture_is_told_in_words_too() -> None:
    """Title and description name every element and the sums, for those who do not see the picture."""
    picture = path_picture(SHORT_PATH, title="C1/13")
    root = drawn(picture)
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == "C1/13"
    told = root.findtext(f"{SVG}desc") or ""
    assert told == picture.told
    assert "core C1/13, blue tube, orange core with one black stripe" in told
    assert "200.5 m, 0.92 dB at 1310 nm" in told  # 120 + 80.5; 0.8 + 0.05 + 0.04 + 0.03


def test_a_frame_and_an_arrow_table_give_the_same_picture() -> None:
    """The same rows as DataFrame, Arrow table or dicts are drawn alike, gaps included."""
    plain = path_picture(SHORT_PATH).svg
    assert path_picture(pa.Table.from_pylist(SHORT_PATH)).svg == plain
    assert path_picture(pd.DataFrame(SHORT_PATH)).svg == plain


def test_nothing_gives_a_picture_of_nothing() -> None:
    """No rows give an empty picture, not an error."""
    for made in (path_picture([]), spare_bars([]), headroom_bars([])):
        assert drawn(made).get("height")


def test_a_picture_shows_itself_and_saves_itself(tmp_path: Path) -> None:
    """A notebook gets the SVG, and `save` writes the same."""
    picture = spare_bars([spare_row("Mill", ready=1)])
    assert picture._repr_svg_() == picture.svg
    assert picture.save(tmp_path / "mill.svg").read_text(encoding="utf-8") == picture.svg


def test_sites_with_nothing_left_come_first() -> None:
    """Spare bars begin with the sites that have none, the bigger first, and say so in words."""
    rows = [
        spare_row("A", ready=5),
        spare_row("B", in_service=4),
        spare_row("C", in_service=8),
        spare_row("D", ready=1),
    ]
    said = texts(spare_bars(rows))
    assert [t for t in said if t in "ABCD"] == ["C", "B", "D", "A"]
    assert "NONE spare of 8" in said
    assert "5 spare of 5" in said


def test_bars_are_as_long_as_their_counts() -> None:
    """Each state's part of a site's bar is its share of the cores, and carries its number."""
    root = drawn(spare_bars([spare_row("A", ready=6, in_service=3, faulty=3)]))
    parts = {b.get("aria-label"): float(b.get("width") or 0) for b in root.iter(f"{SVG}rect") if b.get("aria-label")}
    assert set(parts) == {"6 ready", "3 in service", "3 faulty"}
    assert parts["6 ready"] == pytest.approx(2 * parts["3 faulty"], abs=0.2)
    assert parts["3 in service"] == pytest.approx(parts["3 faulty"], abs=0.2)


def test_the_tightest_channel_comes_first_and_the_unknown_last() -> None:
    """One bar a channel, its tightest beam, in order of headroom; where no figure can be given, the reason in words."""
    rows = [
        beam("loose", 2.0), beam("tight", 0.9), beam("tight", 0.1, loss_db=2.5),
        beam("unknown", None, limit_db=None, loss_db=None, binding="the path is not complete"),
        beam("over", -0.3, loss_db=2.9), beam("long", 0.7, binding="length", length_m=410.0, length_max_m=275.0, over_m=135.0),
    ]  # fmt: skip
    said = texts(headroom_bars(rows))
    assert [t for t in said if t.startswith("S, ")] == ["S, over", "S, long", "S, tight", "S, loose", "S, unknown"]
    for words in (
        "0.30 dB OVER", "135 m TOO LONG", "410 m of at most 275 m, length", "0.10 dB left", "2.50 of 2.60 dB, channel insertion loss",
        "the path is not complete",
    ):  # fmt: skip
        assert words in said


def test_channels_left_out_are_counted() -> None:
    """Beyond the most that are drawn, the number of channels left out is said."""
    assert "and 7 channels with more headroom" in texts(
        headroom_bars([beam(f"c{i}", 1.0 + i) for i in range(9)], most=2)
    )


def test_bars_of_loss_are_shares_by_how_it_is_known() -> None:
    """Measured, recorded and catalogue parts add up to the loss; what is over the limit is marked."""
    root = drawn(headroom_bars([beam("c", -0.4, limit_db=1.6)]))
    parts = [float(b.get("width") or 0) for b in root.iter(f"{SVG}rect") if "dB" in (b.get("aria-label") or "")]
    assert len(parts) == len(BASES)
    assert parts == pytest.approx([parts[0], parts[0], 2 * parts[0]], abs=0.2)
    assert "url(#hatch-over)" in ET.tostring(root, encoding="unicode").split("the limit that binds")[1]


def test_text_can_be_read_on_what_it_stands_on() -> None:
    """Every ink of text has at least 4.5 : 1 on its ground (W3C WCAG 2.2, success criterion 1.4.3)."""
    for ink in (builder.INK, builder.QUIET):
        for ground in (builder.GROUND, "#eef2f6"):
            assert contrast(ink, ground) >= 4.5
    for _, words, fill, hatched, ink in STATES:  # on hatched fills the number stands on a white plate of its own
        assert contrast(ink, builder.GROUND if hatched else fill) >= 4.5, words


def test_states_are_told_apart_without_colour() -> None:
    """Neighbouring states of a bar differ in lightness by 1.4 : 1 or one of them is hatched, and each has an edge."""
    plain = [(fill, hatch) for _, _, fill, hatch, _ in STATES]
    for (a, hatched_a), (b, hatched_b) in pairwise(plain):
        assert hatched_a or hatched_b or contrast(a, b) >= 1.4
    root = drawn(spare_bars([spare_row("A", ready=1, in_service=1)]))
    assert all(b.get("stroke") for b in root.iter(f"{SVG}rect") if b.get("aria-label"))


def test_attributes_are_escaped_too() -> None:
    """A quote in an attribute cannot end it."""
    canvas = Canvas(10, 10, "t", "d")
    canvas.rect(0, 0, 1, 1, fill='"><script>')
    assert "<script>" not in canvas.picture().svg
    assert drawn(canvas.picture()) is not None
