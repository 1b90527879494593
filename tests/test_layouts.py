"""Layouts: what each key does, the reference page's own example, and what is said where a layout or a list is wrong."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path

import pytest
from openpyxl import Workbook

import fibrebook
from fibrebook.errors import BringInError, LayoutError, NotFoundError
from fibrebook.readers.layouts.file import layout_from
from fibrebook.workbook import read_layout, read_with_layout

PAGE = Path(fibrebook.__file__).parent / "readers" / "layouts" / "LAYOUTS.md"
HEAD = """
[table]
header_row = 1
"""
SITES = """
[[rows]]
table = "sites"
columns = { site = "{site}", name = "{name}" }
"""


@pytest.fixture
def write(tmp_path):
    """Give a function that writes rows as a sheet and text as a layout, and reads the one by the other."""

    def read(rows, layout, merge=(), name="Sheet", file="list.xlsx"):
        book = Workbook()
        book.active.title = name
        for row in rows:
            book.active.append(row)
        for cells in merge:
            book.active.merge_cells(cells)
        book.save(tmp_path / file)
        (tmp_path / "list.toml").write_text(layout, encoding="utf-8")
        return read_with_layout(tmp_path / file, tmp_path / "list.toml")

    return read


def one_field(write, cell, keys, column="name", rest=""):
    """Read one cell by one field's keys; return what becomes of it, or the problems."""
    layout = f'{HEAD}\n[fields.site]\nconstant = "S"\n[fields.x]\nheading = "X"\n{keys}\n{rest}\n'
    layout += '[[rows]]\ntable = "sites"\nwhen = ["site"]\ncolumns = { site = "{site}", ' + column + ' = "{x}" }\n'
    reading = write([["X", "Y"], [cell, "y"]], layout)
    return [str(p) for p in reading.problems] or reading.tables["sites"][0].get(column)


# --- the reference page -------------------------------------------------------------------------------------------------


def blocks(kind):
    """Return the code blocks of one language on the reference page."""
    return re.findall(rf"```{kind}\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)


def test_the_pages_first_example_does_what_it_says(write):
    """The table and the layout shown first on the page make the records that the page promises."""
    table = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if re.match(r"\| \d \|", line)]
    rows = [[c.strip() or None for c in line.strip("|").split("|")[1:]] for line in table]
    rows = [[int(c) if c and c.isdigit() else c for c in row] for row in rows]
    reading = write(rows, blocks("toml")[0])
    assert reading.problems == []
    assert {n: len(t) for n, t in reading.tables.items()} == {
        "sites": 1, "enclosures": 1, "ports": 2, "cables": 1, "cores": 3, "terminations": 2,
    }  # fmt: skip
    assert reading.tables["cables"] == [{"site": "Tannery", "cable": "T1", "a_enclosure": "P1", "core_count": 3}]
    assert [c.get("notes") for c in reading.tables["cores"]] == [None, "to be tested", None]


def test_the_page_names_every_key_and_no_other():
    """Each key that a layout may have stands in the page's tables, and each that stands there is one."""
    text = PAGE.read_text(encoding="utf-8")
    told = set(re.findall(r"^\| `(\w+)` \|", text, re.MULTILINE))
    code = (PAGE.parent / "file.py").read_text(encoding="utf-8")
    asked = set(
        re.findall(r"\.(?:text|texts|dates|flag|whole|choice|mapping|pattern|patterns|replacements)\(\"(\w+)\"", code)
    )
    asked |= set(fibrebook.readers.layouts.layout.SOURCES) | {"columns", "compare"}
    assert told == asked


def test_every_block_of_the_page_is_toml():
    """The page's pieces of TOML can be copied as they stand."""
    for block in blocks("toml"):
        tomllib.loads(block)


# --- where the table stands ---------------------------------------------------------------------------------------------


