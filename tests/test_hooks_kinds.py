"""A kind of record from a plugin: what a declaration must be, and that everything goes by it as by our own."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import ducts
import pytest
from ducts import put
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

import fibrebook
from fibrebook import plugins
from fibrebook.cli import main
from fibrebook.errors import ConflictError, InputError, NotFoundError, PluginError, RuleError
from fibrebook.records import BUILT_IN_KINDS, KINDS, Column, Kind, Link, kind_of
from fibrebook.records.reference_page import PAGE, reference_page
from fibrebook.screens.frame.changes_told import cell_by_cell, in_words
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.model import FormModel
from fibrebook.words.printable import first_unseen
from fibrebook.workbook.dropdowns import rules

SITE = Column("site", "label", "The site.", required=True)
LABEL = Column("duct", "label", "Label.", required=True)
PLACE = Column("a_location", "label", "Where it is.")
GOOD = Kind("pits", "pit", "A hole in the ground.", (SITE, LABEL, PLACE), ("site", "duct"))


@pytest.fixture(autouse=True)
def _there():
    with ducts.with_ducts():
        yield


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """The register with ducts in it."""
    return ducts.make(tmp_path / "register")


def plugged(*kinds: Any) -> None:
    """Put a plugin that gives some kinds at the door (which the fixture above closes again)."""
    give = staticmethod(plugins.hookimpl(lambda: list(kinds)))
    give.__func__.__name__ = "record_kinds"
    plugins.manager().register(type("Firm", (), {"record_kinds": give})(), name="a firm's")


def with_columns(*more: Column, **other: Any) -> Kind:
    """The good kind with more columns, or other parts."""
    return replace(GOOD, columns=(*GOOD.columns, *more), **other)


# --- what a declaration must be --------------------------------------------------------------------------------------
FAULTS = {
    "no kind": ("ducts", "no Kind"),
    "a name that is taken": (replace(GOOD, name="cables"), "name of another kind"),
    "a name that another plugin took": (replace(GOOD, name="ducts"), "name of another kind"),
    "a singular that is taken": (replace(GOOD, singular="Cable"), "that of 'cables'"),
    "capitals in the name": (replace(GOOD, name="Pits"), "lower-case"),
    "a slash in the name": (replace(GOOD, name="../pits"), "lower-case"),
    "a blank in the name": (replace(GOOD, name="pits "), "lower-case"),
    "a digit first": (replace(GOOD, name="2pits"), "lower-case"),
    "no text as name": (replace(GOOD, name=5), "lower-case"),
    "a name too long for a sheet": (replace(GOOD, name="p" * 32), "no sheet or file"),
    "the name of the first sheet": (replace(GOOD, name="about"), "no sheet or file"),
    "a name that Windows keeps": (replace(GOOD, name="com1"), "no sheet or file"),
    "no singular": (replace(GOOD, singular=" "), "no singular"),
    "no help": (replace(GOOD, help=""), "no help"),
    "a list of columns": (replace(GOOD, columns=[*GOOD.columns]), "write a tuple"),
    "a column that is none": (with_columns("notes"), "no Column"),
    "two columns of one name": (with_columns(PLACE), "two columns of the name 'a_location'"),
    "an unknown type": (with_columns(Column("depth", "metres", "How deep.")), "unknown type 'metres'"),
    "capitals in a column": (with_columns(Column("Depth", "number", "How deep.")), "lower-case"),
    "the workbook's own column": (with_columns(Column("remove", "yes/no", "To go.")), "workbook's own"),
    "a column without help": (with_columns(Column("depth", "number", "")), "without help"),
    "a comma in an allowed value": (with_columns(Column("what", "text", "What.", allowed=("a, b",))), "drop-down"),
    "allowed numbers": (with_columns(Column("depth", "number", "How deep.", allowed=("1",))), "drop-down"),
    "bounds the wrong way": (with_columns(Column("depth", "number", "Deep.", minimum=2, maximum=1)), "bounds"),
    "bounds of a text": (with_columns(Column("what", "text", "What.", maximum=1)), "bounds"),
    "a generated column": (with_columns(Column("what", "text", "What.", generated=True)), "generated"),
    "an unknown scope": (replace(GOOD, scope="room"), "scope"),
    "no site": (replace(GOOD, columns=(LABEL, PLACE), key=("duct",)), "'site' must be the first"),
    "the site not first": (replace(GOOD, columns=(LABEL, SITE), key=("duct", "site")), "'site' must be the first"),
    "nothing but the site": (replace(GOOD, key=("site",)), "no key column of its own"),
    "a key that is no column": (replace(GOOD, key=("site", "pit")), "'pit', which is none of its columns"),
    "keys not first": (replace(GOOD, columns=(SITE, PLACE, LABEL)), "does not begin with its key columns"),
    "a site that may be blank": (replace(GOOD, columns=(replace(SITE, required=False), LABEL)), "required label"),
    "a day as key": (replace(GOOD, columns=(SITE, Column("duct", "date", "When.", required=True))), "no label, text"),
    "a number that may be blank as key": (
        replace(GOOD, columns=(SITE, LABEL, Column("nr", "integer", "No.")), key=("site", "duct", "nr")), "not required",
    ),
    "a key that may be blank before one that may not": (
        replace(GOOD, columns=(SITE, replace(LABEL, required=False), replace(PLACE, required=True)),
                key=("site", "duct", "a_location")), "may be blank before",
    ),
    "a firm's kind with a site": (
        replace(GOOD, columns=(LABEL, SITE), key=("duct",), scope="firm"), "such rows belong to no site",
    ),
    "a personal key": (replace(GOOD, columns=(SITE, replace(LABEL, personal=True))), "personal"),
    "a personal column that must be given": (
        with_columns(Column("owner", "text", "Whose.", required=True, personal=True)), "personal",
    ),
    "a link that is none": (replace(GOOD, links=("locations",)), "no Link"),
    "a link to nothing": (replace(GOOD, links=(Link(("a_location",), ("places",)),)), "'places', which is no kind"),
    "a link by no column": (replace(GOOD, links=(Link(("b_location",), ("locations",)),)), "no column 'b_location'"),
    "a link to the site": (replace(GOOD, links=(Link(("a_location",), ("sites",)),)), "not named so"),
    "a link to the firm's": (replace(GOOD, links=(Link(("a_location",), ("choices",)),)), "not named so"),
    "a link of too many columns": (
        replace(GOOD, links=(Link(("a_location", "duct"), ("locations",)),)), "named by location",
    ),
    "a label for a core's number": (
        replace(GOOD, links=(Link(("duct", "a_location"), ("cores",)),)), "named by cable, core",
    ),
    "a link to kinds that share no names": (
        replace(GOOD, links=(Link(("a_location",), ("locations", "cables")),)), "share one set of names",
    ),
    "a firm's kind that links": (
        replace(GOOD, columns=(LABEL, PLACE), key=("duct",), scope="firm", links=(Link(("a_location",), ("locations",)),)),
        "only a site's records",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", list(FAULTS))
def test_a_faulty_declaration_is_left_out_and_the_plugin_named(name: str) -> None:
    """The other plugin's kinds stand; it is told which plugin is at fault, which kind, and what is wrong with it."""
    given, fault = FAULTS[name]
    plugged(given)
    assert list(KINDS) == [*BUILT_IN_KINDS, "ducts"]
    assert "a firm's" in plugins.in_words() and fault in plugins.in_words()


