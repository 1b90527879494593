"""Sheets on paper: they tell what the analyses tell, whatever was typed; pages stand, nothing runs, nothing is fetched."""

from __future__ import annotations

import ast
import csv
import io
import re
import sys
from datetime import date

import pypdf
import pytest
from demo_once import make_demo
from paper_text import hostile_register, joined, told, within

import fibrebook
from fibrebook.cli import main
from fibrebook.errors import FibrebookError, InputError, NotFoundError
from fibrebook.plant.states import STATES
from fibrebook.sheets.paper import single_sheets
from fibrebook.sheets.paper.place_codes import place_code, qr_picture, read_place_code
from fibrebook.sheets.paper.plant_sheets import SLOTS_ON_A_SHEET
from fibrebook.sheets.paper.printed_text import BREAK, MOST, break_long, printed
from fibrebook.sheets.paper.sections import PaperSection, table, words
from fibrebook.sheets.paper.typesetting import FONTS, PaperLook, typeset
from fibrebook.sheets.paper.wording import TEXTS, Wording, known_texts, read_wording

MM = 72 / 25.4


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo register."""
    where = tmp_path_factory.mktemp("paper") / "r"
    make_demo(where)
    return fibrebook.open(where)


def test_each_page_says_what_it_is_of(demo):
    """Site, heading, firm, commit, the commit's day and page x of y stand on every page, on each paper."""
    for paper, size in (("A4", (210, 297)), ("Letter", (215.9, 279.4)), ("A5", (148, 210))):
        data = single_sheets.core_schedule(demo, "Mill", look=PaperLook(paper))
        pages = pypdf.PdfReader(io.BytesIO(data)).pages
        assert len(pages) >= 4
        for number, page in enumerate(pages, 1):
            text = page.extract_text()
            assert text.startswith("Mill\nCable M")
            assert f"as of {demo.committed_utc:.10}, commit {demo.commit}" in " ".join(text.split())
            assert f"page {number} of {len(pages)}" in text and demo.name in text
            assert (float(page.mediabox.width) / MM, float(page.mediabox.height) / MM) == pytest.approx(size, abs=0.1)
    with pytest.raises(InputError, match="there is no paper 'A9'"):
        PaperLook("A9")


def test_a_core_schedule_tells_what_the_cross_reference_tells(demo):
    """Each core's colours in words, state, both ends and channel stand in its line, in the order of the cores."""
    cores = fibrebook.cross_reference(demo, "Mill")
    cores = cores[cores.cable == "M3"].astype(object).where(cores.notna(), None).to_dict("records")
    shown = joined(told(single_sheets.core_schedule(demo, "Mill", ["M3"])))
    at = 0
    for core in cores:
        if core["state"] == "unterminated":
            continue
        port = "/".join(core[c] for c in ("a_enclosure", "a_port", "a_position") if core[c])
        line = joined(f"{core['core']}{core['tube_colour']} tube, {core['core_colour']} core{core['state']}")
        at = shown.index(line, at)
        assert shown.index(joined(port), at) - at < 120
    assert at


def test_a_tube_of_which_nothing_is_made_off_is_one_line(demo):
    """Twelve cores that lie bare in their tube are one line; they are not one with those of the next tube."""
    text = told(single_sheets.core_schedule(demo, "Campus", ["DH-LB/1"]))
    runs = re.findall(r"(\d+) – (\d+) (\w+) tube 12 cores, none made off DH-P3, not joined LB-P1, not joined", text)
    tubes = [
        ("49", "60", "slate"),
        ("61", "72", "white"),
        ("73", "84", "red"),
        ("85", "96", "black"),
    ]  # TIA-598, 5 to 8
    assert runs == tubes
    assert "48 unterminated" in text and text.count("none made off") == 4


def test_a_tray_fits_one_page_of_a5(tmp_path):
    """12 and 24 slots each stand on one A5 page in their order with colours in words; 48 take a second."""
    for count, pages in ((12, 1), (SLOTS_ON_A_SHEET, 1), (48, 2)):
        reg = fibrebook.create(tmp_path / str(count))
        with reg.edit("ab", "x") as edit:
            edit.put("sites", [{"site": "Mill"}])
            edit.put("enclosures", [{"site": "Mill", "enclosure": e} for e in ("J1", "P1", "P2")])
            edit.put("cables", [{"site": "Mill", "cable": c, "core_count": 48, "cores_per_tube": 12,
                                 "a_enclosure": p, "b_enclosure": "J1"} for c, p in (("C1", "P1"), ("C2", "P2"))])  # fmt: skip
            edit.put("splices", [{"site": "Mill", "enclosure": "J1", "tray": "1", "slot": str(n), "a_cable": "C1",
                                  "a_core": n, "b_cable": "C2", "b_core": n, "loss_db": 0.05}
                                 for n in range(1, count + 1)])  # fmt: skip
        data = single_sheets.tray(reg, "Mill", ["J1", "1"])
        found = pypdf.PdfReader(io.BytesIO(data)).pages
        assert len(found) == pages
        assert {(round(float(p.mediabox.width) / MM), round(float(p.mediabox.height) / MM)) for p in found} == {
            (148, 210)
        }
        text = told(data)
        at = 0
        for row in fibrebook.cross_reference(reg, "Mill").head(count).to_dict("records"):
            at = text.index(f"C1 core {row['core']} {row['tube_colour']} tube, {row['core_colour']} core", at)
            assert text.index(f"C2 core {row['core']}", at) > at
        smallest = min(size for page in found for size in sizes_of(page))
        assert smallest >= 6.5  # points; what a grown-up reads at arm's length, common practice, no source


