"""Wrong workbooks and wrong cells: each is named by sheet, row and column, and the register stays byte for byte."""

from __future__ import annotations

import datetime as dt
import hashlib
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from small_ods import Error, write_ods

import fibrebook
from fibrebook.errors import BringInError, NotFoundError

CABLE = ["site", "cable", "a_enclosure", "b_enclosure", "core_count"]
ENDS = ["S", "C9", "P1", "P2", 12]
CHANNEL = ["site", "channel", "a_equipment", "a_interface", "b_equipment", "b_interface"]
SPLICE = ["site", "enclosure", "tray", "slot", "a_cable", "a_core", "b_cable", "b_core"]
PATCH = ["site", "cord", "strand", "a_at", "a_port", "b_at", "b_port"]
TERMINATION = ["site", "enclosure", "port", "cable", "core"]
DAY = dt.date(2026, 1, 2)


def cable(column, value):
    """Return a cables sheet with one more column, wrong in row 3."""
    return {"cables": [[*CABLE, column], [*ENDS[:1], "C8", *ENDS[2:], None], [*ENDS, value]]}


def one(sheet, columns, *rows):
    """Return a sheet."""
    return {sheet: [columns, *rows]}


# name: (sheets, where it is said to be, what is said of it)
CELLS = {
    "count in words": (one("cables", CABLE, ["S", "C9", "P1", "P2", "twelve"]), "'cables', row 2, column E (core_count)", "no whole number"),
    "count nought": (one("cables", CABLE, ["S", "C9", "P1", "P2", 0]), "'cables', row 2, column E (core_count)", "out of range"),
    "count a half": (one("cables", CABLE, ["S", "C9", "P1", "P2", 12.5]), "'cables', row 2, column E (core_count)", "no whole number"),
    "count beyond any cable": (one("cables", CABLE, ["S", "C9", "P1", "P2", 5000]), "'cables', row 2, column E (core_count)", "out of range"),
    "count blank": (one("cables", CABLE, ["S", "C9", "P1", "P2", None]), "'cables', row 2, column E (core_count)", "is blank"),
    "count true": (one("cables", CABLE, ["S", "C9", "P1", "P2", True]), "'cables', row 2, column E (core_count)", "no whole number"),
    "length with unit": (cable("length_m", "120 m"), "'cables', row 3, column F (length_m)", "no number"),
    "length below nought": (cable("length_m", -5), "'cables', row 3, column F (length_m)", "out of range"),
    "decimal comma": (cable("length_m", "1,5"), "'cables', row 3, column F (length_m)", "0.35"),
    "length without end": (cable("length_m", "inf"), "'cables', row 3, column F (length_m)", "no number"),
    "word not listed": (cable("length_basis", "guess"), "'cables', row 3, column F (length_basis)", "measured"),
    "date the other way": (cable("installed_on", "31.03.2026"), "'cables', row 3, column F (installed_on)", "2026-03-31"),
    "date a number": (cable("installed_on", 12), "'cables', row 3, column F (installed_on)", "no date"),
    "date that is none": (cable("installed_on", "2026-02-30"), "'cables', row 3, column F (installed_on)", "no date"),
    "tubes in words": (cable("cores_per_tube", "a dozen"), "'cables', row 3, column F (cores_per_tube)", "no whole number"),
    "control character": (cable("notes", "bell _x0007_ here"), "'cables', row 3, column F (notes)", "control character"),
    "long note": (cable("notes", "x" * 32_001), "'cables', row 3, column F (notes)", "longer than"),
    "label a date": (one("cables", CABLE, ["S", DAY, "P1", "P2", 12]), "'cables', row 2, column B (cable)", "is a date here"),
    "label of two lines": (one("cables", CABLE, ["S", "C\n9", "P1", "P2", 12]), "'cables', row 2, column B (cable)", "line break"),
    "label too long": (one("cables", CABLE, ["S", "C" * 201, "P1", "P2", 12]), "'cables', row 2, column B (cable)", "longer than 200"),
    "site blank": (one("cables", CABLE, [None, "C9", "P1", "P2", 12]), "'cables', row 2, column A (site)", "is blank"),
    "cable blank": (one("cables", CABLE, ["S", " ", "P1", "P2", 12]), "'cables', row 2, column B (cable)", "is blank"),
    "after a blank row": ({"cables": [CABLE, [], [], ["S", "C9", "P1", "P2", "x"]]}, "'cables', row 4, column E (core_count)", "no whole number"),
    "polish unknown": (one("ports", ["site", "enclosure", "port", "polish"], ["S", "P1", 9, "XPC"]), "'ports', row 2, column D (polish)", "PC, UPC or APC"),
    "housing unknown": (one("enclosures", ["site", "enclosure", "kind"], ["S", "P9", "cabinet"]), "'enclosures', row 2, column C (kind)", "rack panel"),
    "trays below nought": (one("enclosures", ["site", "enclosure", "trays"], ["S", "P9", -1]), "'enclosures', row 2, column C (trays)", "out of range"),
    "neither yes nor no": (one("patches", [*PATCH, "temporary"], ["S", "X", 1, "P1", 1, None, None, "maybe"]), "'patches', row 2, column H (temporary)", "yes or no"),
    "wavelength of radio": (one("tests", ["site", "test", "wavelength_nm"], ["S", 1, 50]), "'tests', row 2, column C (wavelength_nm)", "out of range"),
    "direction unknown": (one("tests", ["site", "test", "direction"], ["S", 1, "up"]), "'tests', row 2, column C (direction)", "a to b"),
    "joint by glue": (one("splices", [*SPLICE, "method"], ["S", "P1", 1, 1, "C1", 5, "C2", 5, "glue"]), "'splices', row 2, column I (method)", "fusion or mechanical"),
    "loss out of range": (one("splices", [*SPLICE, "loss_db"], ["S", "P1", 1, 1, "C1", 5, "C2", 5, 99]), "'splices', row 2, column I (loss_db)", "dB"),
    "power in words": (one("interfaces", ["site", "equipment", "interface", "position", "launch_min_dbm"], ["S", "SW1", 9, "Tx", "low"]), "'interfaces', row 2, column E (launch_min_dbm)", "no number"),
    "position unknown": (one("interfaces", ["site", "equipment", "interface", "position"], ["S", "SW1", 9, "A"]), "'interfaces', row 2, column D (position)", "Tx, Rx or TxRx"),
    "core in words": (one("cores", ["site", "cable", "core"], ["S", "C1", "one"]), "'cores', row 2, column C (core)", "no whole number"),
    "core nought": (one("cores", ["site", "cable", "core"], ["S", "C1", 0]), "'cores', row 2, column C (core)", "out of range"),
    "own colour blank": (one("colour_codes", ["colour_code", "position", "colour"], ["ours", 1, None]), "'colour_codes', row 2, column C (colour)", "is blank"),
    "removal perhaps": (one("sites", ["site", "remove"], ["S", "perhaps"]), "'sites', row 2, column B (remove)", "write yes"),
    "removal of nothing": (one("sites", ["site", "remove"], ["T", "yes"]), "'sites', row 2", "no such site"),
    "value without a heading": (one("sites", ["site"], ["S", "stray"]), "'sites', row 2, column B", "names no column"),
    "key twice": (one("cables", CABLE, ENDS, ENDS), "'cables', row 3", "stands in row 2 already"),
    "key twice as text and number": (one("ports", ["site", "enclosure", "port"], ["S", "P1", 9], ["S", "P1", "9.0"]), "'ports', row 3", "stands in row 2 already"),
    "sheet misspelt": (one("cabels", CABLE, ENDS), "sheet 'cabels'", "did you mean 'cables'?"),
    "sheet with a capital": (one("Cables", CABLE, ENDS), "sheet 'Cables'", "did you mean 'cables'?"),
    "sheet of something else": (one("budget", ["a"], [1]), "sheet 'budget'", "no table 'budget'"),
    "column misspelt": (cable("lenght_m", 12), "'cables', row 1, column F (lenght_m)", "did you mean 'length_m'?"),
    "column with a capital": (one("sites", ["Site"], ["S"]), "'sites', row 1, column A (Site)", "did you mean 'site'?"),
    "column by its number": (one("sites", ["site", 7], ["S", 1]), "'sites', row 1, column B (7)", "no column '7'"),
    "key column missing": (one("cables", ["cable", "core_count"], ["C9", 12]), "'cables', row 1", "key column 'site' is missing"),
    "column twice": (one("sites", ["site", "name", "name "], ["S", "a", "b"]), "'sites', row 1, column C (name)", "stands twice"),
    "header blank": (one("sites", [], ["S"]), "'sites', row 1", "row 1 is blank"),
    "sheet twice": ({"sites": [["site"], ["S"]], "sites ": [["site"], ["S"]]}, "sheet 'sites '", "keep one"),
}  # fmt: skip

