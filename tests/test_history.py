"""What people read about the past, and taking it back."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from fibrebook import errors
from fibrebook.register import create, open


@pytest.fixture
def reg(tmp_path):
    """A register of four commits by two people over two sites."""
    reg = create(tmp_path / "reg")
    with reg.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S1", "name": "Mill"}, {"site": "S2"}])
        edit.put("enclosures", [{"site": "S1", "enclosure": "P1"}, {"site": "S2", "enclosure": "P1", "trays": 2}])
        edit.put("cables", [{"site": "S1", "cable": 7, "a_enclosure": "P1", "core_count": 12,
                             "installed_on": dt.date(2024, 3, 31)}])  # fmt: skip
    with reg.edit("cd", "measured") as edit:
        edit.put("cables", [{"site": "S1", "cable": 7, "length_m": 120.5}])
    with reg.edit("ab", "mend") as edit:
        edit.put("cables", [{"site": "S1", "cable": 7, "length_m": 125, "notes": 'duct "3", łąka'}])
        edit.put("enclosures", [{"site": "S2", "enclosure": "P1", "trays": 4}])
    with reg.edit("ab", "gone") as edit:
        edit.remove("cables", ("S1", 7))
    return reg


def test_history_of_a_record(reg):
    """A record's changes come oldest first, with who, why, before and after, from its making to its removal."""
    h = reg.history("cables", ("S1", "7"))
    length = h[h.column == "length_m"][["commit", "by", "why", "before", "after", "op"]]
    assert length.values.tolist() == [
        [2, "cd", "measured", None, 120.5, "changed"],
        [3, "ab", "mend", 120.5, 125.0, "changed"],
        [4, "ab", "gone", 125.0, None, "removed"],
    ]
    assert h.commit.is_monotonic_increasing and set(h.key) == {("S1", "7")}
    assert h[(h.column == "notes") & (h.commit == 3)].after.tolist() == ['duct "3", łąka']
    assert h[(h.column == "installed_on") & (h.commit == 1)].after.tolist() == ["2024-03-31"]
    assert list(h.columns[:9]) == [
        "commit",
        "time_utc",
        "by",
        "why",
        "table",
        "key",
        "column",
        "before",
        "after",
    ]
    assert str(h.time_utc.dtype).startswith("datetime64") and str(h.time_utc.dt.tz) == "UTC"


@pytest.mark.parametrize(
    ("key", "site"),
    [(("S1", 7), None), (["S1", "7"], None), ({"site": "S1", "cable": 7.0}, None), ({"cable": "7"}, None), ("7", "S1"),
     (7, None)],
)  # fmt: skip
def test_a_key_in_any_dress(reg, key, site):
    """Tuple, list, dict, label with or without the site: the same history."""
    pd.testing.assert_frame_equal(reg.history("cables", key, site), reg.history("cables", ("S1", "7")))


def test_history_by_table_and_site(reg):
    """The history narrows to a table, a site, or both; a row that holds only its key is told as well."""
    assert set(reg.history("enclosures").table) == {"enclosures"}
    assert set(reg.history(site="S2").commit) == {1, 3}
    bare = reg.history("sites", "S2")
    assert len(bare) == 1 and bare.column.isna().all() and bare.op.tolist() == ["added"]
    assert len(reg.history("ports")) == 0 and list(reg.history("ports").columns) == list(reg.history().columns)
    with pytest.raises(errors.InputError):
        reg.history("cables", {"length_m": 3})
    with pytest.raises(errors.NotFoundError):
        reg.history("cabel")


def test_history_at_an_earlier_commit_ends_there(reg):
    """Opened as it was, the register knows nothing of what came after."""
    then = open(reg.where, at=2)
    assert then.history().commit.max() == 2 and then.log().commit.tolist() == [1, 2]


def test_log_lists_commits(reg):
    """One row a commit, with who, why and what it touched."""
    log = reg.log()
    assert log.by.tolist() == ["ab", "cd", "ab", "ab"] and log.what.tolist() == ["edit"] * 4
    assert log.tables.tolist()[2] == "cables, enclosures" and log.based_on.tolist() == [0, 1, 2, 3]


def test_open_at_a_time_or_day(reg):
    """A time opens the commit that stood then; a day means its end; before the first there is nothing."""
    times = reg.log().time_utc
    assert open(reg.where, at=times[1].to_pydatetime()).commit == 2
    assert open(reg.where, at=times[2].isoformat()).commit == 3
    assert open(reg.where, at=times[3].date().isoformat()).commit == 4
    assert open(reg.where, at="2001-01-01").sites() == []
    assert open(reg.where, at="3").commit == 3
    with pytest.raises(errors.InputError, match="no commit and no time"):
        open(reg.where, at="yesterday")


def test_undo_takes_back_one_commit_and_leaves_the_others(reg):
    """The removed cable comes back as it was, by a commit of its own; other commits stand."""
    before = open(reg.where, at=3).table("cables")
    assert reg.undo(4, "ab", "wrong cable") == 5
    pd.testing.assert_frame_equal(reg.table("cables"), before)
    assert reg.log().what.tolist()[-1] == "undo"
    with pytest.raises(errors.InputError, match="nothing of commit 4"):
        reg.undo(4, "ab", "again")
    assert reg.undo(5, "ab", "it was right") == 6 and len(reg.table("cables")) == 0


def test_undo_of_an_older_commit_keeps_later_work(reg):
    """Undoing commit 3 keeps what others changed since in other cells."""
    reg.undo(4, "ab", "back")
    with reg.edit("cd", "later") as edit:
        edit.put("cables", [{"site": "S1", "cable": 7, "route": "roof"}])
    reg.undo(3, "ab", "tape was wrong")
    cable = reg.table("cables").iloc[0]
    assert cable.length_m == 120.5 and pd.isna(cable.notes) and cable.route == "roof"
    assert reg.table("enclosures", "S2").trays.tolist() == [2]


def test_undo_names_the_commit_in_the_way(reg):
    """Where a later commit changed the same, nothing is undone and that commit is named."""
    with pytest.raises(errors.ConflictError, match="commit 4 changed the same"):
        reg.undo(2, "ab", "never measured")
    with reg.edit("cd", "elsewhere") as edit:
        edit.put("enclosures", [{"site": "S2", "enclosure": "P2"}])
    with pytest.raises(errors.ConflictError, match="commit 3 changed the same"):
        reg.undo(1, "ab", "all of it")
    assert reg.commit == 5 and len(reg.pending()) == 0
    with pytest.raises(errors.NotFoundError):
        reg.undo(9, "ab", "no such")
    with pytest.raises(errors.NotFoundError):
        reg.undo(0, "ab", "no such")
