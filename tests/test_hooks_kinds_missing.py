"""A register with a plugin's table, opened where the plugin is not: all else is answered, and nothing of it is lost."""

from __future__ import annotations

import os
import random
import shutil
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ducts
import pyarrow.parquet as pq
import pytest
from ducts import duct_files, newest, put
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

import fibrebook
from fibrebook import plugins
from fibrebook.errors import BringInError, ConflictError, FormatError, NotFoundError, PluginError, RuleError
from fibrebook.records import KINDS, Column, Kind, Link
from fibrebook.records.rules import check as rules
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.store.log import RegisterWarning
from fibrebook.screens.frame.changes_told import cell_by_cell, in_words


@pytest.fixture
def where(tmp_path: Path) -> Path:
    """The place of a register that was made with the plugin there; it is not there any more."""
    with ducts.with_ducts():
        ducts.make(tmp_path / "register")
    return tmp_path / "register"


@pytest.fixture
def reg(where: Path) -> Any:
    """The register, opened without the plugin; at the end, with the plugin, its ducts are what they were."""
    with ducts.with_ducts():
        before = newest(fibrebook.open(where))
    kept = duct_files(where, fibrebook.open(where)._store.log.state(2).segments["ducts"].values())
    with ducts.without():
        yield fibrebook.open(where)
    with ducts.with_ducts():
        again = fibrebook.open(where)
        assert newest(again) == before
        assert again.verify().empty
        assert again.undeclared() == []
        drums = {row["site"] + "/" + row["cable"]: row["drum"] for row in again.arrow("cables").to_pylist()}
        assert drums.pop("Mill/C9", "Mill/C2") == "Mill/C2"  # relabelled, its drum went with it
        assert all(cable == drum for cable, drum in drums.items()) and len(drums) > 1
        assert not rules.check(again.tables())
        put(again, "ducts", site="Mill", duct="D9", a_location="hall")
        assert len(newest(again)) == len(before) + 1
    assert kept.items() <= duct_files(where).items()


def later(reg: fibrebook.Register) -> fibrebook.Register:
    """The same register as somebody sees it who opens it now."""
    return fibrebook.open(reg.where)


def test_it_opens_and_answers_everything_else(reg: fibrebook.Register) -> None:
    """Tables, cores, analyses, history, differences, log, verify: as ever; what is left out can be asked for."""
    assert reg.undeclared() == ["ducts", "cables.drum"] and "ducts" not in reg.tables()
    assert reg.table("cables")["cable"].tolist() == ["C1", "C2", "C1", "C2"]
    assert len(fibrebook.cross_reference(reg)) == 48 and len(fibrebook.spare(reg)) and fibrebook.advice(reg) is not None
    assert reg.verify().empty
    assert reg.log()["tables"].tolist()[1] == "ducts"
    assert set(reg.history(site="Mill")["table"]) >= {"ducts", "cables"}
    changes = reg.differences(1, 2)
    assert changes[["table", "key", "after"]].values.tolist() == [["ducts", ("Mill", "D2"), 32.5]]
    assert in_words(changes) == ["1 of ducts changed: D2"]
    assert cell_by_cell(changes)["column"].tolist() == ["inside_mm"]


@pytest.mark.parametrize("ask", [
    lambda r: r.table("ducts"), lambda r: r.arrow("ducts"), lambda r: r.tables(names=["ducts"]),
    lambda r: r.history("ducts"), lambda r: put(r, "ducts", site="Mill", duct="D1", inside_mm=1),
    lambda r: r.edit("ab", "x").remove("ducts", [("Mill", "D1")]), lambda r: r.edit("ab", "x").rename("ducts", "Mill", "D1", "D7"),
    lambda r: r.undo(2, "ab", "x"), lambda r: r.undo(1, "ab", "x"),
])  # fmt: skip
def test_what_needs_the_plugin_says_so(reg: fibrebook.Register, ask: Callable[[fibrebook.Register], Any]) -> None:
    """Reading, changing, relabelling, undoing: one error that names the table and what to do; nothing is committed."""
    with pytest.raises(PluginError, match=r"'ducts' belongs to a plugin that is not here; install"):
        ask(reg)
    assert later(reg).commit == 2
    with pytest.raises(NotFoundError, match="no table 'duct'"):
        reg.table("duct")