RULES = {
    "location missing": (one("enclosures", ["site", "enclosure", "location"], ["S", "P9", "Attic"]), "'enclosures', row 2, column C (location)", "no location 'Attic'"),
    "enclosure missing": (one("cables", CABLE, ["S", "C9", "P7", "P2", 12]), "'cables', row 2, column C (a_enclosure)", "no enclosure 'P7'"),
    "port in no enclosure": (one("ports", ["site", "enclosure", "port"], ["S", "P7", 1]), "'ports', row 2, column B (enclosure)", "no enclosure 'P7'"),
    "site missing": (one("equipment", ["site", "equipment"], ["T", "SW9"]), "'equipment', row 2, column A (site)", "no site 'T'"),
    "made off on no port": (one("terminations", TERMINATION, ["S", "P1", 99, "C1", 5]), "'terminations', row 2", "no port"),
    "made off beyond the cable": (one("terminations", TERMINATION, ["S", "P1", 4, "C1", 13]), "'terminations', row 2, column E (core)", "no core 13"),
    "made off where the cable is not": (one("terminations", TERMINATION, ["S", "P3", 1, "C1", 5]), "'terminations', row 2, column D (cable)", "no end"),
    "core made off twice": (one("terminations", TERMINATION, ["S", "P1", 4, "C1", 1]), "row 2", "joined twice"),
    "spliced to itself": (one("splices", SPLICE, ["S", "P1", 1, 1, "C1", 5, "C1", 5]), "'splices', row 2", "itself"),
    "spliced elsewhere": (one("splices", SPLICE, ["S", "P3", 1, 1, "C1", 5, "C2", 5]), "'splices', row 2", "no end"),
    "spliced to no cable": (one("splices", SPLICE, ["S", "P1", 1, 1, "C1", 5, "C7", 5]), "'splices', row 2, column G (b_cable)", "no cable 'C7'"),
    "cord from nowhere": (one("patches", PATCH, ["S", "X", 1, None, None, "P1", 1]), "'patches', row 2, column D (a_at)", "end a is blank"),
    "cord to no port": (one("patches", PATCH, ["S", "X", 1, "P1", 3, "P1", 99]), "'patches', row 2", "no port or interface"),
    "cord to itself": (one("patches", PATCH, ["S", "X", 1, "P1", 3, "P1", 3]), "'patches', row 2", "itself"),
    "two cords in a port": (one("patches", PATCH, ["S", "X", 1, "P1", 3, None, None], ["S", "Y", 1, "P1", 3, None, None]), "'patches', row", "joined twice"),
    "channel to nowhere": (one("channels", CHANNEL, ["S", "N", "SW1", 1, "SW2", 9]), "'channels', row 2", "no interface"),
    "channel to itself": (one("channels", CHANNEL, ["S", "N", "SW1", 2, "SW1", 2]), "'channels', row 2", "same interface"),
    "channels share": (one("channels", CHANNEL, ["S", "N", "SW1", 2, "SW2", 1], ["S", "M", "SW1", 2, "SW2", 2]), "'channels', row", "shares an interface"),
    "one name for two things": (one("equipment", ["site", "equipment"], ["S", "P1"]), "P1", "same name"),
    "tubes do not add up": (cable("tube_sizes", "6, 7"), "'cables', row 3, column F (tube_sizes)", "add up"),
    "cable cut below its joints": (one("cables", ["site", "cable", "core_count"], ["S", "C1", 2]), "terminations", "no core 3"),
    "enclosure removed under its ports": (one("enclosures", ["site", "enclosure", "remove"], ["S", "P1", "yes"]), "in the register, ports", "no enclosure 'P1'"),
    "core of no cable": (one("cores", ["site", "cable", "core", "notes"], ["S", "C7", 1, "x"]), "'cores', row 2, column B (cable)", "no cable 'C7'"),
    "core beyond the cable": (one("cores", ["site", "cable", "core", "notes"], ["S", "C1", 13, "x"]), "'cores', row 2, column C (core)", "no core 13"),
    "test at no port": (one("tests", ["site", "test", "from_at", "from_port"], ["S", 1, "P1", 99]), "'tests', row 2", "no port"),
    "new cable without a count": (one("cables", ["site", "cable"], ["S", "C9"]), "'cables', row 2", "lacks 'core_count'"),
}  # fmt: skip


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A small site: two panels and a box, two cables, three cores made off, two switches."""
    made = fibrebook.create(tmp_path_factory.mktemp("bad") / "reg", name="Small")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S"}])
        edit.put("enclosures", [{"site": "S", "enclosure": e} for e in ("P1", "P2", "P3")])
        edit.put("ports", [{"site": "S", "enclosure": e, "port": n} for e in ("P1", "P2", "P3") for n in range(1, 5)])
        edit.put("cables", [dict(zip(CABLE, ["S", c, "P1", "P2", 12], strict=True)) for c in ("C1", "C2")])
        edit.put("terminations", [dict(zip(TERMINATION, ["S", "P1", n, "C1", n], strict=True)) for n in (1, 2, 3)])
        edit.put("equipment", [{"site": "S", "equipment": e} for e in ("SW1", "SW2")])
        edit.put("interfaces", [{"site": "S", "equipment": e, "interface": n, "position": p}
                                for e in ("SW1", "SW2") for n in (1, 2) for p in ("Tx", "Rx")])  # fmt: skip
    return made


def digest(folder) -> str:
    """One digest of every file's name and bytes."""
    whole = hashlib.sha256()
    for path in sorted(Path(folder).rglob("*")):
        whole.update(str(path.relative_to(folder)).encode())
        if path.is_file():
            whole.update(path.read_bytes())
    return whole.hexdigest()