def test_header_found_by_its_words_and_table_ended_by_a_word(write):
    """Title rows above and notes below are no lines; the first row that holds the words is the header."""
    layout = '[table]\nheader_has = ["site", "NAME"]\nends_at = ["Notes*"]\n[fields.site]\nheading = "Site"\n'
    layout += f'[fields.name]\nheading = "Name:"\n{SITES}'
    rows = [
        ["The sites of the firm"],
        [],
        ["Site", "Name"],
        ["A", "Mill"],
        [],
        ["B", "Farm"],
        ["Notes below"],
        ["C", "x"],
    ]
    reading = write(rows, layout)
    assert reading.tables["sites"] == [{"site": "A", "name": "Mill"}, {"site": "B", "name": "Farm"}]
    assert reading.places["sites"] == [("Sheet", 4), ("Sheet", 6)]


def test_blank_rows_end_the_table_where_the_layout_says_so(write):
    """After so many blank rows nothing is read."""
    layout = (
        f'{HEAD}ends_after_blank_rows = 2\n[fields.site]\nheading = "Site"\n[fields.name]\nheading = "Name"\n{SITES}'
    )
    rows = [["Site", "Name"], ["A", "a"], [], ["B", "b"], [], [], ["C", "c"]]
    assert [r["site"] for r in write(rows, layout).tables["sites"]] == ["A", "B"]


def test_two_header_rows_are_joined(write):
    """The upper heading runs on over blank cells; the lower one names the column within it."""
    layout = '[table]\nheader_row = 1\nheader_rows = 2\n[fields.site]\nheading = "End B / Panel"\n'
    layout += f'[fields.name]\nheading = "Remark"\n{SITES}'
    rows = [
        ["End A", None, "End B", None, "Remark"],
        ["Panel", "Port", "Panel", "Port", None],
        ["a", 1, "b", 2, "note"],
    ]
    assert write(rows, layout).tables["sites"] == [{"site": "b", "name": "note"}]


def test_merged_cells_count_for_all_their_rows_unless_told_otherwise(write):
    """A panel's name merged down its block belongs to each line of the block."""
    layout = f'{HEAD}FILL\n[fields.name]\nheading = "Panel"\n[fields.site]\nheading = "Port"\n{SITES}'
    rows = [["Panel", "Port"], ["P1", 1], [None, 2], ["P2", 3]]
    filled = write(rows, layout.replace("FILL", ""), merge=["A2:A3"])
    assert [r.get("name") for r in filled.tables["sites"]] == ["P1", "P1", "P2"]
    left = write(rows, layout.replace("FILL", "fill_merged = false"), merge=["A2:A3"])
    assert [r.get("name") for r in left.tables["sites"]] == ["P1", None, "P2"]


def test_a_column_by_letter_by_its_second_heading_and_one_that_may_be_missing(write):
    """letter, nth and optional."""
    layout = f'{HEAD}[fields.site]\nletter = "A"\n[fields.name]\nheading = "Panel"\nnth = 2\n'
    layout += '[fields.gone]\nheading = "Gone"\noptional = true\n'
    layout += '[[rows]]\ntable = "sites"\ncolumns = { site = "{site}", name = "{name}", notes = "{gone}" }\n'
    assert write([["?", "Panel", "Panel"], ["A", "x", "y"]], layout).tables["sites"] == [{"site": "A", "name": "y"}]


def test_values_beside_and_below_words_and_from_the_names(write):
    """right_of, below, the sheet's name and the file's."""
    layout = '[table]\nheader_has = ["Core"]\n[fields.site]\nright_of = "Site"\n[fields.customer]\nbelow = "For"\n'
    layout += '[fields.core]\nheading = "Core"\n[fields.name]\nof = "sheet"\npattern = \'Cable (?P<name>.+)\'\n'
    layout += '[[rows]]\ntable = "sites"\n[rows.columns]\nsite = "{site}"\ncustomer = "{customer}"\n'
    layout += 'name = "{name}"\nnotes = "{file}"\n'
    rows = [["Site:", None, "Mill", "For"], [None, None, None, "the owner"], ["Core"], [1]]
    reading = write(rows, layout, name="Cable C7", file="old.xlsx")
    assert reading.tables["sites"] == [{"site": "Mill", "customer": "the owner", "name": "C7", "notes": "old"}]