def test_a_hook_that_breaks_is_named_and_nothing_is_saved(reg: fibrebook.Register) -> None:
    """A record_kinds that raises: a register is read, its plugin is named, and no save is made by half a list."""
    give = staticmethod(plugins.hookimpl(lambda: 1 / 0))
    give.__func__.__name__ = "record_kinds"
    plugins.manager().register(type("Firm", (), {"record_kinds": give})(), name="a firm's")
    assert "ducts" in reg.tables()
    assert re.search(r"a firm's.*record_kinds broke", plugins.in_words())
    with pytest.raises(PluginError, match=r"a firm's.*record_kinds broke"), reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S9"}])
    assert "S9" not in reg.sites()


def test_good_declarations_of_every_sort_are_taken() -> None:
    """A firm's kind, a link to itself, to a core, to a port or interface, to another plugin's: all stand, ours first."""
    pits = with_columns(
        Column("inside", "label", "Which duct leads to it."), Column("cable", "label", "Cable."),
        Column("core", "integer", "Core."), Column("at", "label", "At."), Column("port", "label", "Port."),
        Column("position", "text", "Position."),
        links=(Link(("inside",), ("ducts",)), Link(("cable", "core"), ("cores",)), Link(("a_location",), ("pits",)),
               Link(("at", "port", "position"), ("ports", "interfaces"))),
    )  # fmt: skip
    lorries = Kind(
        "lorries",
        "lorry",
        "A lorry of the firm.",
        (Column("lorry", "label", "Plate.", required=True),),
        ("lorry",),
        scope="firm",
    )
    plugged(pits, lorries)
    assert list(KINDS) == [*BUILT_IN_KINDS, "ducts", "pits", "lorries"]
    assert len(KINDS) == len(BUILT_IN_KINDS) + 3
    assert kind_of("pits") is pits and KINDS["ports"] is BUILT_IN_KINDS["ports"]


def test_kept_pages_tell_of_the_built_in_kinds_only() -> None:
    """RECORDS.md is the same with a plugin at the door."""
    assert "ducts" in KINDS
    assert reference_page() == PAGE.read_text(encoding="utf-8")
    assert "## ducts" not in reference_page()


# --- importing -------------------------------------------------------------------------------------------------------
EVERYTHING = """
import importlib, pkgutil, fibrebook
for found in pkgutil.walk_packages(fibrebook.__path__, "fibrebook."):
    if not found.name.endswith(("__main__", ".bucket")):
        importlib.import_module(found.name)
"""
KIND = """
from fibrebook.plugins import hookimpl
from fibrebook.records import KINDS, Column, Kind
SITE = KINDS["cables"].by_name["site"]
@hookimpl
def record_kinds():
    return [Kind("pits", "pit", "A pit.", (SITE, Column("pit", "label", "Label.", required=True)), ("site", "pit"))]
"""