def book(path, sheets):
    """Write sheets of rows as an .xlsx; text that begins with = is a formula here."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows or [[]]:
            sheet.append(row)
    made.save(path)
    return path


def refused(reg, path, where, what, **more):
    """Bring a file in; it is refused, with a problem that says where and what, and nothing is touched."""
    before = digest(reg.where)
    with pytest.raises(BringInError) as caught:
        fibrebook.bring_in(reg, path, by="ab", why="wrong", **more)
    texts = [str(p) for p in caught.value.problems]
    assert any(where in t and what in t for t in texts), texts
    assert not caught.value.report.ok
    assert caught.value.report.commit is None
    assert digest(reg.where) == before
    tried = fibrebook.bring_in(reg, path, by="ab", why="wrong", dry_run=True, **more)
    assert [str(p) for p in tried.problems] == texts
    assert digest(reg.where) == before
    return caught.value.report


@pytest.mark.parametrize("name", [*CELLS, *RULES])
def test_a_wrong_cell_is_named_and_nothing_comes_in(reg, tmp_path, name):
    """Each wrong cell, row, header or sheet is named as the spreadsheet shows it; the register stays as it was."""
    sheets, where, what = {**CELLS, **RULES}[name]
    report = refused(reg, book(tmp_path / "wrong.xlsx", sheets), where, what)
    assert set(report.rows["fate"]) == {"refused"}


@pytest.mark.parametrize("name", list(CELLS))
def test_the_same_cells_are_named_in_an_open_document(reg, tmp_path, name):
    """What is wrong in an .xlsx is wrong in an .ods, at the same row and column."""
    sheets, where, what = CELLS[name]
    plain = {
        n: [[v.isoformat() if isinstance(v, dt.date) else "yes" if v is True else v for v in row] for row in rows]
        for n, rows in sheets.items()
    }
    if name in ("control character", "label a date", "label of two lines"):
        pytest.skip("said otherwise in this format")
    refused(reg, write_ods(tmp_path / "wrong.ods", plain), where, what)


def test_a_file_with_many_faults_names_them_all(reg, tmp_path):
    """Every wrong cell of every sheet is told at once."""
    sheets = {
        "sites": [["site", "nmae"], ["S", 1]],
        "cables": [CABLE, ["S", "C8", "P1", "P2", "x"], ["S", "C9", "P1", "P2", -3]],
        "ports": [["site", "enclosure", "port", "polish"], ["S", "P1", None, "Q"]],
    }
    report = refused(reg, book(tmp_path / "many.xlsx", sheets), "sites", "nmae")
    assert len(report.problems) == 5
    assert {(p.sheet, p.row) for p in report.problems} == {("sites", 1), ("cables", 2), ("cables", 3), ("ports", 2)}


def test_every_breach_of_a_rule_is_told(reg, tmp_path):
    """Where all cells fit, every broken rule is told at once, not only the first."""
    rows = [["S", "P1", 98, "C1", 5], ["S", "P1", 99, "C1", 6], ["S", "P1", 4, "C1", 40]]
    report = refused(reg, book(tmp_path / "rules.xlsx", one("terminations", TERMINATION, *rows)), "row 4", "no core 40")
    assert {p.row for p in report.problems} == {2, 3, 4}


@pytest.mark.parametrize(("value", "said"), [("#REF!", "#REF!"), ("#N/A", "#N/A"), ("=1+1", "never worked out")])
def test_an_error_or_an_unworked_formula_is_no_blank(reg, tmp_path, value, said):
    """A cell with an error, or a formula without a result, is named; it never clears a value."""
    path = book(tmp_path / "error.xlsx", one("cables", [*CABLE, "length_m"], ["S", "C1", "P1", "P2", 12, "?"]))
    made = load_workbook(path)
    cell = made["cables"]["F2"]
    cell.value = value
    cell.data_type = "f" if value.startswith("=") else "e"
    made.save(path)
    refused(reg, path, "'cables', row 2, column F (length_m)", said)


def test_an_error_in_an_open_document_is_no_blank(reg, tmp_path):
    """The same for .ods."""
    path = write_ods(tmp_path / "error.ods", one("sites", ["site", "name"], ["S", Error("#REF!")]))
    refused(reg, path, "'sites', row 2, column B (name)", "#REF!")


def _truncated(path):
    whole = book(path.with_name("whole.xlsx"), one("sites", ["site"], ["S"])).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


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


FILES = {
    "empty": ("a.xlsx", _written(b""), "is empty"),
    "a letter": ("a.xlsx", _written(b"Dear all, the cores are as follows"), "no workbook"),
    "cut short": ("a.xlsx", _truncated, "cut short"),
    "another zip": ("a.xlsx", _zip_of_text, "no spreadsheet"),
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
    "csv too wide a row": ("sites.csv", _written(b"site;name\nS;a;b\n"), "row 2, column C"),
}


@pytest.mark.parametrize("name", list(FILES))
def test_a_file_that_cannot_be_read_is_said_to_be_so(reg, tmp_path, name):
    """A file that is no workbook, is damaged, locked, empty or too large gets one clear sentence."""
    file, make, what = FILES[name]
    refused(reg, make(tmp_path / file), "", what)


def test_an_empty_folder_and_a_missing_file(reg, tmp_path):
    """A folder without .csv is refused; a file that is not there is not found."""
    refused(reg, tmp_path, "", "no .csv")
    with pytest.raises(NotFoundError, match="no file"):
        fibrebook.bring_in(reg, tmp_path / "none.xlsx", by="ab", why="x")


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"register id": "0000"}, "another register"),
        ({"commit": 999}, "newest is"),
        ({"commit": -1}, "newest is"),
        ({"commit": "last Tuesday"}, "no commit number"),
    ],
)
def test_a_workbook_of_another_origin_is_refused(reg, tmp_path, change, what):
    """The sheet 'about' of another register, or of a commit that is not there, is named."""
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    made = load_workbook(path)
    for row in made["about"].iter_rows():
        if row[0].value in change:
            row[1].value = change[row[0].value]
    made.save(path)
    refused(reg, path, "sheet 'about'", what)


def test_two_about_sheets_are_refused(reg, tmp_path):
    """Of two sheets 'about' nobody can say which is true."""
    sheets = {"about": [["register", "Small"]], "About ": [["register", "Small"]], "sites": [["site"], ["S"]]}
    refused(reg, book(tmp_path / "two.xlsx", sheets), "sheet 'About '", "keep one")


@pytest.mark.parametrize(("by", "why"), [("", "x"), ("ab", " ")])
def test_nobody_and_nothing_commit_nothing(reg, tmp_path, by, why):
    """Who and why must be said."""
    before = digest(reg.where)
    path = book(tmp_path / "good.xlsx", one("sites", ["site", "name"], ["S", "new"]))
    with pytest.raises(fibrebook.FibrebookError):
        fibrebook.bring_in(reg, path, by=by, why=why)
    assert digest(reg.where) == before


def test_the_register_can_still_take_a_good_one(reg, tmp_path):
    """The refusals above are for what is wrong in the files: a good workbook comes in."""
    copy = fibrebook.create(tmp_path / "copy", name="Copy")
    with copy.edit("ab", "copy") as edit:
        edit.put("sites", reg.table("sites"))
        edit.put("enclosures", reg.table("enclosures"))
    report = fibrebook.bring_in(copy, book(tmp_path / "good.xlsx", one("cables", CABLE, ENDS)), by="ab", why="good")
    assert report.ok and report.commit == 2 and report.counts() == {"added": 1}
