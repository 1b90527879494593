"""A snapshot is made once and looked at by everybody: of a commit, and of what an edit would leave."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from light_plant import duplex, register
from plants import tables_of
from pytest import approx

import fibrebook
from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.errors import NotFoundError, RuleError
from fibrebook.losses.table import LossTable
from fibrebook.plant import Network
from fibrebook.records.references.reference_index import Ends
from fibrebook.register.commits.edit import Edit
from fibrebook.screens.owner.headroom_screen import Headroom
from fibrebook.screens.recording.screen import RecordVisit
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.snapshot.snapshot import PlantSnapshot

pytestmark = pytest.mark.usefixtures("no_loop")

MADE = (Edit, Ends, Network, LossTable)


@pytest.fixture
def made(monkeypatch):
    """How many edits, reference indexes, networks and loss tables were made."""
    count: Counter[str] = Counter()
    for kind in MADE:
        real = kind.__init__

        def counted(self, *given, real=real, kind=kind, **named):
            count[kind.__name__] += 1
            real(self, *given, **named)

        monkeypatch.setattr(kind, "__init__", counted)
    return count


@pytest.fixture(autouse=True)
def drafts_apart(tmp_path, monkeypatch):
    """Drafts of this test only."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def test_one_pause_in_typing_makes_one_of_each(tmp_path, made):
    """A loss typed in a tray: one edit, one reference index, one network, one loss table; changes, faults and advice
    are told from them."""
    plant = duplex(splices=1)
    reg = register(plant, tmp_path / "r")
    (first,) = [r for r in plant.rows["splices"] if r["a_core"] == 1]
    key = {k: first[k] for k in ("site", "enclosure", "tray", "slot")}
    screen = RecordVisit(reg)
    screen.site.value = "S1"
    screen.keep("tray", "J1", {"splices": [key | {"loss_db": 0.05, "loss_basis": "estimated"}]})
    made.clear()
    screen.keep("tray", "J1", {"splices": [key | {"loss_db": 5.0, "loss_basis": "estimated"}]})
    assert made == {"Edit": 1, "Ends": 1, "Network": 1, "LossTable": 1}
    assert "loss hardly possible" in screen.summary.value or "more than half the light" in screen.summary.value
    made.clear()
    screen.day.tables()
    screen.day.cores()
    assert not made  # who looks at what nobody changed makes nothing


def test_a_loss_typed_in_the_tray_s_own_grid_makes_one_of_each(tmp_path, made):
    """From the cell to the summary: the section judges what is typed without looking at the site anew."""
    plant = duplex(splices=1)
    reg = register(plant, tmp_path / "r")
    screen = RecordVisit(reg)
    screen.site.value, screen.by.value = "S1", "CD"
    tray = next(s for s in screen.sections if s.name == "tray").section
    tray.controls["enclosure"].value = plant.rows["splices"][0]["enclosure"]
    tray.controls["all"].value = True
    tray.grid.typed(tray.grid.subject, 1, [("core 1", "loss_db", "0.05")])
    assert screen.day.parts
    made.clear()
    tray.grid.typed(tray.grid.subject, 2, [("core 1", "loss_db", "0.07")])
    assert made == {"Edit": 1, "Ends": 1, "Network": 1, "LossTable": 1}
    assert "0.07" in str(screen.day.rows())


def test_a_visit_looks_at_the_rows_that_a_save_commits(tmp_path):
    """What the day's snapshot tells before the save, the register's tells after it, others' changes included."""
    plant = duplex(splices=1)
    reg = register(plant, tmp_path / "r")
    day = Day(reg, "S1", by="CD", on="2026-01-02", done="spliced")
    (row,) = [r for r in plant.rows["splices"] if r["a_core"] == 1]
    (other,) = [r for r in plant.rows["splices"] if r["a_core"] == 2]
    keys = [{k: r[k] for k in ("site", "enclosure", "tray", "slot")} for r in (row, other)]
    day.keep("tray", "J1", {"splices": [keys[0] | {"loss_db": 0.07, "loss_basis": "measured"}]})
    with reg.edit(by="EM", why="meanwhile") as edit:
        edit.put("splices", [keys[1] | {"loss_db": 0.9, "loss_basis": "measured"}])
    before = headroom_table(day.seen())
    day.save()
    assert str(before.to_pylist()) == str(headroom_table(PlantSnapshot.of(reg, "S1")).to_pylist())
    assert sorted(before["loss_db"].to_pylist()) == approx([2.0 + 0.3 + 0.07, 2.0 + 0.3 + 0.9])