def run(tmp_path: Path, plugin: str, program: str) -> subprocess.CompletedProcess[str]:
    """Install a plugin of one module where nothing else is, and run a program that meets it."""
    (tmp_path / "firm_plugin.py").write_text(plugin, encoding="utf-8")
    about = tmp_path / "firm_plugin-1.0.dist-info"
    about.mkdir(exist_ok=True)
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: firm-plugin\nVersion: 1.0\n", encoding="utf-8")
    (about / "entry_points.txt").write_text("[fibrebook]\nfirm = firm_plugin\n", encoding="utf-8")
    env = {**os.environ, "FIBREBOOK_PLUGINS": "firm", "PYTHONPATH": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "first",
    [
        "import fibrebook.register.register",
        pytest.param("from fibrebook.records import KINDS", marks=pytest.mark.long),
        pytest.param("import firm_plugin", marks=pytest.mark.long),
    ],
)
def test_a_plugin_may_import_anything_of_ours(tmp_path: Path, first: str) -> None:
    """Whichever is imported first, a plugin whose module imports every module of ours adds its kind."""
    program = f"{first}\nfrom fibrebook.records import KINDS\nprint(list(KINDS)[-1])"
    done = run(tmp_path, EVERYTHING + KIND, program)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "pits"


def test_a_plugin_that_walks_the_kinds_while_it_is_loaded_is_told_so(tmp_path: Path) -> None:
    """The list is not whole then, so it is not given: the plugin is left out, named, and told what to do instead."""
    ask = "from fibrebook.records import KINDS\nlist(KINDS)\nfrom fibrebook import plugins\nprint(plugins.in_words())"
    done = run(tmp_path, KIND + "\nNAMES = list(KINDS)\n", ask)
    assert "'firm'" in done.stdout and "called later" in done.stdout


def test_what_needs_no_kinds_asks_for_none(reg: fibrebook.Register, tmp_path: Path) -> None:
    """`which` is answered without asking plugins for kinds of record: a hook that breaks does not stand in its way."""
    broken = "from fibrebook.plugins import hookimpl\n@hookimpl\ndef record_kinds():\n    raise ValueError('asked')\n"
    with reg.edit("ab", "ports") as edit:
        edit.put("ports", [{"site": "Mill", "enclosure": "P1", "port": 1}])
        edit.put("terminations", [{"site": "Mill", "enclosure": "P1", "port": 1, "cable": "C1", "core": 1}])
    words = ["-r", str(reg.where), "which", "Mill", "C1/1"]
    done = run(tmp_path, broken, f"from fibrebook.cli import main\nmain({words!r})")
    assert done.returncode == 0 and "C1" in done.stdout, done.stderr
    assert "asked" not in done.stderr
    ask = "from fibrebook.records import KINDS\nfrom fibrebook import plugins\nlist(KINDS)\nprint(plugins.in_words())"
    assert "asked" in run(tmp_path, broken, ask).stdout


# --- storing, checking, merging --------------------------------------------------------------------------------------
def test_rows_come_back_as_they_were_put(reg: fibrebook.Register) -> None:
    """Types, blanks, labels in any dress; an absent column keeps its value, a blank clears it."""
    frame = reg.table("ducts", "Mill")
    assert list(frame.columns) == list(KINDS["ducts"].names)
    row = ducts.newest(reg)[2]
    assert (row["site"], row["duct"], row["inside_mm"], row["sealed"], row["seen_on"]) == (
        "Mill", "D1", 50.0, True, dt.date(2026, 3, 31),
    )  # fmt: skip
    put(reg, "ducts", site="Mill", duct=7.0, a_location="yard", sealed="no", made_of="STEEL")
    put(reg, "ducts", site="Mill", duct="D1", cable=None)
    rows = {r["duct"]: r for r in ducts.newest(reg) if r["site"] == "Mill"}
    assert (rows["7"]["sealed"], rows["7"]["made_of"]) == (False, "steel")
    assert rows["D1"]["cable"] is None and rows["D1"]["owner"] == "neighbour"
    assert fibrebook.open(reg.where).verify().empty


@pytest.mark.parametrize(
    ("row", "column", "what"),
    [
        ({"inside_mm": "wide"}, "inside_mm", "no number"), ({"inside_mm": 5000}, "inside_mm", "out of range"),
        ({"cable_count": 1.5}, "cable_count", "no whole number"), ({"made_of": "glass"}, "made_of", "not one of"),
        ({"seen_on": "soon"}, "seen_on", "no date"), ({"sealed": "maybe"}, "sealed", "neither yes nor no"),
        ({"duct": ""}, "duct", "is blank"), ({"a_location": None}, "a_location", "is blank"),
        ({"notes": "a\0b"}, "notes", "control"), ({"colour": "red"}, "colour", "no column"),
    ],
)  # fmt: skip
def test_values_that_do_not_fit_are_named(reg: fibrebook.Register, row: dict, column: str, what: str) -> None:
    """Every check of our own columns holds for a plugin's: the cell is named, nothing is committed."""
    with pytest.raises(InputError, match="ducts") as error:
        put(reg, "ducts", **{"site": "Mill", "duct": "D9", "a_location": "hall"} | row)
    assert [p.column for p in error.value.problems] == [column] and what in error.value.problems[0].what
    assert reg.commit == 2


