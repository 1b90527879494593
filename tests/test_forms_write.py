"""What the writing screens do, without a browser: forms of any kind, a day's work, joints, cords, readings, drafts."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook.analyses.advice.situation import advice_words
from fibrebook.errors import ConflictError, InputError
from fibrebook.records import KINDS
from fibrebook.reference.colours import read_colour
from fibrebook.screens.frame import drafts
from fibrebook.screens.frame.changes_told import in_words
from fibrebook.screens.recording.rows.cords import CROSSED, cord_rows, next_cord, polarity_words, sockets
from fibrebook.screens.recording.rows.joints import BY_COLOUR, PIGTAILS, cable_ends, propose, ways_on
from fibrebook.screens.recording.rows.joints_made import joints_of
from fibrebook.screens.recording.rows.losses import loss_of
from fibrebook.screens.recording.rows.panels import port_rows
from fibrebook.screens.recording.rows.readings import next_labels, readings_of, wavelengths_of
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.model import FormModel

_spec = importlib.util.spec_from_file_location("work", Path(__file__).parent / "browser" / "work.py")
assert _spec and _spec.loader
work = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(work)


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """The small register of the browser tests."""
    return work.make_small(tmp_path / "register")


@pytest.fixture(autouse=True)
def _own_drafts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))


def day_of(reg: fibrebook.Register) -> Day:
    """A day at the mill."""
    return Day(reg, "Mill", by="CD", on="2026-11-20", done="spliced")


def ticked(proposal: Any, **more: Any) -> list[dict[str, Any]]:
    """The values of a grid in which everything free is ticked."""
    return [{"made": True, "to": r["to"], "loss_db": "", "note": r["note"], **more} for r in proposal.rows]


def splice_all(day: Day, **more: Any) -> Any:
    """Splice C1 to C2 straight through in J1, put it into the day, return the proposal."""
    tables = day.tables()
    end = cable_ends(tables, "J1")[0]
    found = propose(tables, day.cores(tables), "Mill", "J1", end, "C2")
    put, faults = joints_of(found, ticked(found, **more), "1", "fusion", day.on, day.by)
    assert not faults
    day.keep("tray", "splices", put)
    return found


def make_off_both(day: Day) -> None:
    """Make all cores off on the panels at both ends."""
    for panel in ("P1", "P2"):
        tables = day.tables()
        found = propose(tables, day.cores(tables), "Mill", panel, cable_ends(tables, panel)[0], PIGTAILS)
        day.keep(panel, panel, joints_of(found, ticked(found), "", "spliced pigtail", day.on, day.by)[0])


# --- forms -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_record_has_a_form(reg: fibrebook.Register, kind: str) -> None:
    """Fields, titles and needs come from the declaration; an empty form says what is missing."""
    model = FormModel.of(kind, {**reg.tables(), "cores": reg.cores()}, "Mill")
    assert {c.name for c in model.columns} == set(KINDS[kind].names) - ({"site"} if kind != "sites" else set())
    needed = {c.name for c in model.columns if c.required}
    assert needed <= set(model.faults())


def test_choices_follow_the_links(reg: fibrebook.Register) -> None:
    """A termination's port is chosen among the enclosure's, its core among the cable's."""
    model = FormModel.of("terminations", {**reg.tables("Mill"), "cores": reg.cores("Mill")}, "Mill")
    assert model.choices("enclosure") == ["P1", "P2"]
    model.values.update(enclosure="P2", cable="C2")
    assert model.choices("port") == ["1", "2", "3", "4", "5", "6"]
    assert model.choices("core")[-1] == "12"


def test_a_wrong_value_is_told_in_words_at_its_field(reg: fibrebook.Register) -> None:
    """A word for a number, a name that is not there, a label used already: each at its column."""
    model = FormModel.of("cables", reg.tables("Mill"), "Mill")
    model.values.update(cable="C1", core_count="twelve", a_enclosure="P9", length_m="-3")
    faults = model.faults()
    assert "no whole number" in faults["core_count"] and "out of range" in faults["length_m"]
    assert "no enclosure P9" in faults["a_enclosure"]
    model.values.update(core_count="12", a_enclosure="P1", length_m="")
    assert "already" in model.faults()["cable"]


def test_a_changed_record_tells_what_changes(reg: fibrebook.Register) -> None:
    """Before and after by title; nothing else."""
    model = FormModel.of("cables", reg.tables("Mill"), "Mill")
    model.load(("Mill", "C1"))
    model.values["length_m"] = "121.5"
    assert model.changes() == [("Length (m)", "120", "121.5")] and model.faults() == {}