# --- how a value is read ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "keys", "expected"),
    [
        ("  two   words ", "", "two words"),
        (7.0, "", "7"),
        ("n/a", 'blank = ["N/A"]', None),
        ("Turq.", 'map = { "turq" = "turquoise" }', "turquoise"),
        ("C 1", "replace = [['[ -]', '']]", "C1"),
        ("c1", 'case = "upper"', "C1"),
        ("P1 / 3", "pattern = '(?P<x>\\w+) / (?P<port>\\d+)'", "P1"),
        ("odd", "pattern = '\\d+'\notherwise = \"blank\"", None),
        ("odd", "pattern = '\\d+'\notherwise = \"keep\"", "odd"),
        ("odd", 'map = { "a" = "b" }\nonly_mapped = true\notherwise = "blank"', None),
        (None, 'default = "unknown"', "unknown"),
        ("GY", 'type = "colour"', "grey"),
        ("red ring", 'type = "colour"', "red"),
        ("mauve-ish", 'type = "colour"', "mauve-ish"),
    ],
)
def test_text_is_read_as_the_field_says(write, cell, keys, expected):
    """Blank words, maps, replacing, case, patterns, colours: each does what the page says."""
    assert one_field(write, cell, keys) == expected


@pytest.mark.parametrize(
    ("cell", "keys", "expected"),
    [
        ("212,5", 'decimal = ","', 212.5),
        ("1.031,7", 'decimal = ","', 1031.7),
        (1031.7, 'decimal = ","', 1031.7),
        ("1,031.7", "", 1031.7),
        ("88,0 m", 'decimal = ","\nunit = ["m", "metres"]', 88.0),
        ("12 metres", 'unit = ["m", "metres"]', 12.0),
    ],
)
def test_numbers_are_read_as_the_field_says(write, cell, keys, expected):
    """Decimal comma, points for thousands, units."""
    layout = f'{HEAD}[fields.x]\nheading = "X"\ntype = "number"\n{keys}\n[[rows]]\ntable = "cables"\n'
    layout += 'columns = { site = "S", cable = "C", core_count = 2, length_m = "{x}" }\n'
    assert write([["X"], [cell]], layout).tables["cables"][0]["length_m"] == expected


def visits(keys):
    """Return a layout of one date."""
    layout = f'{HEAD}[fields.x]\nheading = "X"\ntype = "date"\n{keys}\n[[rows]]\ntable = "visits"\n'
    return layout + 'columns = { site = "S", visit = 1, visited_on = "{x}" }\n'


@pytest.mark.parametrize("cell", ["12.03.2019", "12 Mar 2019", dt.date(2019, 3, 12), dt.datetime(2019, 3, 12)])
def test_dates_are_read_in_the_forms_that_the_field_names(write, cell):
    """Several forms, and cells that are dates already."""
    layout = visits('dates = ["%d.%m.%Y", "%d %b %Y"]')
    assert write([["X"], [cell]], layout).tables["visits"][0]["visited_on"] == dt.date(2019, 3, 12)


@pytest.mark.parametrize("cell", [dt.datetime(2019, 3, 12, 8, 30), "12.03.2019 08:30"])
def test_a_time_beside_a_date_is_left_out_only_where_the_layout_says_so(write, cell):
    """An instrument's date with a time is a problem that names the key; with drop_time it comes in as the day."""
    keys = 'dates = ["%d.%m.%Y %H:%M"]\n'
    (problem,) = (str(p) for p in write([["X"], [cell]], visits(keys)).problems)
    assert problem.startswith("sheet 'Sheet', row 2, column A (x): holds a time of day (08:30) beside the date → ")
    assert "drop_time = true" in problem
    reading = write([["X"], [cell]], visits(keys + "drop_time = true"))
    assert reading.problems == []
    assert reading.tables["visits"][0]["visited_on"] == dt.date(2019, 3, 12)


def test_a_midnight_beside_a_date_needs_no_word_of_the_layout(write):
    """A form with a time reads a date whose time is midnight as the day."""
    layout = visits('dates = ["%d.%m.%Y %H:%M"]')
    assert write([["X"], ["12.03.2019 00:00"]], layout).tables["visits"][0]["visited_on"] == dt.date(2019, 3, 12)