def test_a_new_row_needs_what_must_be_given(reg: fibrebook.Register) -> None:
    """A row without its needed column is refused; its key given twice too."""
    with pytest.raises(InputError, match="lack a_location"):
        put(reg, "ducts", site="Mill", duct="D9")
    with pytest.raises(RuleError, match="an earlier row"), reg.edit("ab", "twice") as edit:
        edit.put("ducts", [{"site": "Mill", "duct": d, "a_location": "hall"} for d in ("1", 1)])


@pytest.mark.parametrize(("column", "label", "told"), [("a_location", "attic", "location"), ("cable", "C9", "cable")])
def test_links_must_lead_to_the_same_site(reg: fibrebook.Register, column: str, label: str, told: str) -> None:
    """A label that is not there, or only at another site, breaks a hard rule; one that is there does not."""
    with reg.edit("ab", "elsewhere") as edit:
        edit.put("locations", [{"site": "Barn", "location": "attic"}])
        edit.put("cables", [{"site": "Barn", "cable": "C9", "core_count": 4}])
    with pytest.raises(RuleError) as error:
        put(reg, "ducts", site="Mill", duct="D1", **{column: label})
    [problem] = error.value.problems
    assert f"no {told} {label!r} at this site" in problem.what
    assert (problem.table, problem.key, problem.column) == ("ducts", ("Mill", "D1"), column)
    assert put(reg, "ducts", site="Barn", duct="D1", **{column: label})
    with pytest.raises(RuleError, match="no site 'Shed'"):
        put(reg, "ducts", site="Shed", duct="D1", a_location="hall")


def test_what_a_duct_names_cannot_be_removed(reg: fibrebook.Register) -> None:
    """Removing a location or cable that a duct names is refused and the duct named; with the duct it goes."""
    for table, key in (("locations", ("Mill", "hall")), ("cables", ("Mill", "C1"))):
        with pytest.raises(RuleError, match="ducts Mill/D1"), reg.edit("ab", "gone") as edit:
            edit.remove(table, [key])
    with reg.edit("ab", "both") as edit:
        edit.remove("cables", [("Mill", "C1")])
        edit.remove("ducts", [("Mill", "D1")])
    assert [r["duct"] for r in ducts.newest(reg)] == ["D1", "D2", "D2"]
    with pytest.raises(NotFoundError, match="not there"), reg.edit("ab", "again") as edit:
        edit.remove("ducts", [("Mill", "D1")])


def test_links_of_every_sort_are_checked_and_follow(reg: fibrebook.Register) -> None:
    """To a core, a port or interface, part of a key, another plugin's kind, itself: checked, and relabelled with it."""
    pits = Kind(
        "pits", "pit", "A pit.",
        (SITE, Column("duct", "label", "Duct.", required=True), Column("pit", "label", "Pit.", required=True),
         Column("cable", "label", "Cable."), Column("core", "integer", "Core."), Column("at", "label", "At."),
         Column("port", "label", "Port."), Column("position", "text", "Position."), Column("next", "label", "Duct."),
         Column("next_pit", "label", "Pit."), Column("panel", "label", "Panel."), Column("row", "label", "Row.")),
        ("site", "duct", "pit"),
        links=(Link(("duct",), ("ducts",)), Link(("cable", "core"), ("cores",)),
               Link(("at", "port", "position"), ("ports", "interfaces")), Link(("next", "next_pit"), ("pits",)),
               Link(("panel", "row"), ("ports",))),
    )  # fmt: skip
    plugged(pits)
    with reg.edit("ab", "pits") as edit:
        edit.put("ports", [{"site": "Mill", "enclosure": "P1", "port": 1, "position": p} for p in ("A", "B")])
        edit.put("ports", [{"site": "Mill", "enclosure": "P1", "port": 2}])
        edit.put("equipment", [{"site": "Mill", "equipment": "E1"}])
        edit.put("interfaces", [{"site": "Mill", "equipment": "E1", "interface": "1", "position": "Tx"}])
        edit.put("pits", [
            {"site": "Mill", "duct": "D1", "pit": "1", "cable": "C1", "core": 12, "at": "P1", "port": "2",
             "next": "D1", "next_pit": "2", "panel": "P1", "row": "1"},
            {"site": "Mill", "duct": "D1", "pit": "2", "at": "E1", "port": "1", "position": "Tx"},
        ])  # fmt: skip
    wrong = [
        {"core": 13},
        {"port": "9"},
        {"position": "A"},
        {"next_pit": "9"},
        {"row": "9"},
        {"at": "E1"},
        {"panel": "E1"},
    ]
    for change in wrong:
        with pytest.raises(RuleError, match="at this site"):
            put(reg, "pits", site="Mill", duct="D1", pit="1", **change)
    with pytest.raises(RuleError, match="no duct 'D7'"):
        put(reg, "pits", site="Mill", duct="D7", pit="1")
    with pytest.raises(RuleError, match="pits Mill/D1/1"):
        put(reg, "cables", site="Mill", cable="C1", core_count=6)
    with reg.edit("ab", "relabelled") as edit:
        edit.rename("ducts", "Mill", "D1", "Duct A")
        edit.rename("enclosures", "Mill", "P1", "Panel")
        edit.rename("cables", "Mill", "C1", "Cable")
        edit.rename("pits", "Mill", ("Duct A", "2"), ("Duct A", "last"))
        edit.rename("equipment", "Mill", "E1", "Switch")
    first, last = reg.table("pits").to_dict("records")
    assert [first[n] for n in ("duct", "cable", "at", "next", "next_pit", "panel")] == [
        "Duct A", "Cable", "Panel", "Duct A", "last", "Panel",
    ]  # fmt: skip
    assert (last["duct"], last["pit"], last["at"]) == ("Duct A", "last", "Switch")