# --- the day ---------------------------------------------------------------------------------------------------------
def test_splicing_straight_through_makes_twelve_splices(reg: fibrebook.Register) -> None:
    """Ticked rows become splices with slots in order; one save is one commit with the visit's own row."""
    day = day_of(reg)
    splice_all(day, loss_db="0,05 dB")
    assert any("12 splices new" in line for line in in_words(day.preview()))
    before = reg.commit
    assert day.save() == before + 1
    splices = reg.table("splices", "Mill")
    assert splices["slot"].tolist() == [str(n) for n in range(1, 13)]
    assert (splices["a_core"] == splices["b_core"]).all() and set(splices["loss_db"]) == {0.05}
    assert set(splices["loss_basis"]) == {"estimated"} and set(splices["made_by"]) == {"CD"}
    assert reg.table("visits", "Mill")["visit"].tolist() == ["2026-11-20"]


def test_by_colour_joins_what_looks_alike(reg: fibrebook.Register) -> None:
    """A cable in another colour code is joined colour to colour, not number to number."""
    with reg.edit("AB", "other code") as edit:
        edit.put("cables", {"site": "Mill", "cable": "C2", "core_count": 12, "colour_code": "IEC 60304"})
    day = day_of(reg)
    tables = day.tables()
    cores = day.cores(tables)
    found = propose(tables, cores, "Mill", "J1", cable_ends(tables, "J1")[0], "C2", BY_COLOUR)
    colour = {(c["cable"], str(c["core"])): c["core_colour"] for c in cores.to_pylist()}
    pairs = [(colour["C1", str(r["core"])], colour["C2", r["to"]]) for r in found.rows if r["to"]]
    assert len(pairs) == 12 and all(read_colour(a) == read_colour(b) for a, b in pairs), pairs
    assert any(r["to"] != str(r["core"]) for r in found.rows if r["to"])


def test_pigtails_go_to_the_free_ports_in_order(reg: fibrebook.Register) -> None:
    """Core 1 to port 1 A, core 2 to port 1 B; a port given twice or taken is told in its row, the others stand."""
    day = day_of(reg)
    tables = day.tables()
    end = cable_ends(tables, "P1")[0]
    assert ways_on(tables, "P1", end)[0][1] == PIGTAILS
    found = propose(tables, day.cores(tables), "Mill", "P1", end, PIGTAILS)
    assert [r["to"] for r in found.rows[:3]] == ["1 A", "1 B", "2 A"]
    values = ticked(found)
    values[3]["to"], values[4]["to"], values[5]["loss_db"] = "2 A", "99", "lots"
    put, faults = joints_of(found, values, "", "spliced pigtail", day.on, day.by)
    assert {(i, c) for i, c, _ in faults} == {(3, "to"), (4, "to"), (5, "loss_db")}
    assert "given to core 3 already" in faults[0][2] and len(put["terminations"]) == 9


def test_a_tray_without_a_tick_makes_no_joint(reg: fibrebook.Register) -> None:
    """The last tick taken away again, nothing is made; a note on a core alone is a note."""
    day = day_of(reg)
    tables = day.tables()
    found = propose(tables, day.cores(tables), "Mill", "J1", cable_ends(tables, "J1")[0], "C2")
    assert joints_of(found, ticked(found, made=False), "1", "fusion", day.on, day.by) == ({}, [])
    values = ticked(found, made=False)
    values[2]["note"] = "bent"
    note = {"site": "Mill", "cable": "C1", "core": 3, "notes": "bent"}
    assert joints_of(found, values, "1", "fusion", day.on, day.by) == ({"cores": [note]}, [])


def test_a_joint_that_stands_only_has_its_loss_mended(reg: fibrebook.Register) -> None:
    """After the save the rows are there already; another loss changes that record and no other."""
    day = day_of(reg)
    splice_all(day)
    day.save()
    day = day_of(reg)
    tables = day.tables()
    found = propose(tables, day.cores(tables), "Mill", "J1", cable_ends(tables, "J1")[0], "C2")
    assert all(r["there"] for r in found.rows)
    values = ticked(found)
    values[3]["loss_db"] = "0.31"
    put, _ = joints_of(found, values, "1", "fusion", day.on, day.by)
    assert [r["slot"] for r in put["splices"]] == ["4"]
    day.keep("tray", "mended", put)
    day.save()
    assert reg.table("splices", "Mill")["loss_db"].dropna().tolist() == [0.31]


