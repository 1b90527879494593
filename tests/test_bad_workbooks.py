"""Wrong workbooks and wrong cells: each is named by sheet, row and column, and the register stays byte for byte."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from bad_workbook_cases import CABLE, CELLS, DAY, ENDS, EVERY, RULES, TERMINATION, book, one
from bad_workbook_files import FILES
from openpyxl import Workbook, load_workbook
from small_ods import Error, write_ods

import fibrebook
from fibrebook.errors import BringInError, NotFoundError
from fibrebook.readers.files.about_sheet import heading
from fibrebook.records import KINDS

# XML 1.0 has no character 7, and the escape for it is of ECMA-376 only
NOT_IN_ODS = ("control character",)


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A small site: two panels and a box, two cables, three cores made off, two switches."""
    made = fibrebook.create(tmp_path_factory.mktemp("bad") / "reg", name="Small")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S"}])
        edit.put("enclosures", [{"site": "S", "enclosure": e} for e in ("P1", "P2", "P3")])
        edit.put("ports", [{"site": "S", "enclosure": e, "port": n} for e in ("P1", "P2", "P3") for n in range(1, 5)])
        edit.put("cables", [dict(zip(CABLE, ["S", c, "P1", "P2", 12], strict=True)) for c in ("C1", "C2")])
        edit.put("cables", [{"site": "S", "cable": "C3", "a_enclosure": "P1", "b_enclosure": "P1", "core_count": 2},
                            {"site": "S", "cable": "C4", "a_enclosure": "P3", "b_enclosure": "P2", "core_count": 2}])  # fmt: skip
        edit.put("tests", [{"site": "S", "test": 0}])
        edit.put("events", [{"site": "S", "test": 0, "event": 1}])
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


def refused(reg, path, where, what, **more):
    """Bring a file in; it is refused, with a problem that says where and what, and nothing is touched."""
    before = digest(reg.where)
    with pytest.raises(BringInError) as caught:
        fibrebook.bring_in(reg, path, by="ab", why="wrong", **more)
    texts = [str(p) for p in caught.value.problems]
    assert all(p.remedy or "; " in p.what for p in caught.value.problems), texts  # each says what to do
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
    if name in RULES:  # they change and remove what is there, which wants a file that tells what it was taken from
        sheets = {n: [[*rows[0], heading(reg.id, reg.commit)], *rows[1:]] for n, rows in sheets.items()}
    report = refused(reg, book(tmp_path / "wrong.xlsx", sheets), where, what)
    assert set(report.rows["fate"]) == {"refused"}


@pytest.mark.parametrize("name", [n for n in CELLS if n not in NOT_IN_ODS])
def test_the_same_cells_are_named_in_an_open_document(reg, tmp_path, name):
    """What is wrong in an .xlsx is wrong in an .ods, at the same row and column."""
    sheets, where, what = CELLS[name]
    refused(reg, write_ods(tmp_path / "wrong.ods", sheets), where, what)


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


@pytest.mark.parametrize(("place", "where"), [("C2", "column C (remove)"), ("D2", "column D")])
@pytest.mark.parametrize("value", ["#REF!", '=IF(1,"yes")'])
def test_an_error_in_the_mark_or_beside_the_table_is_named(reg, tmp_path, place, where, value):
    """A mark of removal that is an error is no "leave it"; an error in a column without a name is told too."""
    path = book(tmp_path / "error.xlsx", one("sites", ["site", "name", "remove"], ["S", "n", None]))
    made = load_workbook(path)
    made["sites"][place] = value
    made["sites"][place].data_type = "f" if value.startswith("=") else "e"
    made.save(path)
    refused(reg, path, f"'sites', row 2, {where}", "")


def test_every_kind_of_record_has_a_row_that_comes_in(reg, tmp_path):
    """The rows that are spoilt below are good as they stand, all in one workbook."""
    assert set(EVERY) == set(KINDS)
    path = book(tmp_path / "good.xlsx", {n: [list(row), list(row.values())] for n, row in EVERY.items()})
    report = fibrebook.bring_in(reg, path, by="ab", why="good", dry_run=True)
    assert report.ok, str(report)


LINKS = [(kind.name, link.columns) for kind in KINDS.values() for link in kind.links]


@pytest.mark.parametrize(("name", "columns"), LINKS)
def test_a_link_to_nothing_is_named(reg, tmp_path, name, columns):
    """Every link of every kind of record, made to name what is not there, is told at its row."""
    nowhere = {
        c: 99 if KINDS[name].by_name[c].type == "integer" else "Tx" if c == "position" else "nil" for c in columns
    }
    row = EVERY[name] | nowhere
    refused(reg, book(tmp_path / "link.xlsx", one(name, list(row), list(row.values()))), f"'{name}', row 2", "no ")