@pytest.mark.parametrize(
    ("cell", "keys", "said"),
    [
        ("odd", "pattern = '\\d+'", "does not fit the pattern"),
        ("odd", 'map = { "a" = "b" }\nonly_mapped = true', "is not in the layout's map"),
        (None, "needed = true", "is blank"),
        ("12 m", 'type = "number"', "is no number"),
        ("1.5", 'type = "number"\ndecimal = ","', "is no number"),
        ("1,5", 'type = "number"', "is no number"),
        ("1.5", 'type = "whole number"', "is no whole number"),
        ("31/12/99", 'type = "date"\ndates = ["%d.%m.%Y"]', "is no date of the form"),
        ("perhaps", 'type = "yes/no"', "neither yes nor no"),
    ],
)
def test_a_value_that_cannot_be_read_is_named_by_its_cell(write, cell, keys, said):
    """Sheet, row, column letter and field."""
    (problem,) = one_field(write, cell, keys)
    assert problem.startswith("sheet 'Sheet', row 2, column A (x): ")
    assert said in problem


def test_a_wrong_title_cell_is_told_once(write):
    """A value that all lines share is one problem, not one a line."""
    layout = f'{HEAD}[fields.site]\ncell = "B1"\npattern = \'Site .+\'\n[fields.name]\nheading = "X"\n{SITES}'
    problems = write([["X", "Mill"], ["a"], ["b"], ["c"]], layout).problems
    assert [p.where for p in problems] == ["sheet 'Sheet', row 1, column B (site)"]


def test_lines_are_numbered_within_what_they_share(write):
    """number_within counts lines with the same values, over all sheets; a map then gives it words."""
    layout = f'{HEAD}[fields.site]\nheading = "Switch"\n[fields.nth]\nnumber_within = ["site"]\n'
    layout += '[fields.name]\nmade_of = "{site} {nth}"\nmap = { "SW1 2" = "second" }\n'
    layout += '[[rows]]\ntable = "sites"\non_clash = "join"\ncolumns = { site = "{site}", name = "{name}" }\n'
    rows = [["Switch"], ["SW1"], ["SW2"], ["SW1"]]
    assert [r["name"] for r in write(rows, layout).tables["sites"]] == ["SW1 1; second", "SW2 1"]


# --- what lines make ----------------------------------------------------------------------------------------------------

CLASH = """
[table]
header_row = 1
[fields.site]
heading = "Site"
[fields.name]
heading = "Name"
[[rows]]
table = "sites"
on_clash = "HOW"
columns = { site = "{site}", name = "{name}" }
"""
TWO = [["Site", "Name"], ["A", "Mill"], ["A", None], ["A", "Old mill"], ["A", "Mill"]]


@pytest.mark.parametrize(("how", "name"), [("first", "Mill"), ("last", "Mill"), ("join", "Mill; Old mill")])
def test_different_values_for_one_record_are_decided_as_the_layout_says(write, how, name):
    """first, last, join; a blank says nothing."""
    assert write(TWO, CLASH.replace("HOW", how)).tables["sites"] == [{"site": "A", "name": name}]


def test_different_values_for_one_record_are_otherwise_a_problem(write):
    """Both lines are named."""
    (problem,) = write(TWO, CLASH.replace("HOW", "problem")).problems
    assert str(problem) == (
        "sheet 'Sheet', row 4, column B (name): site A would have name 'Old mill', but sheet 'Sheet', row 2, column B says "
        "'Mill' → mend one of them, or say on_clash in the layout"
    )


