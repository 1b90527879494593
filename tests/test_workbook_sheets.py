"""The workbook that is sent out: how it looks, that any text comes back, and how .ods and .csv go in beside it."""

from __future__ import annotations

import csv
import datetime as dt
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from small_ods import write_ods

import fibrebook
from fibrebook.errors import BringInError, ConflictError, InputError, NotFoundError
from fibrebook.records import KINDS
from fibrebook.reference.colours import hex_of, text_on


@pytest.fixture
def reg(tmp_path):
    """Two sites; one cable of 24 cores in two tubes, one core overruled, one faulty."""
    made = fibrebook.create(tmp_path / "reg", name="Small firm")
    with made.edit("ab", "made") as edit:
        edit.put("sites", [{"site": "Mill", "access": "key at the gate"}, {"site": "Farm"}])
        edit.put("locations", [{"site": "Mill", "location": "Office"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e, "location": "Office"} for e in ("P1", "P2")])
        edit.put("ports", [{"site": "Mill", "enclosure": "P1", "port": n, "position": p} for n in (1, 2) for p in "AB"])
        edit.put("cables", [{"site": "Mill", "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 24,
                             "cores_per_tube": 12, "length_m": 120.5, "installed_on": dt.date(2024, 3, 31)}])  # fmt: skip
        edit.put("cores", [{"site": "Mill", "cable": "C1", "core": 3, "core_colour": "violet", "notes": "swapped"},
                           {"site": "Mill", "cable": "C1", "core": 7, "condition": "faulty", "fault_m": 60}])  # fmt: skip
        edit.put("patches", [{"site": "Mill", "cord": "X", "strand": 1, "a_at": "P1", "a_port": 1, "a_position": "A",
                              "temporary": True}])  # fmt: skip
        edit.put("colour_codes", [{"colour_code": "ours", "position": 1, "colour": "red"}])
    return made


def heads(sheet):
    """Return the texts of row 1."""
    return [c.value for c in sheet[1]]


def cell(book, sheet, row, name):
    """Return a cell by its column's name."""
    return book[sheet].cell(row, heads(book[sheet]).index(name) + 1)


def changed(path, change):
    """Change a workbook with openpyxl and save it."""
    book = load_workbook(path)
    change(book)
    book.save(path)
    return path


# --- how it looks -------------------------------------------------------------------------------------------------------


def test_one_sheet_a_table_in_order_with_its_columns_and_the_mark(reg, tmp_path):
    """The sheet 'about', then every table in order, row 1 its columns, 'remove' and its origin; then the hidden lists."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx"))
    assert book.sheetnames == ["about", *KINDS, "lists"]
    assert book["lists"].sheet_state == "hidden"
    for name, kind in KINDS.items():
        assert heads(book[name]) == [*kind.names, "remove", f"taken from commit {reg.commit} of register {reg.id}"]
        assert book[name].freeze_panes.endswith("2")
        assert book[name].auto_filter.ref
        assert all(c.comment and c.comment.text for c in book[name][1])


def test_about_says_whence_it_comes_and_how_it_goes_back(reg, tmp_path):
    """Register, id, commit, time, sites, the way back and the caution are in plain words."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx", site="Mill"))
    told = {row[0].value: row[1].value for row in book["about"].iter_rows()}
    assert (told["register"], told["register id"], told["commit"]) == ("Small firm", reg.id, 1)
    assert told["as it stood at"] == reg.committed_utc
    assert told["sites"] == "Mill"
    assert "bring it in" in told["how it goes back"]
    assert "Never look into a fibre end" in told["caution"]


def test_cores_stand_in_full_painted_in_their_colours(reg, tmp_path):
    """24 cores, each with word and fill of its colour; the text on it is readable."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx"))
    assert book["cores"].max_row == 25
    for row in (2, 4, 13, 25):
        painted = cell(book, "cores", row, "core_colour")
        assert painted.fill.fgColor.rgb[2:] == hex_of(painted.value).lstrip("#").upper()
        assert painted.font.color.rgb[2:] == text_on(painted.value).lstrip("#").upper()
    assert cell(book, "cores", 4, "core_colour").value == "violet"


def test_what_the_cable_makes_is_locked_and_the_rest_is_not(reg, tmp_path):
    """Keys and generated columns of cores are locked without a password; inserting, filtering, other sheets are free."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx"))
    for column in KINDS["cores"].columns:
        fixed = column.name in KINDS["cores"].key or column.generated
        assert cell(book, "cores", 2, column.name).protection.locked is fixed, column.name
    guard = book["cores"].protection
    assert guard.sheet and not guard.password and not guard.insertRows and not guard.autoFilter
    assert not any(book[n].protection.sheet for n in KINDS if n != "cores")