def test_kinds_that_name_each_other_in_a_ring_are_relabelled_and_done() -> None:
    """Two kinds whose keys name each other: relabelling one comes to an end and carries through."""
    from fibrebook.records.kinds.built_in import referring_to

    one = Kind("ones", "one", "One.", (SITE, Column("a", "label", "A.", required=True), Column("b", "label", "B.", required=True)),
               ("site", "a", "b"), (Link(("b",), ("twos",)),))  # fmt: skip
    two = Kind("twos", "two", "Two.", (SITE, Column("b", "label", "B.", required=True), Column("a", "label", "A.", required=True)),
               ("site", "b", "a"), (Link(("a",), ("ones",)),))  # fmt: skip
    plugged(one, two)
    assert [k.name for k, _ in referring_to("ones")] == ["twos"]
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        reg = fibrebook.create(f"{folder}/register")
        with reg.edit("ab", "ring") as edit:
            edit.put("sites", [{"site": "S"}])
            edit.put("ones", [{"site": "S", "a": "x", "b": "y"}])
            edit.put("twos", [{"site": "S", "b": "y", "a": "x"}])
        with reg.edit("ab", "relabelled") as edit:
            edit.rename("ones", "S", ("x", "y"), ("z", "y"))
        assert reg.table("twos")["a"].tolist() == ["z"] and reg.table("ones")["a"].tolist() == ["z"]


def test_relabelling_carries_into_ducts(reg: fibrebook.Register) -> None:
    """A location, a cable, a duct, a site under a new label: the ducts that name it follow, those of other sites not."""
    with reg.edit("ab", "relabelled") as edit:
        edit.rename("locations", "Mill", "hall", "Great hall")
        edit.rename("cables", "Mill", "C1", "C/1")
        edit.rename("ducts", "Mill", "D2", "D3")
        edit.rename("sites", "Mill", "Mill", "Old mill")
    rows = [(r["site"], r["duct"], r["a_location"], r["cable"]) for r in ducts.newest(reg)]
    assert rows == [
        ("Barn", "D1", "hall", "C1"), ("Barn", "D2", "hall", None),
        ("Old mill", "D1", "Great hall", "C/1"), ("Old mill", "D3", "Great hall", None),
    ]  # fmt: skip


def test_two_people_merge_or_conflict(reg: fibrebook.Register) -> None:
    """Other cells of one duct merge; the same cell is a conflict with three values, kept and then decided."""
    base = reg.commit
    put(reg, "ducts", site="Mill", duct="D1", inside_mm=60)
    with reg.edit("ef", "other cell", base=base) as edit:
        edit.put("ducts", [{"site": "Mill", "duct": "D1", "cable_count": 3}])
    row = ducts.newest(reg)[2]
    assert (row["inside_mm"], row["cable_count"]) == (60, 3)
    with pytest.raises(ConflictError) as error, reg.edit("ef", "same cell", base=base) as edit:
        edit.put("ducts", [{"site": "Mill", "duct": "D1", "inside_mm": 70}])
    assert error.value.conflicts[["table", "column", "base", "theirs", "mine"]].values.tolist() == [
        ["ducts", "inside_mm", 50, 60, 70]
    ]
    assert reg.pending_conflicts(error.value.pending)["mine"].tolist() == [70]
    assert reg.pending_resolve(error.value.pending, "mine") == 5
    assert ducts.newest(reg)[2]["inside_mm"] == 70
    with pytest.raises(ConflictError, match="cannot stand"), reg.edit("ef", "a place in use", base=base) as edit:
        put(reg, "ducts", site="Mill", duct="D2", b_location="yard")
        edit.remove("locations", [("Mill", "yard")])


def test_history_undo_and_the_past(reg: fibrebook.Register) -> None:
    """Every cell's story is told, a commit is taken back, and the table is there as it was."""
    told = reg.history("ducts", ("Mill", "D2"))
    assert told[["commit", "by", "column", "before", "after", "op"]].values.tolist() == [
        [1, "ab", "a_location", None, "hall", "added"], [2, "cd", "inside_mm", None, 32.5, "changed"],
    ]  # fmt: skip
    assert reg.undo(2, "ab", "wrong") == 3
    assert ducts.newest(reg)[3]["inside_mm"] is None
    assert ducts.newest(fibrebook.open(reg.where, at=2))[3]["inside_mm"] == 32.5
    changes = reg.differences(2, 3)
    assert changes[["table", "key", "before", "after"]].values.tolist() == [["ducts", ("Mill", "D2"), 32.5, None]]
    assert in_words(changes) == ["1 duct changed: D2"]
    assert cell_by_cell(changes)["column"].tolist() == ["Inside (mm)"]