def sizes_of(page) -> list[float]:
    """The sizes of the letters of a page in points, in the order of the text."""
    found: list[float] = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, font, size: found.append(size * abs(tm[3] * cm[3])) if text.strip() else None
    )
    return found


def test_the_sheet_on_a_cabinet_s_door_is_read_from_afar(demo):
    """Capitals are 10 mm high (1/200 of 2 m: common practice, no source), and all that stands in it is on it."""
    data = single_sheets.cabinet_door(demo, "Campus", ["AD"])
    page = pypdf.PdfReader(io.BytesIO(data)).pages[0]
    large = [size for size in sizes_of(page) if size > 12]
    assert large and min(large) * 0.729 / MM >= 10  # 0.729: height of the capitals of DejaVu Sans Mono, of its size
    text = told(data)
    for label in ("AD-P1 → AR", "AD-P3 → Chamber 7", "SW-AD", "Invisible light"):
        assert label in text


def test_a_panel_schedule_tells_each_port_and_bare_ones_together(demo):
    """Every port with something at it has its line; bare ones in a row are one line."""
    text = joined(told(single_sheets.panel_schedule(demo, "Campus", ["AD-P1"])))
    from fibrebook.analyses.paths.panel_and_tray import panel_rows

    for port in panel_rows(demo, "Campus", "AD-P1").dropna(subset=["cable"]).to_dict("records"):
        assert f"{port['port']}{port['position']}{port['cable']}core{int(port['core'])}" in text
    assert "25–48nothingatit" in text


def test_the_snag_list_holds_the_open_ones(demo):
    """Open snags alone, or the one that is asked for; where none is open, that is said and no page made."""
    text = told(single_sheets.snag_list(demo, "Campus"))
    assert "sports centre not tested" in text and "chamber 3 lid rocks" not in text
    assert "kinked" in told(single_sheets.snag_list(demo, "Campus", ["S4"]))
    with pytest.raises(NotFoundError, match="no open snag 'S3'; there are: S1, S2, S4"):
        single_sheets.snag_list(demo, "Campus", ["S3"])
    with pytest.raises(NotFoundError, match="did you mean 'M3'"):
        single_sheets.core_schedule(demo, "Mill", ["M33"])


def test_the_same_register_gives_the_same_bytes(demo):
    """Nothing of the clock, the machine or its fonts is in a sheet; only the fonts that the wheel brings are used."""
    first, again = (single_sheets.snag_list(demo, "Campus") for _ in range(2))
    assert first == again
    reader = pypdf.PdfReader(io.BytesIO(first))
    used = {
        str(f["/BaseFont"]) for p in reader.pages for f in (o.get_object() for o in p["/Resources"]["/Font"].values())
    }
    assert used and all(any(name.replace(" ", "") in font for name in FONTS) for font in used)


@pytest.mark.parametrize(
    "parts", [("Mill", "cable", "M1"), ("A/B", "core", "C%2F1", "7"), ("Ü 1", "tray", "=x", "#\n")]
)
def test_a_place_s_code_reads_back(parts):
    """Separators within a label are escaped, so that the parts come back as they were."""
    assert read_place_code(place_code(*parts)) == parts
    assert place_code(*parts).count("/") == len(parts) - 1
    assert b"<svg" in qr_picture(place_code(*parts))


def test_a_code_of_endless_labels_names_the_site():
    """What no code holds is not tried: the site alone stands in it; a code with a blank part is refused."""
    assert place_code("Mill", "x" * 900) == "Mill"
    qr_picture(place_code("€" * 200, "cable"))
    with pytest.raises(InputError):
        read_place_code("Mill//1")


def test_what_is_printed_is_seen_and_ends():
    """Blanks run together, controls and bidirectional signs are written by number, endless text is cut and says so."""
    assert printed("a\n\t b") == "a b" and printed(None) == printed(float("nan")) == "" and printed(2.50) == "2.5"
    assert printed(date(2026, 1, 2)) == "2026-01-02" and printed("\u202ex") == "<U+202E>x"
    cut = printed("W" * 32_000)
    assert len(cut) < MOST + 40 and cut.endswith("(32,000 letters in all)")
    assert break_long("half-terminated " + "x" * 17) == "half-terminated " + BREAK.join("x" * 17)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    """A register with something hostile in every text field of a plant."""
    return hostile_register(tmp_path_factory.mktemp("hostile"))