NUMBERS = ("integer", "number")
SPOILT = {  # what is written, into which columns
    "words": lambda c: "quite so" if c.type in (*NUMBERS, "date", "yes/no") else None,
    "too small": lambda c: (c.minimum if c.minimum is not None else -1e9) - 1 if c.type in NUMBERS else None,
    "too large": lambda c: (c.maximum if c.maximum is not None else 1e9) + 1 if c.type in NUMBERS else None,
    "a word not listed": lambda c: "none of these" if c.allowed and not c.open_list else None,
    "too long": lambda c: "x" * (201 if c.type == "label" else 32_001) if c.type == "label" or _free(c) else None,
    "a date": lambda c: DAY if c.type not in ("date", "text") else None,
    "a number": lambda c: 7 if c.type in ("date", "yes/no") else None,
    "two lines": lambda c: "a\nb" if c.type == "label" else None,
    "a bell": lambda c: "a_x0007_b" if c.type == "label" or _free(c) else None,
    "an error": lambda c: "#REF!",
}


def _free(column):
    return column.type == "text" and (column.open_list or not column.allowed)


@pytest.mark.parametrize("name", list(SPOILT))
def test_every_column_of_every_kind_of_record_is_watched(reg, tmp_path, name):
    """One sort of wrong value in every column that it is wrong for: each cell is named, and no other."""
    made = Workbook()
    made.remove(made.active)
    expected = set()
    for kind in KINDS.values():
        sheet = made.create_sheet(kind.name)
        sheet.append(kind.names)
        sheet.append([EVERY[kind.name].get(n) for n in kind.names])
        for number, column in enumerate(kind.columns, 1):
            if (value := SPOILT[name](column)) is not None:
                cell = sheet.cell(2, number, value)
                cell.data_type = "e" if value == "#REF!" else cell.data_type
                expected.add((kind.name, 2, column.name))
    path = tmp_path / "every.xlsx"
    made.save(path)
    report = refused(reg, path, "row 2", "")
    assert {(p.sheet, p.row, p.column) for p in report.problems} == expected
    assert len(expected) >= 10


def test_every_value_that_must_be_given_is_missed(reg, tmp_path):
    """Of a row that says something, every required column that is blank is named."""
    sheets = {
        k.name: [list(k.names), [None if c.required else "x" if _free(c) else None for c in k.columns]]
        for k in KINDS.values()
    }
    report = refused(reg, book(tmp_path / "blank.xlsx", sheets), "row 2", "is blank")
    required = {(k.name, 2, c.name) for k in KINDS.values() for c in k.columns if c.required}
    blank = {(p.sheet, p.row, p.column) for p in report.problems if p.what == "is blank"}
    assert blank == {r for r in required if any(_free(c) for c in KINDS[r[0]].columns)}


@pytest.mark.parametrize("name", list(FILES))
def test_a_file_that_cannot_be_read_is_said_to_be_so(reg, tmp_path, name):
    """A file that is no workbook, is damaged, locked, empty or too large gets one clear sentence."""
    file, make, what = FILES[name]
    refused(reg, make(tmp_path / file), "", what)


def test_an_empty_folder_and_a_missing_file(reg, tmp_path):
    """A folder without .csv is refused, one of the name of a table too; a file that is not there is not found."""
    refused(reg, tmp_path, "", "no .csv")
    (tmp_path / "sites.csv").mkdir()
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
        ({"commit": 0.7}, "no commit number"),
        ({"commit": None}, "(commit): is blank"),
        ({"register id": None}, "(register id): is blank"),
        ({"commit": "#REF!"}, "(commit): holds #REF!"),
        ({"register id": "#REF!"}, "(register id): holds #REF!"),
    ],
)
def test_a_workbook_of_another_origin_is_refused(reg, tmp_path, change, what):
    """The sheet 'about' of another register, or of a commit that is not there, is named."""
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    made = load_workbook(path)
    for row in made["about"].iter_rows():
        if row[0].value in change:
            row[1].value = change[row[0].value]
            row[1].data_type = "e" if row[1].value == "#REF!" else row[1].data_type
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


def test_the_cases_are_many_and_each_its_own():
    """At least a hundred different wrong cells and rows, links and files; no two cases are one under two names."""
    cells = {**CELLS, **RULES}
    assert len(cells) == len(CELLS) + len(RULES)
    assert len({repr(sheets) for sheets, _, _ in cells.values()}) == len(cells)
    assert len(cells) >= 90 and len(FILES) >= 40 and len(set(LINKS)) == len(LINKS) >= 20