def test_records_are_made_only_where_the_layout_says(write):
    """when, unless, where; highest and count over the lines of a record; several templates joined."""
    layout = f'{HEAD}[fields.cable]\nheading = "Cable"\n[fields.core]\nheading = "Core"\ntype = "whole number"\n'
    layout += '[fields.port]\nheading = "Port"\n[fields.use]\nheading = "Use"\n'
    layout += '[[rows]]\ntable = "cables"\n[rows.columns]\nsite = "S"\ncable = "{cable}"\n'
    layout += 'core_count = { highest = "core" }\nlength_m = { count = "port" }\n'
    layout += '[[rows]]\ntable = "ports"\nwhere = { port = \'\\d+\' }\nunless = ["use"]\n'
    layout += 'columns = { site = "S", enclosure = "P", port = "{port}" }\n'
    layout += '[[rows]]\ntable = "cores"\nwhen = ["use"]\n[rows.columns]\nsite = "S"\ncable = "{cable}"\n'
    layout += 'core = "{core}"\nnotes = ["port {port}", "{use}"]\n'
    rows = [
        ["Cable", "Core", "Port", "Use"],
        ["C", 4, 1, None],
        ["C", 12, 2, "gate"],
        ["C", 7, "x", None],
        ["C", 8, None, "till"],
    ]
    tables = write(rows, layout).tables
    assert tables["cables"] == [{"site": "S", "cable": "C", "core_count": 12, "length_m": 3.0}]
    assert tables["ports"] == [{"site": "S", "enclosure": "P", "port": "1", "position": ""}]
    assert [c["notes"] for c in tables["cores"]] == ["port 2; gate", "till"]


def test_a_colour_that_contradicts_the_number_is_noted(write):
    """TIA-598: core 5 is slate, core 6 white; the list says grey for 6."""
    layout = f'{HEAD}[fields.core]\nheading = "Core"\ntype = "whole number"\n[fields.colour]\nheading = "Colour"\ntype = "colour"\n'
    layout += '[[rows]]\ntable = "cables"\ncolumns = { site = "S", cable = "C", core_count = 12 }\n'
    layout += '[[rows]]\ntable = "cores"\ncolumns = { site = "S", cable = "C", core = "{core}" }\n'
    layout += 'compare = { core_colour = "{colour}" }\n'
    reading = write([["Core", "Colour"], [5, "Slate"], [6, "GY"], [7, "tartan"]], layout)
    assert reading.problems == []
    assert reading.notes == [
        "sheet 'Sheet', row 3, column B (core_colour): colour says core 5 (grey), number says 6 (white)",
        "sheet 'Sheet', row 4, column B (core_colour): 'tartan' is no colour word; by its number core 7 is red",
    ]


def test_what_the_register_refuses_is_named_by_the_line(write, tmp_path):
    """A rule broken by a record that a layout made names the line of the list; nothing comes in."""
    layout = f'{HEAD}[fields.port]\nheading = "Port"\n[[rows]]\ntable = "sites"\ncolumns = {{ site = "S" }}\n'
    layout += '[[rows]]\ntable = "ports"\ncolumns = { site = "S", enclosure = "P", port = "{port}" }\n'
    write([["Port"], [1], [2]], layout)
    reg = fibrebook.create(tmp_path / "reg")
    with pytest.raises(BringInError) as caught:
        fibrebook.bring_in(reg, tmp_path / "list.xlsx", by="ab", why="x", layout=tmp_path / "list.toml")
    told = [(p.sheet, p.row) for problem in caught.value.problems for p in (problem, *problem.follows)]
    assert told == [("Sheet", 2), ("Sheet", 3)]
    assert [(line.sheet, line.row) for line in caught.value.report.lines if line.table == "ports"] == told
    assert "no enclosure 'P'" in str(caught.value)
    assert reg.commit == 0


def test_a_blank_in_a_list_clears_nothing(write, tmp_path):
    """A list says what it says; what it leaves blank stays as the register has it."""
    reg = fibrebook.create(tmp_path / "reg")
    with reg.edit("ab", "made") as edit:
        edit.put("sites", [{"site": "A", "name": "Mill", "notes": "kept"}, {"site": "B"}])
    write([["Site", "Name"], ["A", None], ["B", "New farm"], ["C", "Barn"]], CLASH.replace("HOW", "problem"))
    report = fibrebook.bring_in(reg, tmp_path / "list.xlsx", by="ab", why="x", layout=tmp_path / "list.toml")
    assert report.counts() == {"added": 1, "changed": 1, "unchanged": 1}
    assert reg.table("sites")["name"].tolist() == ["Mill", "New farm", "Barn"]


# --- what is wrong with a layout ----------------------------------------------------------------------------------------

GOOD = {
    "table": {"header_row": 1},
    "fields": {"site": {"heading": "Site"}},
    "rows": [{"table": "sites", "columns": {"site": "{site}"}}],
}