def test_commits_merges_and_undo_leave_it_alone(reg: fibrebook.Register) -> None:
    """Forty commits, checkpoints among them, a merge, a conflict, an undo, a new site: its files stay as they are."""
    for n in range(40):
        put(reg, "cables", site="Mill", cable="C1", length_m=n)
    base = reg.commit
    put(reg, "cables", site="Mill", cable="C1", notes="mine")
    with reg.edit("ef", "other cell", base=base) as edit:
        edit.put("cables", [{"site": "Mill", "cable": "C1", "route": "roof"}])
    with pytest.raises(ConflictError) as error, reg.edit("ef", "same cell", base=base) as edit:
        edit.put("cables", [{"site": "Mill", "cable": "C1", "notes": "theirs"}])
    reg.pending_resolve(error.value.pending, "mine")
    reg.undo(reg.commit, "ab", "back")
    put(reg, "sites", site="Shed")
    with reg.edit("ab", "gone") as edit:
        edit.remove("sites", ["Shed"])
    assert later(reg).undeclared() == ["ducts", "cables.drum"] and reg.commit == 48


TAKEN = {
    "a location": lambda e: e.remove("locations", [("Mill", "loft")]),
    "a cable": lambda e: e.remove("cables", [("Mill", "C1")]),
    "a location relabelled": lambda e: e.rename("locations", "Mill", "hall", "Great hall"),
    "a cable relabelled": lambda e: e.rename("cables", "Mill", "C1", "C9"),
    "a cable's cores": lambda e: e.put("cables", [{"site": "Mill", "cable": "C1", "core_count": 4}]),
    "the site": lambda e: [e.remove(t, list(keys)) for t, keys in {
        "enclosures": [("Mill", "P1"), ("Mill", "P2")], "cables": [("Mill", "C1"), ("Mill", "C2")],
        "locations": [("Mill", p) for p in ("hall", "loft", "yard")], "sites": ["Mill"]}.items()],
    "the site relabelled": lambda e: e.rename("sites", "Mill", "Mill", "Old mill"),
}  # fmt: skip
FREE = {
    "a place that no duct names": lambda e: e.remove("locations", [("Mill", "yard")]),
    "a cable that no duct names": lambda e: e.remove("cables", [("Mill", "C2")]),
    "its label": lambda e: e.rename("cables", "Mill", "C2", "C9"),
    "its cores": lambda e: e.put("cables", [{"site": "Mill", "cable": "C2", "core_count": 4}]),
    "more cores": lambda e: e.put("cables", [{"site": "Mill", "cable": "C1", "core_count": 24}]),
    "an enclosure": lambda e: e.rename("enclosures", "Mill", "P1", "Panel"),
}


@pytest.mark.parametrize("name", list(TAKEN))
def test_what_a_row_of_it_may_name_is_not_taken_away(reg: fibrebook.Register, name: str) -> None:
    """Removing or relabelling what a duct names would leave the duct in the air: refused, with the record named."""
    with (
        pytest.raises(RuleError, match="cannot be taken away or relabelled here") as error,
        reg.edit("ab", name) as edit,
    ):
        for table in ("enclosures",) if "location" in name else ():
            edit.put(table, [{"site": "Mill", "enclosure": e, "location": None} for e in ("P1", "P2")])
        TAKEN[name](edit)
    assert "plugin is not here" in str(error.value) and error.value.problems[0].key[0] == "Mill"
    assert reg.commit == 2


@pytest.mark.parametrize("name", list(FREE))
def test_what_no_row_of_it_names_goes_as_ever(reg: fibrebook.Register, name: str) -> None:
    """Records that no duct can mean are removed and relabelled without the plugin."""
    with reg.edit("ab", name) as edit:
        FREE[name](edit)
    assert reg.commit == 3


