"""The way in tells what is wrong, first what all else follows from, and never that nothing is wrong when something is."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

import fibrebook
from fibrebook.errors import ReadOnlyError, RuleError

PORTS = [{"site": "Old Mill", "enclosure": "P1", "port": n} for n in range(1, 13)]
PLANT = {
    "sites": [{"site": "Old Mill"}],
    "locations": [{"site": "Old Mill", "location": "Hall"}],
    "enclosures": [
        {"site": "Old Mill", "enclosure": "P1", "location": "Hall"},
        {"site": "Old Mill", "enclosure": "P2"},
    ],
    "ports": PORTS,
    "cables": [
        {"site": "Old Mill", "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12},
        {"site": "Old Mill", "cable": "C2", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12},
    ],
    "terminations": [
        {"site": "Old Mill", "enclosure": "P1", "port": n, "position": "", "cable": "C1", "core": n, "end": "A"}
        for n in range(1, 13)
    ],
}


def folder_of(place: Path, **changed: tuple[int, str, object]) -> Path:
    """The plant as a folder of .csv; changed: table -> (row from 0, column, value)."""
    place.mkdir()
    for table, rows in PLANT.items():
        rows = [dict(row) for row in rows]
        if table in changed:
            at, column, value = changed[table]
            rows[at][column] = value
        with (place / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
            out = csv.DictWriter(file, list(rows[0]))
            out.writeheader()
            out.writerows(rows)
    return place


def dry_run(tmp_path: Path, **changed: tuple[int, str, object]) -> fibrebook.workbook.Report:
    """What a dry run of the changed plant on an empty register tells."""
    reg = fibrebook.create(tmp_path / "reg")
    return fibrebook.bring_in(reg, folder_of(tmp_path / "in", **changed), by="ab", why="x", dry_run=True)


def test_a_dry_run_of_a_clean_file_needs_no_right_to_write(tmp_path):
    """On a register opened read-only a clean file is tried like any other, and nothing can be committed by it."""
    where = fibrebook.create(tmp_path / "reg").where
    reg = fibrebook.open(where, read_only=True)
    files = sorted(p.relative_to(where) for p in Path(where).rglob("*"))
    report = fibrebook.bring_in(reg, folder_of(tmp_path / "in"), by="ab", why="x", dry_run=True)
    assert report.ok
    assert report.counts() == {"added": 30}
    assert sorted(p.relative_to(where) for p in Path(where).rglob("*")) == files
    with pytest.raises(ReadOnlyError, match="trial"):
        reg.trial("ab", "x").finish()


def test_the_command_for_a_dry_run_tells_of_a_clean_file(tmp_path):
    """`fibrebook bring-in --dry-run` of a clean file ends well and says so."""
    fibrebook.create(tmp_path / "reg")
    files = folder_of(tmp_path / "in")
    words = ["-r", str(tmp_path / "reg"), "bring-in", str(files), "--by", "ab", "--why", "x", "--dry-run"]
    done = subprocess.run([sys.executable, "-m", "fibrebook", *words], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "30 added; nothing wrong; this was a dry run" in done.stdout


def test_a_misspelt_site_is_one_problem_that_names_what_was_meant(tmp_path):
    """One site written small is told once, by its own cell; what could not be found because of it is folded away."""
    report = dry_run(tmp_path, enclosures=(0, "site", "old mill"))
    assert len(report.problems) == 1
    problem = report.problems[0]
    assert problem.where == "sheet 'enclosures', row 2, column A (site)"
    assert "there is no site 'old mill'" in problem.what
    assert problem.remedy.startswith("did you mean 'Old Mill', as sheet 'sites', row 2 has it?")
    assert len(problem.follows) >= 14
    assert f"{len(problem.follows)} more follow from it" in str(problem)
    refused = {(line.table, line.row) for line in report.lines if line.fate == "refused"}
    assert {("ports", row) for row in range(2, 14)} <= refused  # no row's fate is lost by folding


def test_a_site_that_others_write_otherwise_is_one_problem(tmp_path):
    """Where the sheet of sites itself is misspelt, every row that names the site is one problem."""
    report = dry_run(tmp_path, sites=(0, "site", "Old  Mil"))
    assert len(report.problems) == 1
    assert report.problems[0].remedy.startswith("did you mean 'Old  Mil', as sheet 'sites', row 2 has it?")


@pytest.mark.parametrize(
    ("table", "row", "column", "value", "meant"),
    [("enclosures", 0, "enclosure", "p1", "P1"), ("cables", 0, "cable", "c1", "C1"), ("locations", 0, "location", "hall", "Hall")],
)  # fmt: skip
def test_a_misspelt_label_is_one_problem(tmp_path, table, row, column, value, meant):
    """Whatever names a record by a label that is written otherwise in its own sheet is one problem."""
    report = dry_run(tmp_path, **{table: (row, column, value)})
    assert len(report.problems) == 1
    assert f"did you mean {value!r}, as sheet {table!r}, row 2 has it?" in report.problems[0].remedy
    assert repr(meant) in report.problems[0].what


def test_two_faults_are_two_problems(tmp_path):
    """What does not follow from each other is told each by itself; another number is no misspelling."""
    report = dry_run(tmp_path, enclosures=(1, "enclosure", "P3"), terminations=(3, "core", 40))
    assert len(report.problems) == 2
    said = " ".join(map(str, report.problems))
    assert "there is no enclosure 'P2'" in said
    assert "cable 'C1' has no core 40" in said
    assert "did you mean" not in said


def test_an_edit_is_told_root_causes_too(tmp_path):
    """What a program puts is refused with the same few problems."""
    reg = fibrebook.create(tmp_path / "reg")
    with pytest.raises(RuleError, match="did you mean 'Old Mill'") as caught, reg.edit(by="ab", why="x") as edit:
        edit.put("sites", PLANT["sites"])
        edit.put("enclosures", [{"site": "old mill", "enclosure": "P1"}])
        edit.put("ports", [{**p, "site": "old mill"} for p in PORTS])
    assert len(caught.value.problems) == 1
    assert len(caught.value.problems[0].follows) == 12


LAYOUT = """
[table]
header_row = 1
[fields.site]
heading = "Site"
[fields.panel]
heading = "Panel"
[fields.port]
heading = "Port"
[[rows]]
table = "sites"
columns = { site = "{site}" }
[[rows]]
table = "enclosures"
when = ["panel"]
columns = { site = "{site}", enclosure = "{panel}" }
[[rows]]
table = "ports"
when = ["panel", "port"]
columns = { site = "{site}", enclosure = "{panel}", port = "{port}" }
"""


def by_layout(tmp_path: Path, rows: list[list[object]], layout: str = LAYOUT) -> fibrebook.workbook.Report:
    """What a dry run of a list, read by a layout, tells."""
    (tmp_path / "list.toml").write_text(layout, encoding="utf-8")
    with (tmp_path / "list.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([["Site", "Panel", "Port"], *rows])
    reg = fibrebook.create(tmp_path / "reg")
    layout_file = tmp_path / "list.toml"
    return fibrebook.bring_in(reg, tmp_path / "list.csv", by="ab", why="x", dry_run=True, layout=layout_file)


def test_a_key_that_is_blank_on_every_line_is_told(tmp_path):
    """Lines that are to make records, all without a site, are each refused; "nothing wrong" is never said of them."""
    report = by_layout(tmp_path, [["", "P1", 1], ["", "P1", 2], ["", "P2", 1]])
    assert not report.ok
    assert {(p.row, p.letter) for p in report.problems} == {(2, 1), (3, 1), (4, 1)}
    assert all("is blank" in p.what for p in report.problems)


def test_one_blank_cell_is_one_problem(tmp_path):
    """A cell that is blank and meant for all lines below it is named once, with what lacks its key because of it."""
    filled = LAYOUT.replace('heading = "Site"', 'heading = "Site"\nfill_down = true')
    report = by_layout(tmp_path, [["", "P1", n] for n in range(1, 9)], filled)
    assert len(report.problems) == 1
    assert report.problems[0].where == "sheet 'list', row 2, column A (site)"
    assert len(report.problems[0].follows) == 8  # the panel and its ports, less the one that is told


def one_core(tmp_path: Path, *, cable: dict[str, object], core: dict[str, object] | None = None) -> str:
    """What `which` prints of core K1/1 between two ports with a pigtail spliced to it at each end."""
    reg = fibrebook.create(tmp_path / "reg")
    ends = [{"site": "S", "enclosure": p} for p in ("P1", "P2")]
    with reg.edit(by="ab", why="x") as edit:
        edit.put("sites", [{"site": "S"}])
        edit.put("enclosures", ends)
        edit.put("ports", [{**e, "port": 1, "connector": "LC", "fibre_class": "OS2"} for e in ends])
        both = {"site": "S", "cable": "K1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 2}
        edit.put("cables", [{**both, **cable}])
        made = {"port": 1, "cable": "K1", "core": 1, "method": "spliced pigtail"}
        edit.put("terminations", [{**e, **made} for e in ends])
        if core:
            edit.put("cores", [{"site": "S", "cable": "K1", "core": 1, **core}])
    words = ["-r", str(tmp_path / "reg"), "which", "S", "K1/1"]
    return subprocess.run(
        [sys.executable, "-m", "fibrebook", *words], capture_output=True, text=True, check=True
    ).stdout


@pytest.mark.parametrize(
    ("cable", "core", "why"),
    [
        ({"length_m": 100}, None, "core K1/1 has no fibre class"),
        ({"fibre_class": "OS2"}, None, "core K1/1 has no length"),
        ({"fibre_class": "OS2", "length_m": 100}, {"condition": "faulty"}, "core K1/1 is faulty"),
    ],
)
def test_a_sum_over_what_is_not_known_is_told_as_the_least(tmp_path, cable, core, why):
    """`which` never prints a sum as if it were the loss where an element's loss is not known: it says why."""
    told = one_core(tmp_path, cable=cable, core=core)
    assert "in all" not in told
    assert f" dB; {why}" in told


def test_a_sum_of_which_all_is_known_is_the_loss(tmp_path):
    """Where every element's loss is known, the sum is told as the whole."""
    told = one_core(tmp_path, cable={"fibre_class": "OS2", "length_m": 100})
    assert "in all, at 1310 nm" in told
    assert "at least" not in told
