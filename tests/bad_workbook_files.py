"""Files for test_bad_workbooks.py that are no workbook, are cut short, locked, too large or hold no table."""

from __future__ import annotations

import zipfile

from bad_workbook_cases import book, one
from openpyxl import Workbook
from openpyxl.chart import BarChart
from small_ods import write_ods


def _truncated(path):
    whole = book(path.with_name("whole.xlsx"), one("sites", ["site"], ["S"])).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def _good(path, name="n"):
    return book(path, one("sites", ["site", "name"], ["S", name]))


def _marked_locked(path):
    """Set the mark "encrypted" in every part's heads (APPNOTE of the zip format, 4.4.4, bit 0)."""
    data = bytearray(_good(path).read_bytes())
    for sign, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = data.find(sign)
        while start >= 0:
            data[start + at] |= 1
            start = data.find(sign, start + 4)
    path.write_bytes(data)
    return path


def _told_size(size):
    """Write a workbook whose list tells another expanded size of its first part (APPNOTE 4.3.12, offset 24)."""

    def write(path):
        data = bytearray(_good(path).read_bytes())
        start = data.find(b"PK\x01\x02") + 24
        data[start : start + 4] = size.to_bytes(4, "little")
        path.write_bytes(data)
        return path

    return write


def _many_parts(path):
    with zipfile.ZipFile(_good(path), "a") as made:
        for i in range(5_001):
            made.writestr(f"x/{i}", b"")
    return path


def _with_part(part, content):
    """Write a workbook with one part exchanged, or left out (None)."""

    def write(path):
        whole = _good(path.with_name("whole.xlsx"))
        with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w") as new:
            for name in old.namelist():
                if name != part or content is not None:
                    new.writestr(name, content if name == part else old.read(name))
        return path

    return write


def _ods_with(old, new):
    """Write an .ods, a piece of its content exchanged."""

    def write(path):
        made = write_ods(path.with_name("whole.ods"), {"sites": [["site", "name"], ["S", "n"]]})
        with zipfile.ZipFile(made) as book, zipfile.ZipFile(path, "w") as new_book:
            for name in book.namelist():
                data = book.read(name).decode()
                assert name != "content.xml" or old in data
                new_book.writestr(name, data.replace(old, new) if name == "content.xml" else data)
        return path

    return write


def _chart_only(path):
    made = Workbook()
    made.create_chartsheet("picture").add_chart(BarChart())
    made.remove(made["Sheet"])
    made.save(path)
    return path


def _renamed(write, name):
    return lambda path: write(path.with_name(name)).rename(path)


def _folder(**files):
    def write(path):
        path.mkdir()
        for name, data in files.items():
            (path / f"{name}.csv").write_bytes(data)
        return path

    return write


def _zip_of_text(path):
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("letter.txt", "no spreadsheet")
    return path


def _far_cell(path):
    made = Workbook()
    made.active.title = "sites"
    made.active["A1"], made.active["XFD1048576"] = "site", "lost"
    made.save(path)
    return path


def _written(data):
    def write(path):
        path.write_bytes(data)
        return path

    return write


def _good_bytes(path):
    path.write_bytes(_good(path.with_name("whole.xlsx")).read_bytes())
    return path


def _ods_cut(path):
    path.write_bytes(write_ods(path, {"sites": [["site"], ["S"]]}).read_bytes()[:-60])
    return path


