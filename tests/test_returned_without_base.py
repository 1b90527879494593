"""A workbook that comes back: what it was taken from decides what counts as changed; where nobody knows, people decide."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import fibrebook
from fibrebook.errors import BringInError, ConflictError
from fibrebook.readers.bring_in.bring_in import BringInConflictError
from fibrebook.register.commits.edit import Edit

SPLICE = {"site": "S", "enclosure": "J1", "tray": "1", "slot": "1"}


def put(reg: fibrebook.Register, table: str, **row: Any) -> None:
    """Put one row in one commit."""
    with reg.edit(by="office", why="put") as edit:
        edit.put(table, [row])


@pytest.fixture
def reg(tmp_path) -> fibrebook.Register:
    """A joint of which the workbook was sent out with 0.05 dB; the office has measured 0.20 dB since."""
    reg = fibrebook.create(tmp_path / "reg")
    with reg.edit(by="ab", why="x") as edit:
        edit.put("sites", [{"site": "S", "contact": "gate"}])
        edit.put("enclosures", [{"site": "S", "enclosure": e} for e in ("P1", "J1", "P2")])
        ends = (("C1", "P1", "J1"), ("C2", "J1", "P2"))
        rows = [{"site": "S", "cable": c, "a_enclosure": a, "b_enclosure": b, "core_count": 2} for c, a, b in ends]
        edit.put("cables", rows)
        joint = {"a_cable": "C1", "a_core": 1, "b_cable": "C2", "b_core": 1, "loss_db": 0.05}
        edit.put("splices", [{**SPLICE, **joint}])
    fibrebook.send_out(reg, tmp_path / "out.xlsx")
    put(reg, "splices", **SPLICE, loss_db=0.20)
    return reg


def lost(tmp_path: Path, *, headings: bool = True, change: Any = None) -> Path:
    """The workbook without its sheet 'about', and, unless told otherwise, without what stands behind the columns."""
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    del book["about"]
    for sheet in book if headings else ():
        for cell in sheet[1]:
            if str(cell.value).startswith("taken from"):
                cell.value = None
    if change:
        change(book)
    book.save(tmp_path / "lost.xlsx")
    return tmp_path / "lost.xlsx"


def loss(reg: fibrebook.Register) -> float:
    """The loss of the joint."""
    return float(reg.table("splices")["loss_db"][0])


def cell(sheet: Any, column: str, row: int = 2) -> Any:
    """A cell by its column's name."""
    return sheet.cell(row, [c.value for c in sheet[1]].index(column) + 1)


def test_a_stale_sheet_that_lost_its_origin_changes_nothing_in_silence(reg, tmp_path):
    """Nothing was typed in it, and what the office wrote since stays until somebody decides; the dry run says so."""
    path = lost(tmp_path)
    tried = fibrebook.bring_in(reg, path, by="cd", why="back", dry_run=True)
    assert tried.conflict
    assert len(tried.problems) == 1
    with pytest.raises(BringInConflictError, match="which is newer is not known") as caught:
        fibrebook.bring_in(reg, path, by="cd", why="back")
    assert loss(reg) == 0.20
    found = caught.value.conflicts
    assert found[["column", "base", "theirs", "mine"]].values.tolist() == [["loss_db", "not known", 0.20, 0.05]]


@pytest.mark.parametrize(("side", "expected"), [("mine", 0.05), ("theirs", 0.20)])
def test_what_is_decided_is_done(reg, tmp_path, side, expected):
    """The kept edit lists the same conflict when it is looked at later, and does what is chosen."""
    with pytest.raises(BringInConflictError) as caught:
        fibrebook.bring_in(reg, lost(tmp_path), by="cd", why="back")
    name = caught.value.pending
    assert name is not None
    assert len(reg.pending_conflicts(name)) == 1
    with pytest.raises(ConflictError):
        reg.pending_resolve(name)
    reg.pending_resolve(name, side)
    assert loss(reg) == expected
    assert reg.pending().empty


def test_blanks_are_filled_and_new_records_come_in(reg, tmp_path):
    """Without a known base, what fills a blank or is new comes in; a blank cell clears nothing and is told."""

    def change(book: Any) -> None:
        cell(book["splices"], "loss_db").value = None
        cell(book["cables"], "sheath").value = "PE"
        cell(book["sites"], "contact").value = None
        book["enclosures"].append(["S", "WB9"])

    report = fibrebook.bring_in(reg, lost(tmp_path, change=change), by="cd", why="back")
    assert report.commit == reg.commit
    assert any(note.startswith("2 blank cell(s) cleared nothing") for note in report.notes)
    assert loss(reg) == 0.20
    assert reg.table("cables")["sheath"][0] == "PE"
    assert reg.table("sites")["contact"].tolist() == ["gate"]
    assert "WB9" in reg.table("enclosures")["enclosure"].tolist()