def test_drop_downs_offer_values_and_keys(reg, tmp_path):
    """Closed lists refuse other words, keys are offered from their own sheet, one range a column."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx"))
    rules = {
        next(iter(r.sqref.ranges)).coord.split(":")[0]: r for r in book["enclosures"].data_validations.dataValidation
    }
    assert rules["D2"].formula1 == '"rack panel,wall box,joint closure"' and rules["D2"].errorStyle == "stop"
    assert rules["C2"].formula1.startswith("'locations'!$B$2:")
    assert rules["A2"].formula1.startswith("'sites'!$A$2:")
    assert all(len(r.sqref.ranges) == 1 for s in book for r in s.data_validations.dataValidation)


def test_units_show_and_labels_stay_text(reg, tmp_path):
    """A length shows its unit; labels are text cells, so that 1/2 never becomes a date."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx"))
    assert cell(book, "cables", 2, "length_m").number_format == 'General" m"'
    port = cell(book, "ports", 2, "port")
    assert (port.value, port.data_type, port.number_format) == ("1", "s", "@")
    assert book["ports"].column_dimensions["C"].number_format == "@"
    assert cell(book, "patches", 2, "temporary").value == "yes"


def test_the_same_commit_gives_the_same_bytes(reg, tmp_path):
    """Two workbooks of one commit are equal byte for byte."""
    one, two = (fibrebook.send_out(reg, tmp_path / n) for n in ("one.xlsx", "two.xlsx"))
    assert one.read_bytes() == two.read_bytes()