@pytest.mark.parametrize("site", [None, ["Mill"]], ids=["whole", "one site"])
def test_a_copy_is_taken_and_brought_back(reg: fibrebook.Register, tmp_path: Path, site: list[str] | None) -> None:
    """Ducts go along, what was done to them in the copy comes back, the same cell on both sides is asked about."""
    copy = reg.take_away(tmp_path / "van", site)
    assert ducts.newest(copy) == [r for r in ducts.newest(reg) if site is None or r["site"] in site]
    put(copy, "ducts", "ef", "seen", site="Mill", duct="D1", seen_on="2026-06-01")
    put(reg, "ducts", site="Mill", duct="D1", inside_mm=60)
    assert reg.bring_back(copy.where, "ab", "back") == 4
    assert ducts.newest(reg)[2]["seen_on"] == dt.date(2026, 6, 1) and ducts.newest(reg)[2]["inside_mm"] == 60
    put(copy, "ducts", "ef", "measured", site="Mill", duct="D1", cable_count=2)
    put(reg, "ducts", site="Mill", duct="D1", cable_count=5)
    with pytest.raises(ConflictError, match="1 value"):
        reg.bring_back(copy.where, "ab", "again")
    assert reg.bring_back(copy.where, "ab", "again", choices="mine")
    assert ducts.newest(reg)[2]["cable_count"] == 2