def changed(**more):
    """Return the good layout with other parts."""
    return {**GOOD, **more}


WRONG = {
    "unknown key": (changed(titel="x"), "l.toml, titel: is no key", "did you mean 'title'?"),
    "unknown section key": (changed(table={"header_row": 1, "ends_by": ["x"]}), "l.toml, table.ends_by", "did you mean 'ends_at'?"),
    "unknown field key": (changed(fields={"site": {"heading": "S", "typ": "text"}}), "l.toml, fields.site.typ", "did you mean 'type'?"),
    "no header": (changed(table={}), "l.toml, table", "header_row"),
    "two headers": (changed(table={"header_row": 1, "header_has": ["x"]}), "l.toml, table", "either header_row"),
    "header row nought": (changed(table={"header_row": 0}), "l.toml, table.header_row", "at least 1"),
    "header row a text": (changed(table={"header_row": "1"}), "l.toml, table.header_row", "whole number"),
    "flag a text": (changed(table={"header_row": 1, "fill_merged": "no"}), "l.toml, table.fill_merged", "true or false"),
    "long delimiter": (changed(file={"delimiter": ";;"}), "l.toml, file.delimiter", "one character"),
    "no fields": (changed(fields={}), "l.toml, fields", "at least one field"),
    "no rows": (changed(rows=[]), "l.toml, rows", "at least one table"),
    "no source": (changed(fields={"site": {"type": "text"}}), "l.toml, fields.site", "say where it stands"),
    "two sources": (changed(fields={"site": {"heading": "S", "cell": "A1"}}), "l.toml, fields.site", "several sources"),
    "no letter": (changed(fields={"site": {"letter": "3"}}), "l.toml, fields.site.letter", "column letter"),
    "no cell": (changed(fields={"site": {"cell": "2B"}}), "l.toml, fields.site.cell", "is a cell"),
    "type unknown": (changed(fields={"site": {"heading": "S", "type": "numbr"}}), "l.toml, fields.site.type", "did you mean 'number'?"),
    "pattern broken": (changed(fields={"site": {"heading": "S", "pattern": "(a"}}), "l.toml, fields.site.pattern", "no regular expression"),
    "map of lists": (changed(fields={"site": {"heading": "S", "map": {"a": []}}}), "l.toml, fields.site.map", "table of texts"),
    "replace no pairs": (changed(fields={"site": {"heading": "S", "replace": ["a"]}}), "l.toml, fields.site.replace", "list of pairs"),
    "field name": (changed(fields={"a b": {"heading": "S"}}), "l.toml, fields.a b", "no name for a field"),
    "of an unknown field": (changed(fields={"site": {"heading": "S"}, "x": {"of": "sit"}}), "l.toml, fields.x.of", "did you mean 'site'?"),
    "of a later field": (
        changed(fields={"site": {"heading": "S"}, "x": {"of": "y"}, "y": {"of": "site"}}), "l.toml, fields.x.of", "put it before"),
    "table unknown": (changed(rows=[{"table": "cabels", "columns": {}}]), "l.toml, rows (number 1).table", "did you mean 'cables'?"),
    "table missing": (changed(rows=[{"columns": {"site": "{site}"}}]), "l.toml, rows (number 1).table", "name the table"),
    "column unknown": (
        changed(rows=[{"table": "sites", "columns": {"site": "{site}", "nmae": "x"}}]), "rows (number 1).columns.nmae", "did you mean 'name'?"),
    "key missing": (changed(rows=[{"table": "sites", "columns": {"name": "x"}}]), "rows (number 1).columns.site", "key column"),
    "field unknown": (changed(rows=[{"table": "sites", "columns": {"site": "{sit}"}}]), "column site", "did you mean 'site'?"),
    "field of when unknown": (
        changed(rows=[{"table": "sites", "when": ["sit"], "columns": {"site": "{site}"}}]), ".when", "did you mean 'site'?"),
    "template open": (changed(rows=[{"table": "sites", "columns": {"site": "{site"}}]), "rows (number 1).columns.site", "no template"),
    "template of numbers": (changed(rows=[{"table": "sites", "columns": {"site": "{0}"}}]), "columns.site", "no template"),
    "value a table": (changed(rows=[{"table": "sites", "columns": {"site": {"least": "x"}}}]), "columns.site", "highest"),
    "clash unknown": (
        changed(rows=[{"table": "sites", "on_clash": "frist", "columns": {"site": "{site}"}}]), "on_clash", "did you mean 'first'?"),
}  # fmt: skip