def test_one_site_only(reg, tmp_path):
    """Only that site's rows, and the firm's own."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx", site="Farm"))
    assert book["sites"].max_row == 2 and book["cores"].max_row == 1 and book["colour_codes"].max_row == 2


def test_without_personal_columns(reg, tmp_path):
    """personal=False leaves out addresses, contacts and access."""
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx", personal=False))
    assert not {"address", "contact", "access"} & set(heads(book["sites"]))


def test_nothing_is_written_over_unless_asked(reg, tmp_path):
    """A file that is there stays, with force it is replaced; no half-written file is left."""
    path = tmp_path / "out.xlsx"
    path.write_text("mine")
    with pytest.raises(InputError, match="is there already"):
        fibrebook.send_out(reg, path)
    assert path.read_text() == "mine"
    fibrebook.send_out(reg, path, force=True)
    assert load_workbook(path)["sites"].max_row == 3
    assert [p.name for p in tmp_path.iterdir() if p.suffix == ".xlsx"] == ["out.xlsx"]


@pytest.mark.parametrize(
    ("name", "site", "error"),
    [("out.csv", None, InputError), ("none/out.xlsx", None, InputError), ("out.xlsx", "Nowhere", NotFoundError)],
)
def test_what_cannot_be_sent_out_says_so(reg, tmp_path, name, site, error):
    """Another kind of file, a missing folder, an unknown site."""
    with pytest.raises(error):
        fibrebook.send_out(reg, tmp_path / name, site=site)


def test_a_character_that_no_workbook_holds_is_named(reg, tmp_path):
    """XML 1.0 cannot hold U+FFFE: the record is named instead of a file that no spreadsheet opens."""
    with reg.edit("ab", "odd") as edit:
        edit.put("sites", [{"site": "Farm", "notes": "odd \ufffe here"}])
    with pytest.raises(InputError, match="sites Farm, column 'notes'"):
        fibrebook.send_out(reg, tmp_path / "out.xlsx")


# --- out and in ---------------------------------------------------------------------------------------------------------


def test_exactly_the_changed_cells_come_in(reg, tmp_path):
    """One cell changed, one cleared, one row added, one removed: the history has these and nothing else."""

    def change(book):
        cell(book, "cables", 2, "length_m").value = 130
        cell(book, "locations", 2, "location").value = "Office"
        cell(book, "cores", 4, "notes").value = None
        book["ports"].append(["Mill", "P2", 1, None, "LC"])
        cell(book, "sites", 2 if book["sites"]["A2"].value == "Farm" else 3, "remove").value = "Yes"

    path = changed(fibrebook.send_out(reg, tmp_path / "out.xlsx"), change)
    report = fibrebook.bring_in(reg, path, by="cd", why="edited")
    assert report.commit == 2
    assert {k: v for k, v in report.counts().items() if k != "unchanged"} == {"added": 1, "changed": 2, "removed": 1}
    found = reg.history()
    found = found[found["commit"] == 2]
    cells = {(r.table, r.key, r.column, r.before, r.after) for r in found.itertuples() if r.table != "sites"}
    assert cells == {
        ("cables", ("Mill", "C1"), "length_m", 120.5, 130.0),
        ("cores", ("Mill", "C1", 3), "notes", "swapped", None),
        ("ports", ("Mill", "P2", "1", ""), "connector", None, "LC"),
    }
    line = report.rows[report.rows["column"] == "length_m"].iloc[0]
    assert (line["sheet"], line["row"], line["fate"], line["message"]) == (
        "cables",
        2,
        "changed",
        "length_m: 120.5 → 130.0",
    )


def test_a_dry_run_tells_and_does_nothing(reg, tmp_path):
    """The same fates, no commit."""
    path = changed(
        fibrebook.send_out(reg, tmp_path / "out.xlsx"), lambda b: setattr(cell(b, "cables", 2, "length_m"), "value", 1)
    )
    report = fibrebook.bring_in(reg, path, by="cd", why="edited", dry_run=True)
    assert report.ok and report.commit is None and report.counts()["changed"] == 1
    assert reg.commit == 1
    assert "dry run" in report.summary()


def test_a_cable_mended_in_its_sheet_leaves_its_core_rows_alone(reg, tmp_path):
    """Fewer cores, another colour code: the stale rows on the sheet 'cores' overrule nothing."""

    def change(book):
        cell(book, "cables", 2, "core_count").value = 12
        cell(book, "cables", 2, "colour_code").value = "IEC 60304"

    path = changed(fibrebook.send_out(reg, tmp_path / "out.xlsx"), change)
    fibrebook.bring_in(reg, path, by="cd", why="counted again")
    cores = reg.table("cores", "Mill")
    assert len(cores) == 12
    assert cores["core_colour"].tolist()[0] == "red"
    assert cores["core_colour"].tolist()[2] == "violet"  # overruled before, and still


def test_two_columns_are_enough_and_others_keep_their_values(reg, tmp_path):
    """A sheet may lack columns; a blank cell in a column that is there clears the value, where it is known whence."""
    for origin, cleared in ((None, False), (f"taken from commit {reg.commit} of register {reg.id}", True)):
        book = Workbook()
        book.active.title = "cables"
        for row in (["cable", "site", "installed_on", origin], ["C1", "Mill", None]):
            book.active.append(row)
        book.save(tmp_path / "few.xlsx")
        fibrebook.bring_in(reg, tmp_path / "few.xlsx", by="cd", why="few")
        cables = reg.table("cables")
        assert cables["length_m"].tolist() == [120.5]
        assert cables["installed_on"].isna().all() == cleared


def test_the_same_cell_changed_by_others_is_a_conflict_that_is_kept_or_not(reg, tmp_path):
    """The report stands on the error; the edit is kept for deciding only where that is wanted."""
    path = changed(
        fibrebook.send_out(reg, tmp_path / "out.xlsx"), lambda b: setattr(cell(b, "cables", 2, "length_m"), "value", 1)
    )
    with reg.edit("ef", "meanwhile") as edit:
        edit.put("cables", [{"site": "Mill", "cable": "C1", "length_m": 2}])
    for keep in (False, True):
        with pytest.raises(ConflictError) as caught:
            fibrebook.bring_in(reg, path, by="cd", why="late", keep_pending=keep)
        assert isinstance(caught.value, BringInError)
        assert not caught.value.report.ok
        assert len(reg.pending()) == int(keep)
    assert reg.commit == 2
    tried = fibrebook.bring_in(reg, path, by="cd", why="late", dry_run=True)
    assert not tried.ok and len(reg.pending()) == 1


def test_a_report_reads_in_every_form(reg, tmp_path):
    """Table, text, JSON and HTML; markup in a cell stays text."""
    path = changed(
        fibrebook.send_out(reg, tmp_path / "out.xlsx"),
        lambda b: setattr(cell(b, "sites", 2, "notes"), "value", "<script>x</script>"),
    )
    report = fibrebook.bring_in(reg, path, by="cd", why="form")
    assert list(report.rows.columns) == ["sheet", "row", "table", "key", "fate", "column", "message"]
    assert json.loads(json.dumps(report.to_dict()))["counts"]["changed"] == 1
    assert "commit 2" in str(report)
    assert "<script>" not in report._repr_html_() and "&lt;script&gt;" in report._repr_html_()


# --- other files --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_a_folder_of_csv(reg, tmp_path, mark, encoding):
    """One file a table, comma, semicolon or tab, with or without a mark of UTF-8."""
    folder = tmp_path / "tables"
    folder.mkdir()
    rows = {
        "sites": [["site", "name", "notes"], ["Café", "Till; bar, kitchen", "=1+1"]],
        "enclosures": [["site", "enclosure", "trays"], ["Café", "001", "2"]],
    }
    for name, lines in rows.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding=encoding) as file:
            csv.writer(file, delimiter=mark).writerows(lines)
    report = fibrebook.bring_in(reg, folder, by="cd", why="csv")
    assert report.counts() == {"added": 2}
    assert reg.table("sites", "Café").iloc[0]["notes"] == "=1+1"
    assert reg.table("enclosures", "Café").iloc[0]["enclosure"] == "001"


def test_one_csv_named_after_its_table(reg, tmp_path):
    """sites.csv needs no layout."""
    (tmp_path / "sites.csv").write_text("site,name\nFarm,New farm\n", encoding="utf-8")
    assert fibrebook.bring_in(reg, tmp_path / "sites.csv", by="cd", why="csv").counts() == {"changed": 1}


def test_an_open_document_written_by_hand(reg, tmp_path):
    """An .ods with sheets in any order; 1 as a number is the label 1."""
    sheets = {
        "ports": [
            ["port", "enclosure", "site", "connector"],
            [3, "P1", "Mill", "LC"],
            ["", "", "", ""],
            [4, "P1", "Mill", "SC"],
        ],
        "sites": [["site", "name"], ["Barn", "=SUM(A1)"]],
    }
    report = fibrebook.bring_in(reg, write_ods(tmp_path / "hand.ods", sheets), by="cd", why="ods")
    assert report.counts() == {"added": 3}
    assert set(reg.table("ports", "Mill")["port"]) == {"1", "2", "3", "4"}
    assert reg.table("sites", "Barn").iloc[0]["name"] == "=SUM(A1)"


# --- any text -----------------------------------------------------------------------------------------------------------

NO_CONTROLS = st.characters(
    exclude_categories=["Cs"], exclude_characters="".join(map(chr, [*range(32), *range(127, 160), 0xFFFE, 0xFFFF]))
)
START = st.sampled_from(
    ["", "=", "+", "-", "@", "'", '"', "=cmd|' /C x'!A0", "_x0041_", "_x000D_", "#REF!", "007", "1E5", "2026-01-02"]
)
TEXT = st.builds("".join, st.tuples(START, st.text(NO_CONTROLS, max_size=12), st.sampled_from(["", "\n", "\tb", "\r", "_x005F_"]), st.text(NO_CONTROLS, max_size=6)))  # fmt: skip


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(texts=st.lists(TEXT, min_size=8, max_size=40))
def test_any_text_comes_back_letter_for_letter(tmp_path_factory, texts):
    """Whatever stands in a text, formula-like or coded or of many lines: out and in is no change, no cell a formula."""
    folder = tmp_path_factory.mktemp("text")
    made = fibrebook.create(folder / "reg")
    with made.edit("ab", "texts") as edit:
        edit.put("sites", [{"site": f"S{n}", "notes": t} for n, t in enumerate(texts)])
    path = fibrebook.send_out(made, folder / "out.xlsx")
    assert all(c.data_type != "f" for row in load_workbook(path)["sites"].iter_rows() for c in row)
    report = fibrebook.bring_in(made, path, by="cd", why="back")
    assert report.commit is None and set(report.counts()) == {"unchanged"}, str(report)
    fresh = fibrebook.create(folder / "fresh")
    book = load_workbook(path)
    book.remove(book["about"])
    for name in book.sheetnames:
        if name != "sites":
            book.remove(book[name])
    assert book.sheetnames == ["sites"]
    with fresh.edit("ab", "copy") as edit:
        edit.put("sites", made.table("sites"))
    assert fresh.table("sites")["notes"].tolist() == made.table("sites")["notes"].tolist()


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(
    numbers=st.lists(st.floats(0, 500_000, allow_nan=False), min_size=1, max_size=10),
    days=st.lists(st.dates(dt.date(1850, 1, 1), dt.date(2200, 1, 1)), min_size=10, max_size=10),
    labels=st.lists(st.from_regex(r"[0-9A-Z/=+.-]{1,6}", fullmatch=True), min_size=10, max_size=10, unique=True),
)
def test_any_number_date_and_label_comes_back(tmp_path_factory, numbers, days, labels):
    """Lengths to the fifteen digits of a spreadsheet, days before 1900, labels such as 1/2, 007, =A or 1E5: out and in is no change."""
    folder = tmp_path_factory.mktemp("values")
    made = fibrebook.create(folder / "reg")
    rows = [
        {"site": "S", "cable": f"c{n}{labels[n]}", "core_count": 4, "length_m": numbers[n], "installed_on": days[n],
         "a_enclosure": labels[n]}
        for n in range(len(numbers))
    ]  # fmt: skip
    with made.edit("ab", "values") as edit:
        edit.put("sites", [{"site": "S"}])
        edit.put("enclosures", [{"site": "S", "enclosure": e} for e in dict.fromkeys(r["a_enclosure"] for r in rows)])
        edit.put("cables", rows)
    report = fibrebook.bring_in(made, fibrebook.send_out(made, folder / "out.xlsx"), by="cd", why="back")
    assert report.commit is None and set(report.counts()) == {"unchanged"}, str(report)