@pytest.mark.parametrize("sheet", ["core_schedule", "tray", "panel_schedule", "snag_list", "cabinet_door"])
def test_hostile_text_is_text(hostile, sheet):
    """Markup, formulas, bidirectional signs and 32,000 letters in every field: shown as typed, within the page."""
    text = within(getattr(single_sheets, sheet)(hostile, "S"))
    for typed in ('#panic("ran")', "<script>alert(1)</script>", "=HYPERLINK(1)", "#sys.inputs", "$x^2$`raw`*bold*_it_"):
        assert joined(typed) in text
    assert "root:" not in text and "\u202e" not in text


def test_a_column_keeps_its_width_beside_an_endless_one(hostile):
    """No column is squeezed to one letter by what stands in another: a short word beside it stays in one line."""
    rows = [["short word", "W" * 32_000, "x " * 8000, "end"]]
    data = typeset(
        hostile,
        "S",
        "t",
        [PaperSection("h", "S", table(["One", "Two", "Three", "Four"], (1, 1, 1, 1), rows))],
        PaperLook(),
    )
    first = pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()
    assert "short word" in first and "end" in first


def test_a_second_language_stands_beside_ours(demo, tmp_path):
    """A table of texts puts another language beside the English, values in their places; what it lacks stays English."""
    table_of = tmp_path / "de.csv"
    table_of.write_text(
        "english,other\nCore,Faser\nCable {cable}: cores,Kabel {cable}: Fasern\nState,\n", encoding="utf-8"
    )
    text = told(single_sheets.core_schedule(demo, "Mill", ["M3"], PaperLook(wording=read_wording(table_of))))
    assert "Cable M3: cores / Kabel M3: Fasern" in text and "Core / Faser" in text and "State" in text
    for wrong, said in (("english,other\nCoer,x\n", "did you mean 'Core'"), ("a,b\n1,2\n", "columns english and other"),
                        ("english,other\nCable {cable}: cores,{0.__class__}\n", "must hold")):  # fmt: skip
        table_of.write_text(wrong, encoding="utf-8")
        with pytest.raises(InputError, match=re.escape(said)):
            read_wording(table_of)
    with pytest.raises(NotFoundError, match="there is no file"):
        read_wording(tmp_path / "none.csv")


def test_every_fixed_text_is_in_the_table_and_nothing_else():
    """The table of texts holds what the code says, each once, so that a translation is whole."""
    with TEXTS.open(encoding="utf-8") as file:
        listed = [row["english"] for row in csv.DictReader(file)]
    assert len(listed) == len(set(listed)) == len(known_texts())
    trees = [ast.parse(p.read_text(encoding="utf-8")) for p in TEXTS.parent.parent.rglob("*.py")]
    written = {node.value for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Constant)}
    assert set(listed) - written - set(STATES) == set()
    with pytest.raises(KeyError):
        Wording().say("never said")


def test_without_the_typesetter_it_says_what_to_install(demo, monkeypatch):
    """Whoever lacks the extra is told its name, and gets no trace of Python."""
    for missing in ("typst", "segno"):
        with monkeypatch.context() as m:
            m.setitem(sys.modules, missing, None)
            qr_picture.cache_clear()
            with pytest.raises(FibrebookError, match=r"pip install 'fibrebook\[paper\]'"):
                single_sheets.snag_list(demo, "Campus")


def test_a_section_without_content_is_left_out(demo):
    """No page is made of a heading alone."""
    data = typeset(
        demo, "Mill", "t", [PaperSection("one", "Mill", [words("x")]), PaperSection("two", "Mill")], PaperLook()
    )
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) == 1


def test_the_command_writes_any_of_them(demo, tmp_path, capsys):
    """`sheet` writes a PDF by its name, of what is named, on the paper asked for; what does not fit is said."""
    ask = ["-r", str(demo.where), "sheet"]
    file = tmp_path / "tray.pdf"
    with pytest.raises(SystemExit) as ended:
        main([*ask, "tray", "campus", str(file), "--of", "JC7", "--of", "2"])
    assert ended.value.code == 0 and file.read_bytes().startswith(b"%PDF") and "JC7, tray 2" in told(file.read_bytes())
    with pytest.raises(SystemExit) as ended:
        main([*ask, "next-visit", "Campus", str(tmp_path / "n.html"), "--of", "JC7"])
    assert ended.value.code == 1 and "leave --of out" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main([*ask, "--blank-words", str(tmp_path / "w.csv")])
    assert read_wording(tmp_path / "w.csv").other and "Core," in (tmp_path / "w.csv").read_text()