def test_tidy_keeps_its_files(reg: fibrebook.Register) -> None:
    """Giving up old states touches no file that the newest state needs, whatever the table."""
    for n in range(3):
        put(reg, "sites", site="Mill", notes=str(n))
    done = reg.tidy(0, "ab", "room")
    assert done.given_up
    assert later(reg).verify().empty


def test_mend_works_a_lost_file_out_again(where: Path, tmp_path: Path) -> None:
    """A damaged segment comes back from the history to the last bit, and so do the rows of a history file."""
    with ducts.with_ducts():
        before = newest(fibrebook.open(where))
    with ducts.without():
        held = {p: p.read_bytes() for folder in ("tables/ducts", "changes") for p in (where / folder).iterdir()}
        for path, data in held.items():
            path.write_bytes(data[:-4] + b"spoilt")
            assert len(fibrebook.open(where).verify()) == 1
            done = mend_place(where, "ab", "mended")
            assert [m.ok for m in done] == [True], done
            assert path.parent.name == "changes" or path.read_bytes() == data
            assert fibrebook.open(where).verify().empty
        one = next((where / "tables/ducts").iterdir())
        shutil.copytree(where, tmp_path / "backup")
        one.unlink()
        assert all(m.ok for m in mend_place(where, "ab", "mended", tmp_path / "backup"))
        for path in (where / "tables/ducts").iterdir():
            path.unlink()
        lost = mend_place(where, "ab", "mended")
        assert lost and not all(m.ok for m in lost)
        assert all(m.ok for m in mend_place(where, "ab", "mended", tmp_path / "backup"))
    with ducts.with_ducts():
        assert newest(fibrebook.open(where)) == before


@pytest.mark.parametrize("site", [None, ["Mill"]], ids=["whole", "one site"])
def test_copies_carry_it_and_come_back(reg: fibrebook.Register, tmp_path: Path, site: list[str] | None) -> None:
    """A copy taken without the plugin holds the ducts of its sites; what else was changed in it comes back."""
    copy = reg.take_away(tmp_path / "van", site)
    assert copy.undeclared() == ["ducts", "cables.drum"] and copy.verify().empty
    put(copy, "cables", site="Mill", cable="C1", notes="wet")
    assert reg.bring_back(copy.where, "ab", "back") == 3
    assert reg.table("cables", "Mill")["notes"].tolist()[0] == "wet"
    with ducts.with_ducts():
        there = newest(fibrebook.open(copy.where))
        assert there == [r for r in newest(later(reg)) if site is None or r["site"] in site]
        assert "owner" in there[0]
        here, van = later(reg), fibrebook.open(copy.where)
        put(van, "ducts", site="Mill", duct="D1", notes="from the van")
        shutil.copytree(here.where, tmp_path / "second")
        second = fibrebook.open(tmp_path / "second")
        assert second.bring_back(van.where, "ab", "back") == 4
        assert newest(second)[2]["notes"] == "from the van" and len(newest(second)) == 4


