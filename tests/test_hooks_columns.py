"""Columns that a plugin adds to kinds that are there: stored, judged, shown, merged and copied; and without the plugin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from ducts import door, put
from openpyxl import load_workbook

import fibrebook
from fibrebook import plugins
from fibrebook.errors import BringInError, ConflictError, FormatError, InputError, PluginError, Problem, RuleError
from fibrebook.plugins import AdviceCheck, HardRule
from fibrebook.records import BUILT_IN_KINDS, KINDS, Column
from fibrebook.register.care_of_register import mend_place

DRUM = Column("drum", "label", "Number of the drum.")
PAID = Column("paid", "number", "What was paid for it.", unit="EUR", minimum=0, maximum=1000)
SEEN = Column("seen_by", "text", "Who saw it.", personal=True)
GIVEN = {"cables": [DRUM, PAID], "sites": [SEEN], "cores": [Column("ribbon", "integer", "Its ribbon.", minimum=1)]}


def plug(name: str = "firm", **given: Any) -> None:
    """Put a plugin of some hooks to the door."""
    parts = {}
    for hook, what in given.items():
        give = plugins.hookimpl(lambda what=what: what)
        give.__name__ = hook
        parts[hook] = staticmethod(give)
    plugins.manager().register(type("Firm", (), parts)(), name=name)


@contextmanager
def absent(name: str = "firm") -> Iterator[None]:
    """The plugin is not there for as long as the block lasts."""
    there = plugins.manager().unregister(name=name)
    try:
        yield
    finally:
        if plugins.manager().has_plugin(name):
            plugins.manager().unregister(name=name)
        plugins.manager().register(there, name=name)


@pytest.fixture(autouse=True)
def _alone() -> Iterator[None]:
    """No plugin but those of the test."""
    with door(""):
        yield


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """A register with values in added columns, its plugin at the door."""
    plug(extra_columns=GIVEN)
    found = fibrebook.create(tmp_path / "register")
    with found.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": s, "seen_by": "Kim"} for s in ("Mill", "Barn")])
        edit.put("locations", [{"site": "Mill", "location": "hall"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e, "location": "hall"} for e in ("P1", "P2")])
        edit.put("cables", [
            {"site": "Mill", "cable": c, "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 4, "drum": d, "paid": p}
            for c, d, p in (("C1", "T/1", 12.5), ("C2", None, None), ("C3", "3", None))
        ])  # fmt: skip
        edit.put("cores", [{"site": "Mill", "cable": "C1", "core": 2, "ribbon": 1}])
    return found


def drums(reg: fibrebook.Register) -> dict[str, tuple[Any, Any]]:
    """Drum and price of each cable, as the register tells them."""
    return {r["cable"]: (r["drum"], r["paid"]) for r in reg.arrow("cables").to_pylist()}


BEFORE = {"C1": ("T/1", 12.5), "C2": (None, None), "C3": ("3", None)}


def test_it_is_a_column_like_ours(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Stored, typed, refused where it does not fit, in the history, undone, in a workbook there and back, published."""
    assert drums(reg) == BEFORE and list(KINDS["cables"].names[-2:]) == ["drum", "paid"]
    assert reg.table("cores")["ribbon"].dropna().tolist() == [1] and len(reg.table("cores")) == 12
    with pytest.raises(InputError, match="cables"):
        put(reg, "cables", site="Mill", cable="C2", paid=5000)
    put(reg, "cables", site="Mill", cable="C2", drum="T/2")
    assert reg.history("cables", ("Mill", "C2"))[["column", "after"]].values.tolist()[-1] == ["drum", "T/2"]
    reg.undo(2, "ab", "back")
    assert drums(reg) == BEFORE
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    book = load_workbook(path)
    head = [c.value for c in book["cables"][1]]
    row = next(r for r in book["cables"].iter_rows(min_row=2) if r[head.index("cable")].value == "C2")
    row[head.index("paid")].value = 99
    book.save(path)
    assert fibrebook.bring_in(reg, path, by="ef", why="paid").commit == 4
    assert drums(reg)["C2"] == (None, 99.0)
    reg.publish(tmp_path / "plain", personal=False)
    assert "drum" in pq.read_schema(tmp_path / "plain" / "cables.parquet").names
    assert "seen_by" not in pq.read_schema(tmp_path / "plain" / "sites.parquet").names
    assert reg.undeclared() == [] and reg.verify().empty