@pytest.mark.parametrize("name", list(WRONG))
def test_a_wrong_layout_is_named_by_file_and_key(name):
    """Each fault says file, key and what would be right."""
    data, where, what = WRONG[name]
    with pytest.raises(LayoutError) as caught:
        layout_from(data, "l.toml")
    texts = [str(p) for p in caught.value.problems]
    assert any(where in t and what in t for t in texts), texts


def test_the_good_layout_is_good():
    """What the wrong ones are made of is right by itself."""
    assert layout_from(GOOD, "l.toml").header_row == 1


def test_a_layout_that_is_no_toml_or_not_there(tmp_path):
    """No TOML is a LayoutError, no file a NotFoundError."""
    (tmp_path / "l.toml").write_text("a = ", encoding="utf-8")
    with pytest.raises(LayoutError, match="no TOML"):
        read_layout(tmp_path / "l.toml")
    with pytest.raises(NotFoundError, match="no layout"):
        read_layout(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('[table]\nheader_has = ["Nowhere"]', "no row holds the words 'Nowhere'"),
        ('[sheets]\nonly = ["Other*"]\n[table]\nheader_row = 1', "chooses none of the sheets"),
        ("[table]\nheader_row = 2", "no column is headed 'Site'"),
        ("[table]\nheader_row = 1\nends_after_blank_rows = 1", "no line makes a record"),
    ],
)
def test_a_layout_that_does_not_fit_the_list_says_so(write, keys, said):
    """No header, no sheet, no column, no line: each is told, nothing comes in silently empty."""
    layout = f'{keys}\n[fields.site]\nheading = "Site"\n[fields.name]\nconstant = "x"\n{SITES}'
    rows = [["Site"], [], ["A"]]
    problems = write(rows, layout).problems
    assert any(said in str(p) for p in problems), problems


def test_a_dry_run_names_each_record_of_a_line_that_makes_several(tmp_path):
    """Where one line is refused, the other lines' records are told as themselves: none twice, none left out."""
    book = Workbook()
    for row in (
        ["Cable", "Panel 1", "Panel 2"],
        ["K1", "P1", "P2"],
        ["K2", "P3", "P4"],
        ["K3", "P5", "no label " * 40],
    ):
        book.active.append(row)
    book.save(tmp_path / "list.xlsx")
    layout = f'{HEAD}\n[fields.site]\nconstant = "Mill"\n' + "".join(
        f'[fields.{name}]\nheading = "{heading}"\n'
        for name, heading in (("cable", "Cable"), ("one", "Panel 1"), ("two", "Panel 2"))
    )
    for columns in ('"{one}"', '"{two}"'):
        layout += f'[[rows]]\ntable = "enclosures"\ncolumns = {{ site = "{{site}}", enclosure = {columns} }}\n'
    (tmp_path / "list.toml").write_text(layout, encoding="utf-8")
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit("ab", "site") as edit:
        edit.put("sites", {"site": "Mill"})
        edit.put("enclosures", {"site": "Mill", "enclosure": "P1"})
    tried = fibrebook.bring_in(reg, tmp_path / "list.xlsx", "ab", "list", dry_run=True, layout=tmp_path / "list.toml")
    told = {line.key[1]: (line.row, line.fate) for line in tried.lines if line.key and line.fate != "refused"}
    assert told == {
        "P1": (2, "unchanged"),
        "P2": (2, "added"),
        "P3": (3, "added"),
        "P4": (3, "added"),
        "P5": (4, "added"),
    }
    assert [(line.row, line.fate) for line in tried.lines if line.fate == "refused"] == [(4, "refused")]
    assert tried.counts() == {"added": 4, "unchanged": 1, "refused": 1}