def test_advice_that_a_visit_causes_is_told_before_it_is_saved(reg: fibrebook.Register) -> None:
    """Two cores that change places at the far panel are worth a second look, and said so beforehand."""
    day = day_of(reg)
    new = {"site": "Mill", "cable": "C3", "core_count": 12, "a_enclosure": "P1", "b_enclosure": "P2"}
    day.keep("form", "cable C3", {"cables": [new]})
    for panel, first in (("P1", ("1 A", "1 B")), ("P2", ("1 B", "1 A"))):
        tables = day.tables()
        end = next(e for e in cable_ends(tables, panel) if e.cable == "C3")
        found = propose(tables, day.cores(tables), "Mill", panel, end, PIGTAILS)
        values = ticked(found)
        values[0]["to"], values[1]["to"] = first
        day.keep(panel, panel, joints_of(found, values, "", "spliced pigtail", day.on, day.by)[0])
    caused, _ = day.advice()
    assert "colour order differs" in {a.check for a in caused}
    assert any("check both trays" in line.casefold() for line in advice_words(caused))
    assert reg.table("terminations", "Mill").empty


def test_two_who_changed_the_same_are_told_and_nothing_is_lost(reg: fibrebook.Register) -> None:
    """The second save meets a conflict; both values are kept and either can be chosen."""
    day = day_of(reg)
    day.keep("form", "cable C1", {"cables": [{"site": "Mill", "cable": "C1", "length_m": 130}]})
    with reg.edit("EF", "measured") as edit:
        edit.put("cables", {"site": "Mill", "cable": "C1", "length_m": 125})
    with pytest.raises(ConflictError) as caught:
        day.save()
    name = caught.value.pending
    assert reg.pending()["name"].tolist() == [name]
    reg.pending_resolve(name, ["mine"])
    assert reg.table("cables", "Mill")["length_m"].tolist()[0] == 130


def test_initials_that_are_typed_on_reach_every_part(reg: fibrebook.Register) -> None:
    """A part kept after the first letter bears the whole initials in the end; another's stay theirs."""
    day = Day(reg, "Mill", by="C", on="2026-11-20")
    row = {"site": "Mill", "enclosure": "J1", "loss_db": "0.05"}
    day.keep("tray J1 C1", "two splices", {"splices": [row | {"made_by": "C"}, row | {"made_by": "TB"}]})
    day.keep("snags", "a snag", {"snags": [{"site": "Mill", "snag": "S1", "what": "C", "done_by": "C"}]})
    day.sign("CD")
    assert [r["made_by"] for r in day.parts["tray J1 C1"].put["splices"]] == ["CD", "TB"]
    assert day.parts["snags"].put["snags"][0]["done_by"] == "CD" == day.by
    assert day.parts["snags"].put["snags"][0]["what"] == "C"


def test_a_day_without_site_or_initials_is_refused(reg: fibrebook.Register) -> None:
    """Who and where are asked for in words."""
    with pytest.raises(InputError, match="site"):
        Day(reg).save()
    with pytest.raises(InputError, match="initials"):
        Day(reg, "Mill").save()


def test_a_day_goes_into_a_draft_and_back(reg: fibrebook.Register) -> None:
    """As plain values, base and all."""
    day = day_of(reg)
    splice_all(day)
    again = Day.from_json(reg, json.loads(json.dumps(day.as_json())))
    assert again.as_json() == day.as_json() and again.rows() == day.rows()


# --- cords, ports, readings ------------------------------------------------------------------------------------------
def test_a_duplex_cord_is_two_strands_turned_over(reg: fibrebook.Register) -> None:
    """A usual cord joins A to B and B to A, a crossed one A to A; its light is told."""
    tables = reg.tables("Mill")
    usual = cord_rows(tables, "Mill", next_cord(tables), "SW1 / 1", "P1 / 1")
    assert [(r["a_position"], r["b_position"]) for r in usual] == [("Tx", "B"), ("Rx", "A")]
    crossed = cord_rows(tables, "Mill", "PC-001", "SW1 / 1", "P1 / 1", CROSSED)
    assert [(r["a_position"], r["b_position"]) for r in crossed] == [("Tx", "A"), ("Rx", "B")]
    with pytest.raises(InputError, match="no port"):
        cord_rows(tables, "Mill", "X", "SW1 / 9", "P1 / 1")


