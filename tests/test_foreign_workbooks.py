"""Lists and workbooks that somebody else prepared: a right reading or an error in plain words, within time and memory.

What is small on the disk and enormous once read is refused before it is read.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import fibrebook
from fibrebook import errors
from fibrebook.readers.files.sheets import read_sheets
from fibrebook.readers.guess.guess import guess_layout

READ = """
import resource, sys, time
from pathlib import Path
import python_calamine, fibrebook
from fibrebook import errors
from fibrebook.readers.files.sheets import read_sheets
now = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (now + {megabytes} * 2**20,) * 2)
try:
    print("read", [len(s.rows) for s in read_sheets({path!r})])
except errors.FibrebookError as error:
    print("told", str(error)[:500])
"""


def read_in_a_child(path, megabytes=500, seconds=40):
    """Read a file in a process of bounded memory and time; return what it said."""
    code = READ.format(megabytes=megabytes, path=str(path))
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=seconds,
        env={**os.environ, "PYTHONPATH": str(Path(fibrebook.__file__).parents[1])},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-1500:]
    return done.stdout


# --- lists as text ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("heading", ["x" * 1_000_000, "a," * 500_000, '"' + "x" * 1_000_000, ";" * 1_000_000])
def test_a_heading_of_a_megabyte(tmp_path, heading):
    """A first line of 1 MB, as one cell or half a million, is told in words; so it is when the layout is guessed."""
    path = tmp_path / "cables.csv"
    path.write_text(f"{heading}\nS1,C1,12\n")
    for ask in (read_sheets, guess_layout):
        with pytest.raises(errors.InputError, match="line 1"):
            ask(path)


def test_one_line_of_300_megabytes(tmp_path):
    """It is refused while it is read, in little memory."""
    path = tmp_path / "cables.csv"
    with path.open("w") as file:
        for _ in range(300):
            file.write("x" * 1_000_000)
    assert "characters" in read_in_a_child(path, 200)


@pytest.mark.parametrize("line", ["\n", ",\n", "\r"])
def test_lines_without_anything_in_them_count(tmp_path, monkeypatch, line):
    """Blank lines count as well, at the beginning too, and lists of a folder share the limit."""
    from fibrebook.readers.files import sheets as cells
    from fibrebook.readers.files import text_table

    monkeypatch.setattr(cells, "MOST_CELLS", 1_000)
    monkeypatch.setattr(text_table, "MOST_CELLS", 1_000)
    (tmp_path / "one.csv").write_text("site,cable\n" + line * 400 + "S1,C1\n")
    assert len(read_sheets(tmp_path)[0].rows) == 402
    for text in ("site,cable\n" + line * 2_000 + "S1,C1\n", line * 2_000 + "site,cable\nS1,C1\n"):
        (tmp_path / "one.csv").write_text(text)
        with pytest.raises(errors.InputError, match="too large"):
            read_sheets(tmp_path)
    for name in ("one", "two", "three"):
        (tmp_path / f"{name}.csv").write_text("site,cable\n" + line * 400 + "S1,C1\n")
    with pytest.raises(errors.InputError, match="too large"):
        read_sheets(tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("line", ["\n", ",\n"])
def test_a_hundred_million_lines_without_anything_in_them(tmp_path, line):
    """They are refused long before they fill the memory."""
    path = tmp_path / "cables.csv"
    path.write_text("site,cable\n" + line * 100_000_000 + "S1,C1\n")
    assert "too large" in read_in_a_child(path, 1_000, seconds=120)


@pytest.mark.parametrize("suffix", ["csv", "xlsx", "ods"])
def test_pipes_and_devices_are_no_lists(tmp_path, suffix):
    """A pipe or device under a list's name is told at once; a link to a proper file is a file."""
    path = tmp_path / f"cables.{suffix}"
    os.mkfifo(path)
    with pytest.raises(errors.InputError, match="no file"):
        read_sheets(path)
    path.unlink()
    path.symlink_to("/dev/zero")
    with pytest.raises(errors.InputError, match="no file"):
        read_sheets(path)


def test_ordinary_lists_are_read_as_before(tmp_path):
    """Blank lines before and between, quoted line breaks, any separator and line end, a mark at the beginning."""
    cases = {
        "site,cable\r\nS1,C1\r\n": [["site", "cable"], ["S1", "C1"]],
        "\n\n\ufeffsite;cable\nS1;C1": [[], [], ["\ufeffsite", "cable"], ["S1", "C1"]],
        "\ufeffsite\tcable\rS1\tC1\r": [["site", "cable"], ["S1", "C1"]],
        'site,notes\nS1,"two\nlines, one cell"\n\nS2,x\n': [
            ["site", "notes"], ["S1", "two\nlines, one cell"], [], ["S2", "x"]],
    }  # fmt: skip
    for text, rows in cases.items():
        path = tmp_path / "cables.csv"
        path.write_bytes(text.encode())
        assert read_sheets(path)[0].rows == rows


# --- workbooks --------------------------------------------------------------------------------------------------------

NS = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"