def test_its_form_has_it(reg: fibrebook.Register) -> None:
    """The form of the kind has a field for it, with its title."""
    from fibrebook import screens

    screen = screens.form("cables", reg)
    assert {"drum", "paid"} <= set(screen.box.fields)


def test_rules_and_checks_read_it(tmp_path: Path) -> None:
    """The plugin's hard rule refuses a save by it and its check tells of it, in tables of new and old rows."""

    def once(tables: Any) -> Iterator[Problem]:
        there: set[str] = set()
        for row in tables["cables"].to_pylist():
            if row["drum"] is not None and row["drum"] in there:
                yield Problem("cables", "comes off a drum twice", "look", "cables", (row["site"], row["cable"]), "drum")
            there.add(row["drum"])

    def no_drum(situation: Any) -> Iterator[Any]:
        for row in situation.table("cables").to_pylist():
            if row["drum"] is None:
                yield situation.advise("no drum", "cables", row, "its drum is not known", "look")

    old = fibrebook.create(tmp_path / "register")
    with old.edit("ab", "before there was a plugin") as edit:
        edit.put("sites", [{"site": "Mill"}])
        edit.put("cables", [{"site": "Mill", "cable": c, "core_count": 4} for c in ("C1", "C2")])
    assert len(fibrebook.advice(old)) >= 0  # read, and kept, before the plugin came
    plug(
        extra_columns={"cables": [DRUM]},
        hard_rules=[HardRule("once", once, "", ("cables",))],
        advice_checks=[AdviceCheck("no drum", no_drum)],
    )
    assert (fibrebook.advice(old)["check"] == "no drum").sum() == 2
    put(old, "cables", site="Mill", cable="C1", drum="5")
    with pytest.raises(RuleError, match="cannot stand"):
        put(old, "cables", site="Mill", cable="C2", drum="5")
    assert (fibrebook.advice(old)["check"] == "no drum").sum() == 1