def test_a_removal_without_a_base_is_decided_too(reg, tmp_path):
    """Whoever writes yes under remove in a stale sheet may not know what was written to the record since."""

    def change(book: Any) -> None:
        cell(book["splices"], "loss_db").value = 0.2
        cell(book["splices"], "remove").value = "yes"

    with pytest.raises(BringInConflictError) as caught:
        fibrebook.bring_in(reg, lost(tmp_path, change=change), by="cd", why="back")
    assert caught.value.conflicts["column"].tolist() == [""]
    assert len(reg.table("splices")) == 1
    reg.pending_resolve(caught.value.pending, "mine")
    assert reg.table("splices").empty


def test_every_sheet_tells_where_it_was_taken_from(reg, tmp_path):
    """Without the sheet 'about', the headings behind the columns tell the base: the stale value is no change."""
    for path in (lost(tmp_path, headings=False), tmp_path / "out.xlsx"):
        report = fibrebook.bring_in(reg, path, by="cd", why="back")
        assert (report.base, report.commit) == (1, None)
        assert loss(reg) == 0.20


def test_one_sheet_alone_tells_where_it_was_taken_from(reg, tmp_path):
    """Any sheet, saved as .csv by itself, is brought back on the commit that it was taken from."""
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    with (tmp_path / "splices.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(book["splices"].iter_rows(values_only=True))
    report = fibrebook.bring_in(reg, tmp_path / "splices.csv", by="cd", why="back")
    assert (report.base, report.commit) == (1, None)


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed here")
@pytest.mark.parametrize("suffix", ["ods", "xlsx"])
def test_the_headings_stand_after_another_program_has_saved_the_workbook(reg, tmp_path, suffix):
    """LibreOffice opens and saves the workbook; less its sheet 'about', it still tells its base."""
    path = lost(tmp_path, headings=False)
    (tmp_path / "saved").mkdir()
    home = f"-env:UserInstallation=file://{tmp_path}/home"
    words = ["soffice", home, "--headless", "--convert-to", suffix, "--outdir", str(tmp_path / "saved"), str(path)]
    subprocess.run(words, check=True, capture_output=True, timeout=180)
    report = fibrebook.bring_in(reg, tmp_path / "saved" / f"lost.{suffix}", by="cd", why="back")
    assert (report.base, report.commit) == (1, None)


def folder(tmp_path: Path) -> Path:
    """The stale joint as a folder of one .csv."""
    place = tmp_path / "in"
    place.mkdir()
    with (place / "splices.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[*SPLICE, "loss_db"], [*SPLICE.values(), "0.05"]])
    return place


@pytest.mark.parametrize("where", ["in it", "beside it", "beside the file"])
def test_about_json_is_read(reg, tmp_path, where):
    """about.json in a folder of .csv, or beside it, tells what they were taken from."""
    place = folder(tmp_path)
    told = json.dumps({"register": "", "register id": reg.id, "commit": 1})
    ((tmp_path if where == "beside it" else place) / "about.json").write_text(told, encoding="utf-8")
    path = place / "splices.csv" if where == "beside the file" else place
    report = fibrebook.bring_in(reg, path, by="cd", why="back")
    assert (report.base, report.commit) == (1, None)


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"commit": "1", "register id": "x"}', '{"commit": true}', "[" * 9000]
)
def test_an_about_json_that_tells_nothing_is_named(reg, tmp_path, text):
    """One that cannot be read decides nothing: the file is refused and it is named."""
    place = folder(tmp_path)
    (place / "about.json").write_text(text, encoding="utf-8")
    with pytest.raises(BringInError, match=r"about\.json"):
        fibrebook.bring_in(reg, place, by="cd", why="back")
    assert loss(reg) == 0.20


def test_a_folder_without_about_json_is_decided(reg, tmp_path):
    """Nothing tells its base, so the value that differs is asked about."""
    with pytest.raises(BringInConflictError):
        fibrebook.bring_in(reg, folder(tmp_path), by="cd", why="back")


def test_sheets_taken_at_different_times_are_told_apart(reg, tmp_path):
    """A sheet pasted in from a workbook of another day, or of another register, is named and nothing comes in."""

    def change(book: Any) -> None:
        for one in book["cables"][1]:
            if str(one.value).startswith("taken from"):
                one.value = str(one.value).replace("commit 1", "commit 2")

    path = lost(tmp_path, headings=False, change=change)
    with pytest.raises(BringInError, match="was taken from commit"):
        fibrebook.bring_in(reg, path, by="cd", why="back")


def test_an_edit_knows_its_base(reg):
    """Only what comes from a file without an origin is unsure; an edit of a program changes values as ever."""
    edit = reg.edit(by="ab", why="x")
    assert isinstance(edit, Edit)
    assert edit.unsure is False
    put(reg, "splices", **SPLICE, loss_db=0.1)
    assert loss(reg) == 0.1