def test_polarity_is_told_over_the_whole_path(reg: fibrebook.Register) -> None:
    """With everything joined, a wrong cord at the far end is told as transmit meeting transmit."""
    day = day_of(reg)
    splice_all(day)
    make_off_both(day)
    day.keep("cord", "cord", {"patches": cord_rows(day.tables(), "Mill", "PC-001", "SW1 / 1", "P1 / 1")})
    tables = day.tables()
    right = cord_rows(tables, "Mill", "PC-002", "SW2 / 1", "P2 / 1", CROSSED)
    wrong = cord_rows(tables, "Mill", "PC-002", "SW2 / 1", "P2 / 1")
    assert all("transmit reaches receive" in x for x in polarity_words(day.seen_with("patches", right).network, right))
    assert all("WRONG" in x for x in polarity_words(day.seen_with("patches", wrong).network, wrong))
    assert sockets(tables)["SW1 / 1"][1] == [] and sockets(tables)["P1 / 1"][1] == []


def test_ports_of_a_panel_in_one_go() -> None:
    """Labels may have letters before the number; a row the wrong way round is refused."""
    assert len(port_rows("S", "P1", "1", "24", duplex=True)) == 48
    assert [r["port"] for r in port_rows("S", "P1", "A9", "A11", duplex=False)] == ["A9", "A10", "A11"]
    for first, last in (("12", "1"), ("A1", "B2"), ("x", "y")):
        with pytest.raises(InputError):
            port_rows("S", "P1", first, last, duplex=True)


def test_readings_become_tests_and_a_wrong_one_is_told(reg: fibrebook.Register) -> None:
    """One row a figure; labels go on as the site writes them; what is no number waits in its cell."""
    tables = reg.tables("Mill")
    values = [{"loss_1310": "0.4", "loss_1550": "0.3", "verdict": "pass"}, {"loss_1310": "O.4"}, {}]
    rows, faults = readings_of(tables, "Mill", "C1", [1, 2, 3], values, "loss test", [1310, 1550], {})
    assert [(r["test"], r["core"], r["wavelength_nm"]) for r in rows] == [("T1", 1, 1310), ("T2", 1, 1550)]
    assert faults[0][:2] == (1, "loss_1310")
    assert wavelengths_of("1310, 1550 nm") == ([1310, 1550], "") and wavelengths_of("red")[1]


@pytest.mark.parametrize(
    ("typed", "read"), [("0,05 dB", "0.05"), (" 0.05", "0.05"), ("−0,02", "-0.02"), ("1.234,5", "1.234,5"), ("", "")]
)
def test_a_pasted_loss_is_freed_of_its_dress(typed: str, read: str) -> None:
    """Unit and decimal comma go; what is ambiguous stays as it is and is refused later."""
    assert loss_of(typed) == read


def test_next_labels_keep_the_sites_way_of_writing(reg: fibrebook.Register) -> None:
    """After S1 comes S2; a site without any begins at 1."""
    assert next_labels(reg.tables("Mill"), 1, "snags", "S") == ["S2"]
    assert next_labels(reg.tables("Farm"), 2, "photos", "F") == ["F1", "F2"]


# --- drafts ----------------------------------------------------------------------------------------------------------
def test_a_draft_is_held_by_its_page_and_not_by_a_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the page is heard of it is another's; once it is not, it waits, whether or not the kernel lives on."""
    code = (
        "import sys\nfrom fibrebook.screens.frame import drafts\nd = drafts.begin('r1', 'try')\nd.save({'n': 1})\n"
        "d.heard()\nprint('kept', flush=True)\nsys.stdin.read()\n"
    )
    other = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ}
    )
    assert other.stdout and other.stdout.readline() == "kept\n"
    assert drafts.waiting("r1", "try") == []
    assert [drafts.page_is_there(path) for path, _ in drafts.kept("r1", "try")] == [True]
    monkeypatch.setattr(drafts, "GONE_S", 0.0)  # so long ago that it is gone; its process is not
    found = drafts.waiting("r1", "try")
    assert [kept["content"] for _, kept in found] == [{"n": 1}]
    assert drafts.waiting("another register", "try") == []
    other.kill()
    other.wait()
    assert len(drafts.waiting("r1", "try")) == 1


def test_a_page_that_says_it_leaves_lets_go_at_once() -> None:
    """Loaded again, a page need not wait until it was not heard of for long enough; neither need an ended kernel."""
    draft = drafts.begin("r1", "try")
    draft.save({"n": 1})
    draft.heard()
    assert drafts.waiting("r1", "try") == []
    draft.let_go()
    assert len(drafts.waiting("r1", "try")) == 1
    draft.heard()  # it came back, and nobody had taken it meanwhile
    assert drafts.waiting("r1", "try") == []
    assert draft.held