def test_personal_columns_are_left_out_and_redacted(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A copy, a workbook, a publishing without personal data lack the owner; brought back it is kept; redacted it goes."""

    def held(place: Path) -> bool:
        return any(b"neighbour" in p.read_bytes() for p in place.rglob("*") if p.is_file())

    copy = reg.take_away(tmp_path / "van", personal=False)
    assert {r["owner"] for r in ducts.newest(copy)} == {None} and not held(tmp_path / "van")
    put(copy, "ducts", "ef", "seen", site="Mill", duct="D1", sealed=False)
    reg.bring_back(copy.where, "ab", "back")
    assert ducts.newest(reg)[2]["owner"] == "neighbour" and ducts.newest(reg)[2]["sealed"] is False
    book = load_workbook(fibrebook.send_out(reg, tmp_path / "out.xlsx", personal=False))
    assert "owner" not in [c.value for c in book["ducts"][1]]
    reg.publish(tmp_path / "plain", personal=False)
    assert not held(tmp_path / "plain") and held(Path(reg.where) / "tables")
    done = reg.redact("ab", "asked for", site="Mill")
    assert done.replaced
    assert [r["owner"] for r in ducts.newest(reg)] == ["neighbour", None, None, None]
    assert {None} == set(reg.history("ducts", ("Mill", "D1")).query("column == 'owner'")["after"])
    assert reg.verify().empty


# --- workbook, lists, command line -----------------------------------------------------------------------------------
def test_a_workbook_goes_out_and_comes_back(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A sheet of its own after ours, with drop-downs; changed, added and removed rows come in, a wrong cell is named."""
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    book = load_workbook(path)
    assert book.sheetnames == ["about", *BUILT_IN_KINDS, "ducts", "lists"]
    assert "left out" not in [row[0].value for row in book["about"].iter_rows()]
    sheet = book["ducts"]
    head = [c.value for c in sheet[1]]
    assert head[:-1] == [*KINDS["ducts"].names, "remove"]
    offered = {r.formula1 for r in sheet.data_validations.dataValidation if r.type == "list"}
    assert '"plastic,steel,clay"' in offered and '"yes,no"' in offered
    assert any("'locations'!" in f for f in offered) and any("'cables'!" in f for f in offered)
    assert len(list(rules(KINDS["ducts"], dict.fromkeys(KINDS, 1), {}))) == 10
    assert fibrebook.bring_in(reg, path, by="ef", why="as it is").commit is None
    rows = {(r[0].value, r[1].value): r for r in sheet.iter_rows(min_row=2)}
    rows["Mill", "D1"][head.index("inside_mm")].value = 63
    rows["Barn", "D2"][head.index("remove")].value = "yes"
    sheet.append(["Mill", "D4", "yard", None, "C2", 110, 2, "clay", "no", dt.date(2026, 1, 2)])
    book.save(path)
    put(reg, "ducts", site="Mill", duct="D1", notes="meanwhile")
    report = fibrebook.bring_in(reg, path, by="ef", why="from the workbook")
    assert report.commit == 4
    found = {(r["site"], r["duct"]): r for r in ducts.newest(reg)}
    assert (found["Mill", "D1"]["inside_mm"], found["Mill", "D1"]["notes"]) == (63, "meanwhile")
    assert ("Barn", "D2") not in found
    assert (found["Mill", "D4"]["made_of"], found["Mill", "D4"]["sealed"]) == ("clay", False)
    rows["Mill", "D1"][head.index("a_location")].value = "attic"
    rows["Barn", "D2"][head.index("remove")].value = None
    book.save(path)
    wrong = fibrebook.bring_in(reg, path, by="ef", why="wrong", dry_run=True)
    assert any("'ducts', row" in p.where and "attic" in p.what for p in wrong.problems), str(wrong)


def test_a_workbook_that_meets_another_change_conflicts(reg: fibrebook.Register, tmp_path: Path) -> None:
    """The same cell changed in the sheet and in the register is a conflict, as in our own tables."""
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    book = load_workbook(path)
    head = [c.value for c in book["ducts"][1]]
    book["ducts"].cell(2, head.index("inside_mm") + 1).value = 75
    book.save(path)
    put(reg, "ducts", site="Barn", duct="D1", inside_mm=80)
    with pytest.raises(ConflictError, match="1 problem"):
        fibrebook.bring_in(reg, path, by="ef", why="from the workbook")


def test_lists_come_in_by_csv_and_by_layout(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A folder of .csv files, one .csv, and a firm's list by a plugin's layout all fill the table."""
    (tmp_path / "ducts.csv").write_text("site,duct,a_location,made_of\nMill,D5,yard,clay\n", encoding="utf-8")
    assert fibrebook.bring_in(reg, tmp_path / "ducts.csv", by="ef", why="a list").commit == 3
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "ducts.csv").write_text("site,duct,a_location\nMill,D6,yard\n", encoding="utf-8")
    assert fibrebook.bring_in(reg, folder, by="ef", why="lists").commit == 4
    (tmp_path / "ours.csv").write_text(
        "Where,Duct,From,To,Inside mm\nShed,D1,door,well,40\nMill,D7,hall,yard,\n", encoding="utf-8"
    )
    assert fibrebook.bring_in(reg, tmp_path / "ours.csv", by="ef", why="ours", layout="example_duct_list").commit == 5
    found = {(r["site"], r["duct"]): r for r in ducts.newest(reg)}
    assert found["Mill", "D5"]["made_of"] == "clay" and ("Mill", "D6") in found
    assert (found["Shed", "D1"]["inside_mm"], found["Shed", "D1"]["b_location"]) == (40, "well")


def test_published_and_read_by_others(reg: fibrebook.Register, tmp_path: Path) -> None:
    """One plain Parquet file a table, ducts too, the same rows."""
    import pyarrow.parquet as pq

    written = reg.publish(tmp_path / "plain")
    assert [p.stem for p in written] == list(KINDS)
    assert pq.read_table(tmp_path / "plain" / "ducts.parquet").num_rows == 4


def test_the_command_line_knows_the_table(
    reg: fibrebook.Register, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """history --table, differences, redact --column, send-out: a plugin's table is one like any other."""

    def ask(*words: str) -> Any:
        with pytest.raises(SystemExit) as end:
            main(["-r", str(reg.where), *words, "--json"])
        assert not end.value.code, capsys.readouterr()
        return json.loads(capsys.readouterr().out)

    assert {r["table"] for r in ask("history", "--table", "ducts")} == {"ducts"}
    assert ask("history")[-1]["tables"] == "ducts"
    assert [r["table"] for r in ask("differences", "1", "2")] == ["ducts"]
    told = ask("redact", "--site", "Mill", "--column", "ducts.notes", "--yes", "--by", "ab", "--why", "asked")
    assert told["commit"] is None or told["replaced"] == {} or told["sites"] == ["Mill"]
    assert Path(ask("send-out", str(tmp_path / "book.xlsx"))["file"]).exists()


def test_advice_of_a_plugin_about_its_own_table(reg: fibrebook.Register) -> None:
    """A check reads the table in the situation and advises about a row of it."""

    def unsealed(situation: Any) -> Any:
        for row in situation.tables["ducts"].to_pylist():
            if not row["sealed"]:
                yield situation.advise("open duct", "ducts", row, "water may come in", "seal it")

    give = staticmethod(plugins.hookimpl(lambda: [unsealed]))
    give.__func__.__name__ = "advice_checks"
    plugins.manager().register(type("Firm", (), {"advice_checks": give})(), name="a firm's")
    found = fibrebook.advice(reg).query("check == 'open duct'")
    assert found[["site", "table", "record"]].values.tolist() == [["Barn", "ducts", "D2"], ["Mill", "ducts", "D2"]]


# --- screens ---------------------------------------------------------------------------------------------------------
def test_it_has_a_form_for_nothing(reg: fibrebook.Register) -> None:
    """Fields, choices by its links and lists, faults in words: all from the declaration."""
    model = FormModel.of("ducts", reg.tables("Mill"), "Mill")
    assert [c.name for c in model.columns] == list(KINDS["ducts"].names[1:])
    assert model.choices("a_location") == ["hall", "loft", "yard"] and model.choices("cable") == ["C1", "C2"]
    assert model.choices("made_of") == ["plastic", "steel", "clay"] and model.choices("sealed") == ["yes", "no"]
    model.values.update(duct="D1", a_location="attic", inside_mm="2000")
    assert "no location attic" in model.faults()["a_location"] and "out of range" in model.faults()["inside_mm"]
    assert list(model.records()) == ["D1", "D2"]


def test_the_form_saves_changes_relabels_and_removes(reg: fibrebook.Register) -> None:
    """screens.form('ducts') adds a duct, changes and relabels one, removes one; each is a commit."""
    from fibrebook import screens

    screen = screens.form("ducts", reg)
    screen.site.value, screen.by.value = "Mill", "ef"
    for name, text in {"duct": "D8", "a_location": "yard", "inside_mm": "25"}.items():
        screen.box.fields[name].control.value = text
    screen.save()
    assert ("Mill", "D8") in [(r["site"], r["duct"]) for r in ducts.newest(reg)]
    screen.box.load(("Mill", "D8"))
    screen.box.fields["duct"].control.value = "D9"
    screen.save()
    assert [r["duct"] for r in ducts.newest(reg) if r["site"] == "Mill"] == ["D1", "D2", "D9"]
    screen.box.load(("Mill", "D9"))
    screen.remove()
    screen.remove()
    assert [r["duct"] for r in ducts.newest(reg) if r["site"] == "Mill"] == ["D1", "D2"]


def test_a_visit_has_a_section_for_it(reg: fibrebook.Register, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Record a visit: a form under "More records" puts a duct into the day, saved with everything else; else none."""
    from fibrebook import screens

    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    screen = screens.record_visit(reg)
    assert screen.steps.titles[-2:] == ["More records", "Ducts looked into"]
    screen.site.value, screen.by.value = "Mill", "ef"
    part = screen.sections[-2]
    part.refresh()
    for name, text in {"duct": "D8", "a_location": "yard"}.items():
        part.section.fields["Duct"].fields[name].control.value = text
    part.add("Duct")
    assert screen.day.rows() == {
        "ducts": [{**dict.fromkeys(KINDS["ducts"].names), "site": "Mill", "duct": "D8", "a_location": "yard"}]
    }
    kept = Day.from_json(reg, json.loads(json.dumps(screen.day.as_json())))
    assert in_words(kept.preview())[-1] == "1 duct new: D8"
    assert kept.save() == 3
    with ducts.without():
        assert "More records" not in screens.record_visit(fibrebook.open(reg.where)).steps.titles


def test_the_history_screen_shows_it(reg: fibrebook.Register) -> None:
    """It is among the records of a day, and its commits are told cell by cell."""
    from fibrebook import screens
    from fibrebook.screens.records.history import as_it_was, changes_of

    screen = screens.history(reg)
    assert screen.kind.options[-1] == "Ducts"
    assert changes_of(reg, 2)[["table", "record", "column", "after"]].values.tolist() == [
        ["ducts", "Mill / D2", "Inside (mm)", 32.5]
    ]
    assert len(as_it_was(reg, dt.date(2999, 1, 1), "ducts", "Mill")) == 2


# --- any rows --------------------------------------------------------------------------------------------------------
WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=12).map(str.strip)
LABELS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S"), include_characters=" "), max_size=12)
ROWS = st.dictionaries(
    LABELS.map(str.strip).filter(lambda text: text and not first_unseen(text)),
    st.fixed_dictionaries({
        "a_location": st.sampled_from(["hall", "loft", "yard"]),
        "b_location": st.sampled_from([None, "hall", "loft"]),
        "cable": st.sampled_from([None, "C1", "C2"]),
        "inside_mm": st.none() | st.floats(10, 1000),  # narrower breaks the example's own rule
        "cable_count": st.none() | st.integers(0, 200),
        "made_of": st.sampled_from([None, "plastic", "steel", "clay"]),
        "sealed": st.none() | st.booleans(),
        "seen_on": st.none() | st.dates(dt.date(1800, 1, 1), dt.date(2999, 12, 31)),
        "owner": st.none() | WORDS, "notes": st.none() | WORDS,
    }),
    max_size=6,
)  # fmt: skip


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(ROWS)
def test_any_rows_survive_register_and_workbook(
    tmp_path_factory: pytest.TempPathFactory, rows: dict[str, dict]
) -> None:
    """What is put comes back from the register; the workbook comes back unchanged, and fills an empty register alike."""
    from fibrebook.records import as_label, checked_table

    place = tmp_path_factory.mktemp("any")
    reg = ducts.make(place / "register")
    given_ = [{"site": "Mill", "duct": d, **row} for d, row in rows.items()]
    labels = [as_label(r["duct"]) for r in given_]
    if len(set(labels)) < len(labels):
        given_ = given_[:1]
    if given_:
        with reg.edit("ab", "any") as edit:
            edit.put("ducts", given_)
    expected = checked_table(KINDS["ducts"], given_).to_pylist() if given_ else []
    found = {(r["site"], r["duct"]): r for r in ducts.newest(reg)}
    assert [found[r["site"], r["duct"]] for r in expected] == expected
    path = fibrebook.send_out(reg, place / "out.xlsx")
    assert fibrebook.bring_in(reg, path, by="ef", why="as it is").commit is None
    book = load_workbook(path)
    del book["about"]
    for sheet in book:  # and what tells the register in every sheet, as the refusal asks for
        sheet.delete_cols(sheet.max_column)
    book.save(path)
    other = fibrebook.create(place / "other")
    fibrebook.bring_in(other, path, by="ef", why="all of it")
    digits = lambda r: {n: f"{v:.12g}" if isinstance(v, float) else v for n, v in r.items()}  # noqa: E731
    assert [digits(r) for r in ducts.newest(other)] == [digits(r) for r in ducts.newest(reg)]