def test_a_day_that_cannot_be_saved_is_shown_as_typed(tmp_path):
    """Where a rule refuses the day, its rows are still seen; the refusal is told when it is asked for."""
    reg = register(duplex(), tmp_path / "r")
    day = Day(reg, "S1", by="CD")
    day.keep("cord", "K9", {"patches": [{"site": "S1", "cord": "K9", "strand": "1", "a_at": "P9", "a_port": "1"}]})
    assert "K9" in day.seen().table("patches")["cord"].to_pylist()
    with pytest.raises(RuleError):
        day.check()


def test_a_snapshot_stays_at_its_commit(tmp_path):
    """What is read late, after somebody else saved, is of the same commit as what was read before."""
    reg = register(duplex(splices=1), tmp_path / "r")
    seen = PlantSnapshot.of(reg, "S1")
    assert seen is PlantSnapshot.of(reg, "S1")
    assert seen.network.ends.n_cores == 16
    with reg.edit(by="EM", why="x") as edit:
        edit.put("snags", [{"site": "S1", "snag": "1", "what": "no label"}])
        edit.put("choices", [{"choice": "margin_db", "value": "2"}])
    assert seen.table("snags").num_rows == 0 and seen.values.margin_db == 0.0
    now = PlantSnapshot.of(reg, "S1")
    assert now.table("snags").num_rows == 1 and now.values.margin_db == 2.0
    with pytest.raises(NotFoundError, match="did you mean 'S1'"):
        PlantSnapshot.of(reg, "S11")


def test_losses_are_not_paid_for_by_who_needs_none(tmp_path, made):
    """A cross reference makes no loss table."""
    reg = register(duplex(), tmp_path / "r")
    made.clear()
    fibrebook.cross_reference(reg, "S1")
    assert made == {"Ends": 1, "Network": 1}


def test_a_firm_s_own_application_is_known_everywhere(tmp_path):
    """An optic of the firm's own is weighed by headroom, offered by the screen and stands in the workbook's list."""
    import openpyxl
    from test_firm_values import SHEET

    reg = register(duplex("shop optic 20 km"), tmp_path / "r", reference_values=SHEET)
    assert fibrebook.headroom(reg)["limit_db"].tolist() == [12.0, 12.0]
    assert "shop optic 20 km" in Headroom(reg).application.options
    fibrebook.send_out(reg, tmp_path / "w.xlsx")
    lists = openpyxl.load_workbook(tmp_path / "w.xlsx")["lists"]
    assert any(cell.value == "shop optic 20 km" for column in lists.iter_cols() for cell in column)
    assert fibrebook.what_if(reg, "S1", "CH1", "shop optic 20 km")["limit_db"].tolist() == [12.0, 12.0]
    assert fibrebook.what_if(reg, "S1", "CH1", "10GBASE-LR")["limit_db"].tolist() == [6.2, 6.2]


@settings(max_examples=8, deadline=None)
@given(st.lists(st.floats(0.0, 1.0).map(lambda x: round(x, 3)), min_size=1, max_size=3))
def test_two_firms_values_never_mix(losses):
    """Snapshots of firms with other values, asked in turn, each tell their own."""
    tables = duplex(splices=1).tables
    own = [
        {"row": "1", "reference_table": "component_losses", "component": "fusion splice", "quantity": "limit",
         "value": db, "unit": "dB", "source": "ours", "basis": "seen"}
        for db in losses
    ]  # fmt: skip
    seen = [
        PlantSnapshot(tables | {"reference_values": tables_of({"reference_values": [row]})["reference_values"]})
        for row in own
    ]
    none = PlantSnapshot(tables)
    for one, db in [*zip(seen, losses, strict=True), *zip(seen, losses, strict=True)]:
        assert headroom_table(none)["loss_db"].to_pylist() == approx([0.2 + 1.5 + 0.9] * 2)
        assert headroom_table(one)["loss_db"].to_pylist() == approx([0.2 + 1.5 + 3 * db] * 2)