def xlsx(path, sheet, shared=""):
    """Write a workbook of one sheet `cables` from the XML of its rows and of its shared texts."""
    parts = {
        "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>',
        "_rels/.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="a" Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook {NS} xmlns:r="{RELATIONS}"><sheets><sheet name="cables" sheetId="1" r:id="a"/>'
        "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="a" Type="{RELATIONS}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f"<worksheet {NS}><sheetData>{sheet}</sheetData></worksheet>",
        "xl/sharedStrings.xml": f"<sst {NS}>{shared}</sst>",
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, text in parts.items():
            book.writestr(name, text)
    return path


def ods(path, rows):
    """Write an .ods of one sheet `cables` from the XML of its rows."""
    spaces = {"office": "office:1.0", "table": "table:1.0", "text": "text:1.0"}
    named = " ".join(f'xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{s}"' for n, s in spaces.items())
    content = (
        f"<office:document-content {named}><office:body><office:spreadsheet><table:table table:name='cables'>{rows}"
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", content)
    return path


LONG = "x" * 30_000
ODS_CELL = '<table:table-cell office:value-type="string"{}><text:p>{}</text:p></table:table-cell>'
HOSTILE = {
    "one long shared text in 100,000 cells": lambda p: xlsx(
        p / "a.xlsx", "".join(f'<row r="{i}"><c r="A{i}" t="s"><v>0</v></c></row>' for i in range(1, 20_001)),
        f"<si><t>{LONG}</t></si>"),
    "the same in cells without reference": lambda p: xlsx(
        p / "a.xlsx", "<row><c t='s'><v> 0</v></c></row>" * 20_000, f"<si><t>{LONG}</t></si>"),
    "six million cells without reference": lambda p: xlsx(p / "a.xlsx", "<row>" + "<c/>" * 6_000_000 + "</row>"),
    "one wide row above many short ones": lambda p: xlsx(
        p / "a.xlsx", "<row>" + "<c><v>1</v></c>" * 16_000 + "</row>" + "<row><c><v>1</v></c></row>" * 100_000),
    "a row numbered far below": lambda p: xlsx(
        p / "a.xlsx", '<row r="1"><c r="XFD1"><v>1</v></c></row><row r="1048576"><c><v>1</v></c></row>'),
    "an ods cell repeated with its text": lambda p: ods(
        p / "a.ods", "<table:table-row table:number-rows-repeated='50000'>"
        + ODS_CELL.format(' table:number-columns-repeated="50"', LONG) + "</table:table-row>"),
    "an ods cell of four thousand million spaces": lambda p: ods(
        p / "a.ods", "<table:table-row>" + ODS_CELL.format("", '<text:s text:c="200000000"/>' * 2)
        + "</table:table-row>"),
    "an ods row repeated a million times": lambda p: ods(
        p / "a.ods", "<table:table-row table:number-rows-repeated='1048576'>"
        + ODS_CELL.format("", "x") * 6 + "</table:table-row>"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_small_workbooks_that_would_be_enormous(tmp_path, name):
    """Each is refused as too large, in words, before the reader makes a cell of it."""
    path = HOSTILE[name](tmp_path)
    assert path.stat().st_size < 6_000_000
    assert "too large" in read_in_a_child(path, 500)


def test_comments_that_look_like_cells_cost_no_time(tmp_path):
    """Cells that are begun a hundred thousand times in a comment and never ended do not multiply the work."""
    path = xlsx(
        tmp_path / "a.xlsx", "<!--" + "<c r='A1'>" * 300_000 + '--><row r="1"><c r="A1" t="e"><v>#REF!</v></c></row>'
    )
    assert "read [1]" in read_in_a_child(path, 500, seconds=30)


def test_cells_without_reference_are_read_where_they_stand(tmp_path):
    """References may be left out: errors and formulas without result are found in the right cells all the same."""
    rows = "<row><c t='inlineStr'><is><t>site</t></is></c></row><row><c><v>1</v></c><c t='e'><v>#REF!</v></c></row>"
    path = xlsx(tmp_path / "a.xlsx", rows + "<row r='5'><c r='C5'><f>A1</f></c><c><f>A1</f><v>2</v></c></row>")
    (sheet,) = read_sheets(path)
    assert sheet.rows[0][0] == "site" and sheet.rows[1][0] == 1 and sheet.rows[4][3] == 2
    assert sheet.faults == {(2, 2): "#REF!", (5, 3): "a formula that was never worked out"}


@pytest.mark.parametrize("trick", ["two lists", "two parts of one name", "another case"])
def test_a_zip_that_two_readers_take_in_two_ways_is_refused(tmp_path, trick):
    """The look and the reader must see the same parts; where they might not, the file is refused in words."""
    path = xlsx(tmp_path / "a.xlsx", "<row><c><v>1</v></c></row>")
    if trick == "two lists":
        other = xlsx(tmp_path / "b.xlsx", "<row><c><v>2</v></c></row>")
        with zipfile.ZipFile(path, "a") as book:
            book.comment = other.read_bytes()
    else:
        name = "xl/worksheets/sheet1.xml" if trick == "two parts of one name" else "xl/worksheets/Sheet1.xml"
        with (
            zipfile.ZipFile(path, "a") as book,
            pytest.warns(UserWarning) if "one name" in trick else contextlib.nullcontext(),
        ):
            book.writestr(name, "<worksheet/>")
    with pytest.raises(errors.InputError, match="damaged"):
        read_sheets(path)
