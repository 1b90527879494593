"""A workbook out and back by the same merge as everything else, whoever saved it and however it was changed."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest

import fibrebook
from fibrebook import errors


@pytest.fixture
def reg(tmp_path):
    """One site with panel, cable, ports and terminations; personal data; a formula-like note."""
    made = fibrebook.create(tmp_path / "reg", name="Test")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "007", "name": "Mill", "contact": "gatekeeper", "notes": "=1+1"}])
        edit.put("enclosures", [{"site": "007", "enclosure": e, "trays": 2} for e in ("P1", "P2")])
        edit.put("cables", [{"site": "007", "cable": "1.10", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12,
                             "length_m": 120.25, "installed_on": "2024-03-31"}])  # fmt: skip
        edit.put("ports", [{"site": "007", "enclosure": "P1", "port": n, "connector": "LC"} for n in range(1, 13)])
        edit.put("terminations", [{"site": "007", "enclosure": "P1", "port": n, "cable": "1.10", "core": n}
                                  for n in range(1, 13)])  # fmt: skip
    return made


def save_by_openpyxl(path: Path) -> Path:
    """Open and save with openpyxl."""
    book = openpyxl.load_workbook(path)
    book.save(path)
    return path


def save_by_libreoffice(path: Path, suffix: str) -> Path:
    """Open and save with LibreOffice, without a screen."""
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice is not installed here")
    out = path.parent / "office"
    profile = (path.parent / "profile").as_uri()
    subprocess.run(
        [office, f"-env:UserInstallation={profile}", "--headless", "--convert-to", suffix,
         "--outdir", str(out), str(path)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return out / f"{path.stem}.{suffix}"


def everything(reg) -> dict:
    """Return all stored rows."""
    return {n: t.to_pylist() for n, t in reg.tables().items()}


def change(path: Path, edit) -> Path:
    """Change a workbook with openpyxl."""
    book = openpyxl.load_workbook(path)
    edit(book)
    book.save(path)
    return path


def column(sheet, name: str) -> int:
    """Return the number of a column by the name in row 1."""
    return next(c.column for c in sheet[1] if c.value == name)


def row_of(sheet, **cells) -> int:
    """Return the number of the row that holds some values."""
    for row in range(2, sheet.max_row + 1):
        if all(str(sheet.cell(row, column(sheet, n)).value) == v for n, v in cells.items()):
            return row
    raise AssertionError(f"no row {cells}")


@pytest.mark.parametrize("saver", ["nobody", "openpyxl", "xlsx", "ods"])
def test_out_and_back_untouched_changes_nothing(reg, tmp_path, saver):
    """Saved by nobody, by openpyxl or by LibreOffice (as .xlsx and .ods): no cell is taken for changed."""
    path = fibrebook.send_out(reg, tmp_path / "book.xlsx")
    if saver == "openpyxl":
        path = save_by_openpyxl(path)
    elif saver != "nobody":
        path = save_by_libreoffice(path, saver)
    before = everything(reg)
    report = fibrebook.bring_in(reg, path, by="cd", why="back")
    assert report.commit is None and set(report.counts()) <= {"unchanged", "skipped"}, str(report)
    assert everything(reg) == before and reg.commit == 1


@pytest.mark.parametrize("saver", ["openpyxl", "xlsx", "ods"])
def test_rows_added_changed_and_removed_by_the_mark(reg, tmp_path, saver):
    """Added and changed rows come in; a row goes only by the mark, never because it is missing; sheets in any order."""

    def edit(book):
        ports = book["ports"]
        ports.cell(row_of(ports, port="3"), column(ports, "polish")).value = "APC"
        ports.append(["007", "P1", "13", None, "SC"])
        ports.delete_rows(row_of(ports, port="12"))
        ends = book["terminations"]
        ends.cell(row_of(ends, port="11"), column(ends, "remove")).value = "yes"
        book.move_sheet("ports", offset=5)
        book.move_sheet("about", offset=3)
        site = book["sites"]
        site.cell(2, column(site, "hazards")).value = "asbestos"

    path = change(fibrebook.send_out(reg, tmp_path / "book.xlsx"), edit)
    if saver != "openpyxl":
        path = save_by_libreoffice(path, saver)
    report = fibrebook.bring_in(reg, path, by="cd", why="back")
    assert report.commit == 2 and report.base == 1
    ports = reg.table("ports").set_index("port")
    assert ports.polish["3"] == "APC" and ports.connector["13"] == "SC" and "12" in ports.index
    assert sorted(reg.table("terminations").port, key=int) == [str(n) for n in range(1, 13) if n != 11]
    site = reg.table("sites").iloc[0]
    assert (site.hazards, site.notes, site.contact) == ("asbestos", "=1+1", "gatekeeper")
    assert fibrebook.bring_in(reg, path, by="cd", why="twice").commit is None


def test_an_old_workbook_after_newer_changes_merges_and_the_same_cell_is_a_conflict(reg, tmp_path):
    """What others did since stays; the same cell changed on both sides is shown and kept to be decided."""
    path = fibrebook.send_out(reg, tmp_path / "book.xlsx")
    with reg.edit("gh", "meanwhile") as edit:
        edit.put("cables", [{"site": "007", "cable": "1.10", "route": "roof"}])
        edit.put("enclosures", [{"site": "007", "enclosure": "P2", "trays": 4}])

    def mine(book):
        cables = book["cables"]
        cables.cell(2, column(cables, "length_m")).value = 121

    fibrebook.bring_in(reg, change(path, mine), by="cd", why="back")
    cable = reg.table("cables").iloc[0]
    assert (cable.length_m, cable.route) == (121, "roof")
    assert reg.table("enclosures").set_index("enclosure").trays["P2"] == 4
    assert fibrebook.bring_in(reg, path, by="cd", why="the same one twice").commit is None

    def clash(book):
        boxes = book["enclosures"]
        boxes.cell(row_of(boxes, enclosure="P2"), column(boxes, "trays")).value = 6

    with pytest.raises(errors.ConflictError) as caught:
        fibrebook.bring_in(reg, change(path, clash), by="cd", why="clash")
    assert caught.value.conflicts[["column", "base", "theirs", "mine"]].values.tolist() == [["trays", 2, 4, 6]]
    assert reg.pending_resolve(caught.value.pending, "mine") == 4
    assert reg.table("enclosures").set_index("enclosure").trays["P2"] == 6


def test_unknown_columns_and_sheets_are_named_and_nothing_comes_in(reg, tmp_path):
    """A column or a sheet that no table has stops the file, with its place; a hidden one is skipped."""

    def edit(book):
        ports = book["ports"]
        ports.cell(1, ports.max_column + 1).value = "colour of the door"
        ports.cell(2, ports.max_column).value = "green"
        book.create_sheet("my notes")["A1"] = "hello"

    path = change(fibrebook.send_out(reg, tmp_path / "book.xlsx"), edit)
    with pytest.raises(errors.BringInError) as caught:
        fibrebook.bring_in(reg, path, by="cd", why="back")
    told = "\n".join(map(str, caught.value.problems))
    assert "colour of the door" in told and "my notes" in told and reg.commit == 1


def test_a_workbook_without_personal_columns_leaves_them_as_they_are(reg, tmp_path):
    """personal=False sends no contact out, in no sheet; bringing it back clears none."""
    path = fibrebook.send_out(reg, tmp_path / "book.xlsx", personal=False)
    book = openpyxl.load_workbook(path)
    assert not any("gatekeeper" in str(c.value) for s in book for row in s.iter_rows() for c in row)
    fibrebook.bring_in(reg, change(path, lambda b: b["sites"].cell(2, 2, "Old mill")), by="cd", why="back")
    site = reg.table("sites").iloc[0]
    assert (site["name"], site.contact) == ("Old mill", "gatekeeper")


def test_a_workbook_from_a_copy_or_another_register_says_so(reg, tmp_path):
    """A workbook of another register is refused by its id, one from a commit that is not here too."""
    other = fibrebook.create(tmp_path / "other")
    with other.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S1"}])
    path = fibrebook.send_out(other, tmp_path / "book.xlsx")
    with pytest.raises(errors.BringInError, match="not brought in") as caught:
        fibrebook.bring_in(reg, path, by="cd", why="back")
    assert "another register" in str(caught.value)
