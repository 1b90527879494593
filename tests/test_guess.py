"""A firm's own list looked at for the first time: header row, meanings, spellings, and what is read by them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

import fibrebook
from fibrebook.errors import InputError, NotFoundError
from fibrebook.readers.guess.guess import GUESSED, OWN, SHIPPED, UNKNOWN, guess_layout, one_spelling, respell
from fibrebook.readers.guess.headings import MEANINGS, fibre_class_of, meanings

LISTS = Path(__file__).parents[1] / "data" / "old_lists"


def book(path: Path, rows: list[list[Any]], title: str = "List") -> Path:
    """A workbook of one sheet."""
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    made.save(path)
    return path


def fresh(tmp_path: Path) -> fibrebook.Register:
    """An empty register."""
    return fibrebook.create(tmp_path / "register")


@pytest.mark.parametrize(
    ("headings", "meant"),
    [
        (["Site", "Cable", "Core No", "Colour"], ["site", "cable", "core", "core_colour"]),
        (["Cable ID", "Fibre", "Tube colour", "Fibre colour"], ["cable", "core", "tube_colour", "core_colour"]),
        (
            ["Panel", "Port", "Pos", "Panel", "Port", "Pos"],
            [f"{e}_{w}" for e in "ab" for w in ("enclosure", "port", "position")],
        ),
        (["From", "To", "Port A", "Port B"], ["a_enclosure", "b_enclosure", "a_port", "b_port"]),
        (["End A Panel/Port", "End B Panel/Port"], ["a_panel_port", "b_panel_port"]),
        (["No of cores", "Fibre type", "Length (m)"], ["core_count", "fibre_class", "length_m"]),
        (["Goes to", "Switch port", "Remarks"], ["use", "", "remark"]),
        (["a_enclosure", "b_enclosure", "core_count"], ["a_enclosure", "b_enclosure", "core_count"]),
        (["", "Quantity of marmalade", "Jam"], ["", "", ""]),
    ],
)
def test_headings_in_words_of_the_trade(headings: list[str], meant: list[str]) -> None:
    """Usual headings are known, sides told by their words or by which comes first; others are left alone."""
    assert meanings(headings) == meant
    assert set(meant) <= set(MEANINGS)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("OS2", "OS2"), ("SM 9/125", "OS2"), ("single-mode", "OS2"), ("MM 62,5", "OM1"), ("62.5/125", "OM1"),
        ("50/125 OM3", "OM3"), ("om4", "OM4"), ("G652D", "G.652.D"), ("copper", ""), ("tin", ""),
    ],
)  # fmt: skip
def test_fibre_classes_however_written(text: str, name: str) -> None:
    """Spellings of the classes of ISO/IEC 11801-1 by name or by core and cladding diameters (IEC 60793-2)."""
    assert fibre_class_of(text) == name


def test_a_class_that_is_guessed_is_told(tmp_path: Path) -> None:
    """A bare SM names no class: OS2 is taken, and what that risks is said; a named class is not remarked upon."""
    rows = [["Cable", "Core", "Fibre type"], ["W1", 1, "SM"], ["W2", 1, "OS1"], ["W3", 1, "9/125"]]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    told = [line for line in guess.says if "names no class" in line]
    assert [line.partition(" ")[0] for line in told] == ["'SM'", "'9/125'"]
    assert all("OS2" in line and "1.0 dB/km" in line for line in told)


def test_spellings_that_differ_little_become_the_usual_one() -> None:
    """Case, blanks and hyphens aside, the spelling used most stands; different labels are left apart."""
    found = one_spelling(["C 1", "C1", "C1", "c-1", "C2", "C10"])
    assert found == {"C 1": "C1", "C1": "C1", "c-1": "C1"}


def test_header_below_title_rows_is_found(tmp_path: Path) -> None:
    """Title rows above and a long remark do not pass for the header."""
    rows = [
        ["The works: all cables"],
        ["printed in March", None, 12],
        [],
        ["Cable", "Core", "Panel", "Port"],
        ["W1", 1, "P1", 1],
    ]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    assert (guess.how, guess.header_row) == (GUESSED, {"List": 4})
    assert [c.meaning for c in guess.columns] == ["cable", "core", "a_enclosure", "a_port"]
    assert [c.examples for c in guess.columns] == [["W1"], ["1"], ["P1"], ["1"]]


def test_header_of_two_rows(tmp_path: Path) -> None:
    """The upper row's words run on to the right over the lower one's."""
    rows = [
        ["Cable", "Core", None, "End A", None, "End B", None],
        ["No", "No", "Colour", "Panel", "Port", "Panel", "Port"],
    ]
    rows += [["W1", n, c, "P1", n, "P2", n] for n, c in ((1, "blue"), (2, "orange"))]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    assert guess.header_rows == 2
    assert [c.meaning for c in guess.columns] == [
        "cable", "core", "core_colour", "a_enclosure", "a_port", "b_enclosure", "b_port",
    ]  # fmt: skip
    guess.site = "Works"
    reg = fresh(tmp_path)
    assert fibrebook.bring_in(reg, guess.path, "RK", "x", layout=guess.layout()).ok
    found = fibrebook.cross_reference(reg, "Works")
    assert found[["a_port", "b_port", "state"]].to_numpy().tolist() == [["1", "1", "ready"], ["2", "2", "ready"]]


def test_the_flat_list_is_read_whole_without_its_layout(tmp_path: Path) -> None:
    """The shipped list of 92 cores, in cp1252 with semicolons and decimal commas, comes in by the guess alone."""
    guess = guess_layout(LISTS / "all_cores.csv", [])
    assert (guess.how, guess.encoding, guess.delimiter, guess.decimal) == (GUESSED, "cp1252", ";", ",")
    reg = fresh(tmp_path)
    report = fibrebook.bring_in(reg, guess.path, "RK", "the old list", layout=guess.layout())
    assert report.ok and len(reg.sites()) == 3
    cables = reg.table("cables").set_index(["site", "cable"])
    assert len(reg.table("cores")) == 92  # data/README.md
    assert cables.loc[("Sorting office", "C1"), ["core_count", "fibre_class", "length_m"]].tolist() == [
        24,
        "OS2",
        212.5,
    ]
    assert cables.loc[("Saw mill", "C2"), "length_m"] == 1031.7


def test_a_layout_that_fits_goes_before_the_guess() -> None:
    """A shipped layout that reads every line is taken; its name is told."""
    guess = guess_layout(LISTS / "core_schedule.xlsx")
    assert guess.how == SHIPPED and guess.layout_path is not None
    assert guess.layout_path.name == "core_schedule.toml"
    assert "core_schedule.toml" in guess.says[0]


def test_our_own_workbook_needs_no_layout() -> None:
    """A workbook with our sheets and headings is known as such."""
    guess = guess_layout(LISTS.parent / "demo" / "harbour.xlsx", [])
    assert guess.how == OWN
    assert guess.layout() is None


def test_a_list_without_a_header_is_said_to_be_unknown(tmp_path: Path) -> None:
    """No guess is made up where no row looks like a header; another row may be named by hand."""
    path = book(tmp_path / "list.xlsx", [["W1", 1, "P1"], ["W1", 2, "P1"]])
    guess = guess_layout(path, [])
    assert guess.how == UNKNOWN
    with pytest.raises(InputError, match="no column names the site"):
        guess.layout()
    assert guess_layout(path, [], header_row=1).header_row == {"List": 1}


def test_what_is_lacking_is_said(tmp_path: Path) -> None:
    """Without a site, a cable, or a core number nothing is read; each is asked for in words."""
    guess = guess_layout(book(tmp_path / "list.xlsx", [["Cable", "Core"], ["W1", 1]]), [])
    with pytest.raises(InputError, match="which site"):
        guess.layout()
    guess.site = "Works"
    guess.columns[1].meaning = ""
    with pytest.raises(InputError, match="core numbers or how many"):
        guess.layout()
    guess.columns[1].meaning, guess.columns[0].meaning = "core", ""
    with pytest.raises(InputError, match="names the cable"):
        guess.layout()


def test_corrections_are_what_is_read(tmp_path: Path) -> None:
    """A column said to mean something else is read so, spellings with it."""
    rows = [["Cable", "Core", "Whither"], ["W1", 1, "P 1"], ["W1", 2, "P1"], ["W1", 3, "P1"]]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    guess.site = "Works"
    assert guess.columns[2].meaning == ""
    guess.columns[2].meaning = "a_enclosure"
    respell(guess)
    reg = fresh(tmp_path)
    fibrebook.bring_in(reg, guess.path, "RK", "x", layout=guess.layout())
    assert reg.table("enclosures")["enclosure"].tolist() == ["P1"]
    assert reg.table("cables")[["a_enclosure", "core_count"]].to_numpy().tolist() == [["P1", 3]]


def test_notes_under_the_table_are_not_lines(tmp_path: Path) -> None:
    """Where the numbered lines follow one another, a blank row ends the table."""
    rows = [["Cable", "Core"], ["W1", 1], ["W1", 2], [], ["Checked in May", "by EM"]]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    guess.site = "Works"
    reg = fresh(tmp_path)
    assert fibrebook.bring_in(reg, guess.path, "RK", "x", layout=guess.layout()).ok
    assert reg.table("cables")["cable"].tolist() == ["W1"]


def test_written_once_meant_below(tmp_path: Path) -> None:
    """A cable named on its first line only holds for the lines below."""
    rows = [["Cable", "Core"], ["W1", 1], [None, 2], [None, 3], ["W2", 1], [None, 2], [None, 3]]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    guess.site = "Works"
    assert guess.fill_down == {"cable"}
    reg = fresh(tmp_path)
    fibrebook.bring_in(reg, guess.path, "RK", "x", layout=guess.layout())
    assert reg.table("cables")["core_count"].tolist() == [3, 3]


def test_a_port_written_with_its_position(tmp_path: Path) -> None:
    """3A and 3b are positions A and B of port 3."""
    rows = [["Cable", "Core", "Panel", "Port"], ["W1", 1, "P1", "3A"], ["W1", 2, "P1", "3b"]]
    guess = guess_layout(book(tmp_path / "list.xlsx", rows), [])
    guess.site = "Works"
    reg = fresh(tmp_path)
    fibrebook.bring_in(reg, guess.path, "RK", "x", layout=guess.layout())
    assert reg.table("ports")[["port", "position"]].to_numpy().tolist() == [["3", "A"], ["3", "B"]]


def test_files_that_are_not_there_or_no_lists(tmp_path: Path) -> None:
    """A missing file and one that is no spreadsheet are named."""
    with pytest.raises(NotFoundError, match=r"nowhere\.csv"):
        guess_layout(tmp_path / "nowhere.csv")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8")
    with pytest.raises(InputError, match=r"photo\.jpg"):
        guess_layout(tmp_path / "photo.jpg")