def test_a_copy_in_which_it_was_changed_waits_for_the_plugin(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Bringing it back would lose the ducts' changes, so it is refused whole, and done where the plugin is."""
    copy = reg.take_away(tmp_path / "van")
    put(copy, "cables", site="Mill", cable="C1", notes="wet")
    with ducts.with_ducts():
        put(fibrebook.open(copy.where), "ducts", site="Mill", duct="D1", notes="full of water")
    for ask in (lambda: reg.bring_back(copy.where, "ab", "back"), lambda: reg.bring_back_preview(copy.where)):
        with pytest.raises(PluginError, match="commit 4 of the copy cannot be brought back"):
            ask()
    assert later(reg).commit == 2
    with ducts.with_ducts():
        shutil.copytree(reg.where, tmp_path / "second")
        second = fibrebook.open(tmp_path / "second")
        assert second.bring_back(copy.where, "ab", "back") == 4
        assert newest(second)[2]["notes"] == "full of water"


def test_a_copy_that_takes_away_what_it_names_is_not_brought(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Where the copy removed a location before the register's duct came to name it, bringing back is refused whole."""
    copy = reg.take_away(tmp_path / "van")
    put(copy, "cables", site="Mill", cable="C1", notes="wet")
    with copy.edit("cd", "gone") as edit:
        edit.remove("cables", [("Mill", "C2")])
    with ducts.with_ducts():
        here = later(reg)
        shutil.copytree(here.where, tmp_path / "second")
        put(fibrebook.open(tmp_path / "second"), "ducts", site="Mill", duct="D2", cable="C2")
    second = fibrebook.open(tmp_path / "second")
    with pytest.raises(ConflictError, match="cannot stand") as error:
        second.bring_back(copy.where, "ab", "back")
    assert error.value.problems[0].key == ("Mill", "C2")
    assert second.commit == 3


def test_without_personal_data_it_is_left_out_whole(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Nobody here knows which of its columns are personal: a copy and a publishing lack it, and say so."""
    with pytest.warns(RegisterWarning, match="left out whole: 'ducts', 'cables.drum'"):
        copy = reg.take_away(tmp_path / "van", personal=False)
    assert not any(b"neighbour" in p.read_bytes() for p in (tmp_path / "van").rglob("*") if p.is_file())
    assert copy.undeclared() == []
    put(copy, "cables", site="Mill", cable="C1", notes="wet")
    assert reg.bring_back(copy.where, "ab", "back") == 3
    with pytest.warns(RegisterWarning, match="left out whole: 'ducts', 'cables.drum'"):
        written = reg.publish(tmp_path / "plain", personal=False)
    assert "ducts" not in [p.stem for p in written]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert [p.stem for p in reg.publish(tmp_path / "all")] == [*KINDS, "ducts"]
    assert pq.read_table(tmp_path / "all" / "ducts.parquet")["owner"].to_pylist().count("neighbour") == 2
    with ducts.with_ducts():
        van = fibrebook.open(copy.where)
        put(van, "ducts", site="Mill", duct="D5", a_location="yard")
        shutil.copytree(reg.where, tmp_path / "second")
        second = fibrebook.open(tmp_path / "second")
        second.bring_back(van.where, "ab", "back")
        assert [r["duct"] for r in newest(second)] == ["D1", "D2", "D1", "D2", "D5"]


def test_a_workbook_says_that_it_is_left_out(reg: fibrebook.Register, tmp_path: Path) -> None:
    """The first sheet names the table; the rest comes back as ever; a sheet of its name is refused in words."""
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    book = load_workbook(path)
    assert "ducts" not in book.sheetnames
    told = {row[0].value: row[1].value for row in book["about"].iter_rows()}
    assert told["left out"].endswith("ducts, cables.drum.")
    head = [c.value for c in book["cables"][1]]
    book["cables"].cell(2, head.index("notes") + 1).value = "seen"
    book.save(path)
    assert fibrebook.bring_in(reg, path, by="ef", why="seen").commit == 3
    sheet = book.create_sheet("ducts")
    sheet.append(["site", "duct"])
    sheet.append(["Mill", "D1"])
    book.save(path)
    with pytest.raises(BringInError) as error:
        fibrebook.bring_in(reg, path, by="ef", why="ducts")
    assert "belongs to a plugin that is not here" in error.value.problems[0].what
    other = Workbook()
    other.active.title = "locations"
    other.active.append(["site", "location", "remove"])
    other.active.append(["Mill", "loft", "yes"])
    other.save(tmp_path / "gone.xlsx")
    report = fibrebook.bring_in(reg, tmp_path / "gone.xlsx", by="ef", why="gone", dry_run=True)
    assert not report.ok and reg.commit == 3


def test_redaction_waits_for_the_plugin(reg: fibrebook.Register) -> None:
    """All personal data of a site cannot be promised to be gone while a table of it is not understood; named columns can."""
    with pytest.raises(PluginError, match=r"personal data cannot all be taken out.*'ducts'"):
        reg.redact("ab", "asked", site="Mill")
    assert reg.redact("ab", "asked", site="Mill", columns=["sites.contact"]).replaced
    assert later(reg).verify().empty


def test_a_kept_edit_of_it_waits(where: Path) -> None:
    """An edit of ducts that met a conflict stays listed without the plugin, cannot be decided, and is decided with it."""
    with ducts.with_ducts():
        reg = fibrebook.open(where)
        put(reg, "ducts", site="Mill", duct="D1", inside_mm=60)
        with pytest.raises(ConflictError) as error, reg.edit("ef", "same cell", base=2) as edit:
            edit.put("ducts", [{"site": "Mill", "duct": "D1", "inside_mm": 70}])
    with ducts.without():
        reg = fibrebook.open(where)
        assert reg.pending()["name"].tolist() == [error.value.pending]
        for ask in (reg.pending_conflicts, reg.pending_resolve):
            with pytest.raises(PluginError, match="'ducts'"):
                ask(error.value.pending)
        assert 2 not in reg.tidy(0, "ab", "room").given_up
    with ducts.with_ducts():
        reg = fibrebook.open(where)
        reg.pending_resolve(error.value.pending, "mine")
        assert newest(reg)[2]["inside_mm"] == 70


def test_saves_side_by_side_wait_for_the_plugin(where: Path, tmp_path: Path) -> None:
    """Of two people's saves laid together the one that changed ducts stays set aside until it can be merged."""
    other = tmp_path / "other"
    shutil.copytree(where, other)
    with ducts.with_ducts():
        put(fibrebook.open(other), "ducts", "cd", site="Mill", duct="D1", inside_mm=70)
        for n in range(2):
            put(fibrebook.open(where), "cables", "ab", site="Mill", cable="C1", length_m=n)
    for path in other.rglob("*.parquet"):
        shutil.copy(path, where / path.relative_to(other))
    shutil.copy(other / "commits/00000003.json", where / "commits/00000003 (copy of CD).json")
    with ducts.without():
        done = mend_place(where, "ab", "both")
        assert [m.ok for m in done if "side by side" in m.what] == [False], done
        assert len(list((where / "aside").iterdir())) == 1
        reg = fibrebook.open(where)
        assert reg.commit == 4
        put(reg, "sites", site="Mill", notes="meanwhile")
        for path in where.rglob("*"):
            if path.is_file():
                os.utime(path, (time.time() - 9e5,) * 2)
        reg.tidy(0, "ab", "room")  # which must not take the waiting commit's files for leftovers
    with ducts.with_ducts():
        assert all(m.ok for m in mend_place(where, "ab", "now")), done
        reg = fibrebook.open(where)
        assert newest(reg)[2]["inside_mm"] == 70 and reg.table("cables", "Mill")["length_m"].tolist()[0] == 1
        assert reg.verify().empty and reg.log()["by"].tolist()[-1] == "cd"


def test_an_older_format_is_upgraded_around_it(reg: fibrebook.Register, monkeypatch: pytest.MonkeyPatch) -> None:
    """The commit that writes every table in today's format leaves the files of this one as they are."""
    from fibrebook.register.store import formats, state, witness

    known = state.FORMAT
    for name, module in list(sys.modules.items()):
        if name.startswith("fibrebook.register") and getattr(module, "FORMAT", None) == known:
            monkeypatch.setattr(module, "FORMAT", known + 1)
    monkeypatch.setitem(formats.STEPS, known, lambda kind, table: table)
    now = later(reg)
    assert put(now, "sites", site="Mill", notes="new") == 4
    assert now.log()["what"].tolist()[-2:] == ["upgrade", "edit"]
    assert now.undeclared() == ["ducts", "cables.drum"]
    said = now._store.log.commit(3)
    assert "ducts" not in said["segments"] and "cables" in said["segments"]
    with ducts.with_ducts():
        assert len(newest(fibrebook.open(now.where))) == 4
    for path in [p for n in (3, 4) for p in Path(reg.where).glob(f"c*/0000000{n}*")]:
        path.unlink()  # for the look at the end, in today's real format
    witness.forget(now._store.log)


def test_screens_work_without_it(reg: fibrebook.Register) -> None:
    """The forms of our own kinds, the visit and the history, with the commit that changed ducts, are shown."""
    from fibrebook import screens
    from fibrebook.screens.records.history import changes_of

    screens.form("cables", reg)
    with pytest.raises(NotFoundError, match="no table 'ducts'"):
        screens.form("ducts", reg)
    screen = screens.history(reg)
    assert "Ducts" not in screen.kind.options
    assert changes_of(reg, 2)["record"].tolist() == ["Mill / D2"]
    screen.chosen, screen.by.value = 2, "ab"
    screen.ask()
    screen.guard(lambda: screen.undo("no"))
    assert "plugin that is not here" in screen._message.value


def test_another_version_of_the_plugin(where: Path) -> None:
    """A column that the plugin now lacks, another type, another key: an error that speaks of the plugin, nothing lost."""
    with ducts.with_ducts():
        declared = KINDS["ducts"]
        before = newest(fibrebook.open(where))
    names = {c.name: c for c in declared.columns}
    less = [c for c in declared.columns if c.name != "owner"]
    other_type = [Column("inside_mm", "date", "When.") if c.name == "inside_mm" else c for c in declared.columns]
    keys = [names["site"], names["duct"], Column("part", "label", "Part.", required=True), *declared.columns[2:]]
    for columns, key in ((less, declared.key), (other_type, declared.key), (keys, ("site", "duct", "part"))):
        with ducts.without():
            kind = Kind("ducts", "duct", "Ducts.", tuple(columns), key)
            give = staticmethod(plugins.hookimpl(lambda kind=kind: [kind]))
            give.__func__.__name__ = "record_kinds"
            plugins.manager().register(type("Firm", (), {"record_kinds": give})(), name="a firm's")
            with pytest.raises(FormatError, match="plugin"):
                fibrebook.open(where).table("ducts")
            assert len(fibrebook.open(where).table("cables")) == 4
    more = (*declared.columns, Column("depth_m", "number", "How deep.", unit="m"))
    with ducts.without():
        kind = Kind("ducts", "duct", "Ducts.", more, declared.key)
        give = staticmethod(plugins.hookimpl(lambda: [kind]))
        give.__func__.__name__ = "record_kinds"
        plugins.manager().register(type("Firm", (), {"record_kinds": give})(), name="a firm's")
        assert newest(fibrebook.open(where)) == [{**r, "depth_m": None} for r in before]


# --- any change without the plugin -----------------------------------------------------------------------------------
PITS = Kind(
    "pits", "pit", "A pit, naming records of every sort.",
    (Column("site", "label", "Site.", required=True), Column("pit", "label", "Pit.", required=True),
     Column("location", "label", "Location."), Column("cable", "label", "Cable."), Column("core", "integer", "Core."),
     Column("at", "label", "At."), Column("port", "label", "Port."), Column("position", "text", "Position."),
     Column("device", "label", "Device."), Column("interface", "label", "Interface."), Column("panel", "label", "Panel.")),
    ("site", "pit"),
    links=(Link(("location",), ("locations",)), Link(("cable", "core"), ("cores",)),
           Link(("at", "port", "position"), ("ports", "interfaces")), Link(("device", "interface"), ("interfaces",)),
           Link(("panel",), ("enclosures", "equipment"))),
)  # fmt: skip
PLUGS = [("P1", "1", "A"), ("P1", "1", "B"), ("P2", "1", ""), ("E1", "1", "Tx"), ("E1", "1", "Rx"), ("E1", "2", "Tx")]
KEYS = {
    "locations": [("hall",), ("loft",)], "cables": [("C1",), ("C2",)], "enclosures": [("P1",), ("P2",)],
    "ports": PLUGS[:3], "equipment": [("E1",)], "interfaces": PLUGS[3:],
}  # fmt: skip
A_PIT = st.fixed_dictionaries({}, optional={
    "location": st.sampled_from(["hall", "loft"]), "core": st.sampled_from([("C1", 4), ("C1", 12), ("C2", 1)]),
    "plug": st.sampled_from(PLUGS), "face": st.sampled_from([("E1", "1"), ("E1", "2")]),
    "panel": st.sampled_from(["P1", "P2", "E1"]),
})  # fmt: skip
A_CHANGE = st.tuples(
    st.sampled_from(["remove", "rename", "cut", "swap"]), st.sampled_from([(t, k) for t in KEYS for k in KEYS[t]])
)


def _row(n: int, pit: dict[str, Any]) -> dict[str, Any]:
    cable, core = pit.get("core", (None, None))
    at, port, position = pit.get("plug", (None, None, None))
    device, face = pit.get("face", (None, None))
    return {"site": "S", "pit": str(n), "location": pit.get("location"), "cable": cable, "core": core, "at": at,
            "port": port, "position": position, "device": device, "interface": face, "panel": pit.get("panel")}  # fmt: skip


def _plug_pits() -> None:
    give = staticmethod(plugins.hookimpl(lambda: [PITS]))
    give.__func__.__name__ = "record_kinds"
    plugins.manager().register(type("Firm", (), {"record_kinds": give})(), name="a firm's")


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(st.lists(A_PIT, min_size=1, max_size=3), st.lists(A_CHANGE, min_size=1, max_size=5))
@example([{"face": ("E1", "2")}], [("remove", ("interfaces", ("E1", "2", "Tx")))])
@example([{"plug": ("P1", "1", "A")}], [("remove", ("ports", ("P1", "1", "A")))])
@example([{"core": ("C1", 12)}], [("cut", ("cables", ("C1",)))])
def test_whatever_is_done_without_it_its_links_still_lead_somewhere(
    tmp_path_factory: pytest.TempPathFactory, pits: list[dict[str, Any]], changes: list[Any]
) -> None:
    """Any removals and relabellings are refused or harmless: with the plugin back every hard rule holds, no row differs."""
    where = tmp_path_factory.mktemp("any") / "register"
    with ducts.without():
        _plug_pits()
        reg = fibrebook.create(where)
        with reg.edit("ab", "set up") as edit:
            edit.put("sites", [{"site": "S"}])
            for table, keys in KEYS.items():
                names = KINDS[table].own_key
                more = {"core_count": 12} if table == "cables" else {}
                edit.put(table, [{"site": "S", **dict(zip(names, k, strict=True)), **more} for k in keys])
            edit.put("pits", [_row(n, p) for n, p in enumerate(pits)])
        before = reg.arrow("pits").to_pylist()
    with ducts.without():
        reg = fibrebook.open(where)
        for how, (table, key) in changes:
            try:
                with reg.edit("ab", how) as edit:
                    if how == "remove":
                        edit.remove(table, [("S", *key)])
                    elif how == "rename":
                        edit.rename(table, "S", key[:2], (*key[:2][:-1], f"{key[:2][-1]}x"))
                    elif how == "cut" and table == "cables":
                        edit.put(
                            "cables",
                            [{"site": "S", "cable": key[0], "core_count": random.Random(len(changes)).randint(1, 12)}],
                        )
                    elif how == "swap":  # another record under the same first labels
                        edit.remove(table, [("S", *key)])
                        edit.put(table, [dict(zip(KINDS[table].key, ("S", *key[:-1], "new"), strict=True))])
            except fibrebook.FibrebookError:
                pass
    with ducts.without():
        _plug_pits()
        reg = fibrebook.open(where)
        assert reg.arrow("pits").to_pylist() == before
        assert rules.check(reg.tables()) == []