FILES = {
    "empty": ("a.xlsx", _written(b""), "is empty"),
    "a letter": ("a.xlsx", _written(b"Dear all, the cores are as follows"), "no workbook"),
    "cut short": ("a.xlsx", _truncated, "cut short"),
    "another zip": ("a.xlsx", _zip_of_text, "no spreadsheet"),
    "locked parts": ("a.xlsx", _marked_locked, "password"),
    "far larger than it looks": ("a.xlsx", _told_size(4_000_000_000), "too large"),
    "larger than its list says": ("a.xlsx", _told_size(10), "damaged"),
    "thousands of parts": ("a.xlsx", _many_parts, "too large"),
    "a sheet that is no XML": ("a.xlsx", _with_part("xl/worksheets/sheet1.xml", b"<worksheet><row>"), "save it again"),
    "a sheet that is not there": ("a.xlsx", _with_part("xl/worksheets/sheet1.xml", None), "save it again"),
    "a list of sheets that is no XML": ("a.xlsx", _with_part("xl/workbook.xml", b"<workbook"), "save it again"),
    "an ods called xlsx": ("a.xlsx", _renamed(lambda p: write_ods(p, {"sites": [["site"]]}), "b.ods"), "save it again"),
    "an xlsx called ods": ("a.ods", _renamed(_good, "b.xlsx"), "save it again"),
    "a picture only": ("a.xlsx", _chart_only, "holds no table"),
    "an old sort of workbook": ("a.xls", _good_bytes, "save it as .xlsx"),
    "with macros": ("a.xlsm", _good_bytes, "save it as .xlsx"),
    "only its origin": ("a.xlsx", lambda p: book(p, {"about": [["register", "Small"]]}), "holds no table"),
    "ods empty": ("a.ods", _written(b""), "is empty"),
    "ods cut short": ("a.ods", _ods_cut, "cut short"),
    "ods no XML": ("a.ods", _ods_with("</office:body>", ""), "no proper XML"),
    "ods repeated without end": ("a.ods", _ods_with("<table:table-row>", '<table:table-row table:number-rows-repeated="1048576">'), "damaged"),
    "ods wide without end": ("a.ods", _ods_with('<table:table-cell office:value-type="string"><text:p>n<', '<table:table-cell table:number-columns-repeated="16384" office:value-type="string"><text:p>n<'), "damaged"),
    "ods of millions of cells": ("a.ods", _ods_with("<table:table-row>", '<table:table-row table:number-rows-repeated="400000"><table:table-cell table:number-columns-repeated="9"/>'), "too large"),
    "ods repeated to nought": ("a.ods", _ods_with("<table:table-row>", '<table:table-row table:number-rows-repeated="0">'), "damaged"),
    "ods with a formula not worked out": ("a.ods", _ods_with('<table:table-cell office:value-type="string"><text:p>n</text:p></table:table-cell>', '<table:table-cell table:formula="of:=1+1"/>'), "row 2, column B (name): holds a formula that was never worked out"),
    "ods of no table": ("a.ods", lambda p: write_ods(p, {"letter": [["Dear all"]]}), "no table 'letter'"),
    "with a password": ("a.xlsx", _written(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)), "password"),
    "ods with a password": ("a.ods", lambda p: write_ods(p, {"sites": [["site"]]}, encrypted=True), "password"),
    "another kind": ("a.doc", _written(b"x"), "save it as .xlsx"),
    "a cell at the end of the world": ("a.xlsx", _far_cell, "too large"),
    "csv not in UTF-8": ("sites.csv", _written("site,name\nS,Caf\xe9\n".encode("latin-1")), "UTF-8"),
    "csv empty": ("sites.csv", _written(b"\xef\xbb\xbf\r\n"), "is empty"),
    "csv with open quotes": ("sites.csv", _written(b'site,name\nS,"open\n'), "quotation marks"),
    "csv with zero bytes": ("sites.csv", _written(b"site,name\nS,a\x00b\n"), "bytes"),
    "csv of no table": ("list.csv", _written(b"site\nS\n"), "no table 'list'"),
    "csv with an error": ("sites.csv", _written(b"site,name\nS,#REF!\n"), "row 2, column B (name): holds #REF!"),
    "csv in UTF-16": ("sites.csv", _written("site,name\nS,x\n".encode("utf-16")), "UTF-8"),
    "csv with bars": ("sites.csv", _written(b"site|name\nS|x\n"), "no column 'site|name'"),
    "csv without column names": ("sites.csv", _written(b"S,x\n"), "no column 'S'"),
    "csv too short for its key": ("ports.csv", _written(b"site,enclosure,port\nS,P1\n"), "row 2, column C (port): is blank"),
    "csv too short a row": ("cables.csv", _written(b"site,cable,core_count,b_enclosure\nS,C1,12\n"), "row 2, column D (b_enclosure): the line ends before this column, in which the register has 'P2'"),
    "csv with decimal commas": ("cables.csv", _written(b"site;cable;core_count;length_m\nS;C1;12;1,5\n"), "row 2, column D (length_m): '1,5' is no number"),
    "folder with a list of something else": ("list", _folder(sites=b"site,name\nS,x\n", prices=b"a\n1\n"), "no table 'prices'"),
    "folder with an empty file": ("list", _folder(sites=b"site,name\nS,x\n", ports=b""), "ports.csv is empty"),
    "folder with one wrong cell": ("list", _folder(sites=b"site,name\nS,x\n", cables=b"site,cable,core_count\nS,C1,x\n"), "sheet 'cables', row 2, column C (core_count)"),
    "csv too wide a row": ("sites.csv", _written(b"site;name\nS;a;b\n"), "row 2, column C"),
}  # fmt: skip