def test_a_draft_taken_over_is_no_longer_written_by_the_older_screen() -> None:
    """The younger screen goes on; the older one's late keystroke, save or end does not undo it, and it knows."""
    older = drafts.begin("r1", "try")
    older.save({"n": 1})
    (path, _), *_ = drafts.waiting("r1", "try")
    younger = drafts.take_over(path, "r1", "try")
    younger.save({"n": 2})
    younger.heard()
    older.save({"n": 99})
    older.heard()
    older.let_go()
    older.forget()
    assert not older.held
    assert json.loads(path.read_text())["content"] == {"n": 2}
    assert drafts.waiting("r1", "try") == []
    assert drafts.page_is_there(path)
    younger.forget()
    assert drafts.kept("r1", "try") == []
    assert list(path.parent.iterdir()) == []


def test_what_is_typed_while_a_grid_is_shown_anew_is_kept_or_told() -> None:
    """The same rows shown anew keep what comes late; typed into another list's rows, it is told and not taken in."""
    from fibrebook.screens.widgets.grid import Grid, col

    late: list[str] = []
    grid = Grid(late.append)
    columns = [col("made", "Made", "tick"), col("loss_db", "Loss (dB)", "entry")]
    rows = [{"label": f"core {n}", "cells": {}} for n in (1, 2)]
    blank = [{"made": False, "loss_db": ""} for _ in rows]
    grid.show("C1: none joined", columns, rows, blank, subject="C1")
    grid.typed("C1", 1, [("core 2", "loss_db", "0.05"), ("core 2", "made", True)])
    grid.show("C1: one joined", columns, [{**rows[0], "locked": ["made"]}, rows[1]], grid.values, subject="C1")
    grid.typed("C1", 2, [("core 1", "loss_db", "0.07"), ("core 1", "made", True)])
    assert grid.values == [{"made": False, "loss_db": "0.07"}, {"made": True, "loss_db": "0.05"}] and grid.heard == 2
    painted = grid.painted
    grid.show("C1: one joined", columns, [{**rows[0], "locked": ["made"]}, rows[1]], grid.values, subject="C1")
    assert grid.painted == painted  # nothing new: the page is left alone
    grid.show("C2: none joined", columns, rows, blank, subject="C2")
    grid.typed("C1", 3, [("core 1", "loss_db", "0.09")])
    grid.typed("C2", 4, [("core 9", "loss_db", "0.09")])
    assert grid.values == blank and late == ["C1", "C2"] and grid.heard == 4


def test_a_choice_stays_when_others_save_and_goes_when_its_values_change(reg: fibrebook.Register) -> None:
    """News leaves the conflicts as they are; a choice holds for the values it was made on, no longer."""
    from fibrebook.screens.recording.screen import RecordVisit

    screen = RecordVisit(reg)
    base = reg.commit
    core = {"site": "Mill", "cable": "C1", "core": 3}
    with reg.edit("EF", "office") as edit:
        edit.put("cores", core | {"reserved_for": "pump", "fault_m": 41.5})
    with pytest.raises(ConflictError):
        mine = Day(reg, "Mill", by="CD", base=base)
        mine.parts = _part({"cores": [core | {"reserved_for": "lift", "fault_m": 40}]})
        mine.save()
    screen.watch.refresh()
    screen.conflicts.look()
    grid = screen.conflicts.grid
    assert len(grid.rows) == 2
    grid.typed(grid.subject, 1, [(grid.rows[0]["label"], "choice", "mine")])
    with reg.edit("EF", "elsewhere") as edit:
        edit.put("snags", {"site": "Farm", "snag": "S9", "what": "mud"})
    screen.watch.refresh()
    assert screen.conflicts.grid is grid and grid.choices == ["mine", ""]
    with reg.edit("EF", "again") as edit:
        edit.put("cores", core | {"fault_m": 43.0})
    other = grid.rows[1]["label"]
    screen.conflicts.resolve()  # one has no choice yet
    assert "no choice" in screen.said
    grid.typed(grid.subject, 2, [(other, "choice", "mine")])
    screen.conflicts.resolve()
    kept = dict(zip((r["label"] for r in screen.conflicts.grid.rows), screen.conflicts.grid.choices, strict=True))
    assert "changed again meanwhile" in screen.said and not reg.pending().empty
    assert [side for label, side in kept.items() if "Fault" in label] == [""]
    assert [side for label, side in kept.items() if "Fault" not in label] == ["mine"]


def _part(put: dict[str, Any]) -> dict[str, Any]:
    from fibrebook.screens.recording.visit_draft import DraftPart

    return {"x": DraftPart("x", put)}