# --- the plugin is not here -------------------------------------------------------------------------------------------
def test_without_it_everything_else_goes_on(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Read, saved, merged, relabelled, removed, undone, tidied, copied and brought back: the values go with their rows."""
    with absent():
        here = fibrebook.open(reg.where)
        assert here.undeclared() == ["cables.drum", "cables.paid", "cores.ribbon", "sites.seen_by"]
        assert "drum" not in here.table("cables") and len(fibrebook.cross_reference(here)) == 12
        base = here.commit
        put(here, "cables", site="Mill", cable="C1", notes="wet")
        with here.edit("ef", "another cell", base=base) as edit:
            edit.put("cables", [{"site": "Mill", "cable": "C1", "route": "roof"}])
        with pytest.raises(ConflictError), here.edit("ef", "the same cell", base=base) as edit:
            edit.put("cables", [{"site": "Mill", "cable": "C1", "notes": "dry"}])
        with here.edit("ab", "relabelled") as edit:
            edit.rename("cables", "Mill", "C1", "C9")
            edit.rename("sites", "Mill", "Mill", "Old mill")
        with here.edit("ab", "gone") as edit:
            edit.remove("cables", [("Old mill", "C3")])
        here.undo(here.commit, "ab", "back")
        copy = here.take_away(tmp_path / "van", ["Old mill"])
        put(copy, "cables", site="Old mill", cable="C2", notes="from the van")
        here.bring_back(copy.where, "ab", "back")
        here.tidy(0, "ab", "room")
        assert here.verify().empty
        while here.commit % 32 != 1:  # past a commit that holds the whole state
            put(here, "sites", site="Barn", notes=str(here.commit))
        with pytest.raises(InputError, match="drum"):
            put(here, "cables", site="Old mill", cable="C2", drum="9")
    again = fibrebook.open(reg.where)
    assert drums(again) == {"C9": BEFORE["C1"], "C2": BEFORE["C2"], "C3": BEFORE["C3"]}
    assert again.table("cables").set_index("cable")["notes"].dropna().to_dict() == {"C9": "wet", "C2": "from the van"}
    assert again.table("sites")["seen_by"].tolist() == ["Kim", "Kim"]
    assert [r["ribbon"] for r in again.tables(names=["cores"])["cores"].to_pylist()] == [1]
    assert [r["drum"] for r in fibrebook.open(tmp_path / "van").arrow("cables").to_pylist()].count("T/1") == 1
    assert again.verify().empty and again.undeclared() == []


def test_without_it_what_changed_it_is_told_and_undone(reg: fibrebook.Register) -> None:
    """History and differences tell of it, and a commit that changed it is undone to the letter."""
    put(reg, "cables", site="Mill", cable="C2", drum="T/2", notes="x")
    with absent():
        here = fibrebook.open(reg.where)
        assert set(here.history("cables", ("Mill", "C2"))["column"].dropna()) >= {"drum", "notes"}
        assert here.differences(1, 2)["column"].tolist() == ["notes", "drum"]
        here.undo(2, "ab", "back")
    assert drums(fibrebook.open(reg.where)) == BEFORE


def test_a_copy_changed_with_it_is_brought_back_without_it(reg: fibrebook.Register, tmp_path: Path) -> None:
    """What the plugin's machine wrote in the column comes back on one that has it not, conflicts and all."""
    copy = reg.take_away(tmp_path / "van")
    put(copy, "cables", site="Mill", cable="C2", drum="T/2")
    put(copy, "cables", site="Mill", cable="C1", drum="other")
    put(reg, "cables", site="Mill", cable="C1", drum="T/9")
    with absent():
        here = fibrebook.open(reg.where)
        with pytest.raises(ConflictError) as error:
            here.bring_back(copy.where, "ab", "back")
        assert error.value.conflicts[["column", "theirs", "mine"]].values.tolist() == [["drum", "T/9", "other"]]
        here.bring_back(copy.where, "ab", "back", "theirs")
    assert drums(fibrebook.open(reg.where)) == {**BEFORE, "C1": ("T/9", 12.5), "C2": ("T/2", None)}


def test_without_it_personal_data_is_not_guessed(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A copy and a publishing without personal data lack its columns and say so; all personal data is not taken out."""
    with absent():
        here = fibrebook.open(reg.where)
        with pytest.warns(UserWarning, match="left out whole: 'cables.drum'"):
            copy = here.take_away(tmp_path / "van", personal=False)
        assert copy.undeclared() == []
        put(copy, "cables", site="Mill", cable="C2", notes="wet")
        here.bring_back(copy.where, "ab", "back")
        with pytest.warns(UserWarning, match="left out whole: 'cables.drum'"):
            here.publish(tmp_path / "plain", personal=False)
        assert "drum" not in pq.read_schema(tmp_path / "plain" / "cables.parquet").names
        here.publish(tmp_path / "all")
        assert pq.read_table(tmp_path / "all" / "cables.parquet")["drum"].to_pylist() == ["T/1", None, "3"]
        assert pq.read_table(tmp_path / "all" / "cores.parquet")["ribbon"].to_pylist().count(1) == 1
        with pytest.raises(PluginError, match=r"'sites.seen_by'|'cables.drum'"):
            here.redact(by="ab", why="asked", site="Mill")
    assert drums(fibrebook.open(reg.where)) == BEFORE
    again = fibrebook.open(reg.where)
    again.redact(by="ab", why="asked", site="Mill")
    assert again.table("sites").set_index("site")["seen_by"].dropna().to_dict() == {"Barn": "Kim"}


def test_without_it_a_workbooks_column_is_refused_in_words(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A workbook written with the plugin is not brought in by halves; the first sheet of one written without says so."""
    path = fibrebook.send_out(reg, tmp_path / "with.xlsx")
    with absent():
        here = fibrebook.open(reg.where)
        with pytest.raises(BringInError) as error:
            fibrebook.bring_in(here, path, by="ef", why="x")
        assert "belongs to a plugin that is not here" in error.value.problems[0].what
        told = load_workbook(fibrebook.send_out(here, tmp_path / "out.xlsx"))["about"]
        assert any("cables.drum" in str(row[1].value) for row in told.iter_rows())


def test_without_it_a_lost_file_is_worked_out_again(reg: fibrebook.Register) -> None:
    """Mend makes a damaged segment of the table again from the history, the column's values in it."""
    put(reg, "cables", site="Mill", cable="C2", drum="T/2")
    now = drums(reg)
    with absent():
        for path in (Path(reg.where) / "tables" / "cables").iterdir():
            path.write_bytes(path.read_bytes()[:-4] + b"lost")
        assert all(m.ok for m in mend_place(reg.where, "ab", "mended"))
        assert fibrebook.open(reg.where).verify().empty
    assert drums(fibrebook.open(reg.where)) == now


def test_another_version_is_told_so(reg: fibrebook.Register) -> None:
    """A plugin that declares the column of another type is told which version to install; nothing is called damage."""
    with absent():
        plug(extra_columns={"cables": [Column("drum", "integer", "Number of the drum.")]})
        with pytest.raises(FormatError, match=r"'drum' is no integer; install the version of the plugin"):
            fibrebook.open(reg.where).table("cables")


def test_a_column_that_nobody_added_is_of_a_newer_fibrebook(reg: fibrebook.Register, monkeypatch: Any) -> None:
    """Where no commit says that a plugin added it, it is not passed over."""
    from fibrebook.register.store.state import State

    real = State._after
    monkeypatch.setattr(State, "_after", lambda self, commit: real(self, {**commit, "columns": {}}))
    with absent(), pytest.raises(FormatError, match="newer fibrebook"):
        fibrebook.open(reg.where).table("cables")


def test_where_no_plugin_adds_one_nothing_is_said(tmp_path: Path) -> None:
    """A commit of a register without added columns names none: it is written as it was before there could be any."""
    found = fibrebook.create(tmp_path / "register")
    put(found, "sites", site="Mill")
    assert "columns" not in found._store.log.commit(1)


# --- what may be declared ---------------------------------------------------------------------------------------------
FAULTS: dict[str, tuple[Any, str]] = {
    "no mapping": ([DRUM], "no mapping"),
    "an unknown kind": ({"cable": [DRUM]}, "'cable', which is no kind of record"),
    "a bare column": ({"cables": DRUM}, "write a list of Column"),
    "no column": ({"cables": ["drum"]}, "no Column"),
    "a name that is taken": ({"cables": [Column("notes", "text", "Notes.")]}, "'notes' already"),
    "a name that another plugin took": ({"cables": [PAID, DRUM]}, "'drum' already"),
    "twice": ({"sites": [SEEN, SEEN]}, "'seen_by' already"),
    "one that must be given": ({"cables": [Column("x", "text", "X.", required=True)]}, "rows that stand already"),
    "an unknown type": ({"cables": [Column("x", "words", "X.")]}, "unknown type"),  # type: ignore[arg-type]
    "a personal one of the firm's": ({"choices": [SEEN]}, "only a site's may be"),
    "the workbook's own": ({"cables": [Column("remove", "text", "X.")]}, "workbook's own"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_faulty_one_is_left_out_and_named_and_nothing_is_saved(name: str, tmp_path: Path) -> None:
    """Its plugin adds no column, everything reads, another plugin's column stands, no save is made by half a list."""
    given, fault = FAULTS[name]
    found = fibrebook.create(tmp_path / "register")
    put(found, "sites", site="Mill")
    plug("good", extra_columns={"cables": [DRUM]})
    plug("a firm's", extra_columns=given)
    assert KINDS["cables"].names == (*BUILT_IN_KINDS["cables"].names, "drum")
    assert all(KINDS[n] == k for n, k in BUILT_IN_KINDS.items() if n != "cables")
    assert "a firm's" in plugins.in_words() and fault in plugins.in_words()
    assert found.sites() == ["Mill"]
    with pytest.raises(PluginError, match="a firm's"):
        put(found, "sites", site="Barn")


def test_a_column_of_a_plugins_own_kind_may_be_added_by_another(tmp_path: Path) -> None:
    """A kind that one plugin gives, with a column that another adds; without the second the kind goes on."""
    from fibrebook_example.ducts import DUCTS

    def both(columns: Iterable[Column]) -> fibrebook.Register:
        plug("one", record_kinds=[DUCTS])
        if columns:
            plug("two", extra_columns={"ducts": columns})
        where = tmp_path / "register"
        return fibrebook.open(where) if where.exists() else fibrebook.create(where)

    with door(""):
        found = both([DRUM])
        put(found, "sites", site="Mill")
        put(found, "locations", site="Mill", location="hall")
        put(found, "ducts", site="Mill", duct="D1", a_location="hall", drum="7")
    with door(""):
        found = both([])
        assert found.undeclared() == ["ducts.drum"] and "drum" not in found.table("ducts")
        put(found, "ducts", site="Mill", duct="D1", inside_mm=40)
    with door(""):
        assert found.undeclared() == ["ducts"]
    with door(""):
        row = both([DRUM]).arrow("ducts").to_pylist()[0]
        assert (row["drum"], row["inside_mm"]) == ("7", 40)
