"""The register as it was on a day, though clocks go wrong: times that rise, and what may be asked for."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.commits import writing
from fibrebook.register.store.commit_times import commit_at, rising_time, rising_times
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import commit_path, digest_checked, utc_text, with_digest

START = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)


def made_at(where, monkeypatch, *times):
    """Make a register of one commit for each time that a clock shows."""
    reg = create(where)
    for number, when in enumerate(times, 1):
        monkeypatch.setattr(writing, "utc_text", lambda w=when: utc_text(w))
        with reg.edit("ab", "change") as edit:
            edit.put("sites", [{"site": "S1", "name": f"name {number}"}])
    monkeypatch.undo()
    return reg


def days(*numbers):
    """Return noon of some days of March 2026."""
    return [START + dt.timedelta(days=n - 1) for n in numbers]


def test_one_slow_clock_makes_no_day_wrong(tmp_path, monkeypatch):
    """Commits 5 and 6 bear the first of the month again; every day still means what was there on its evening."""
    reg = made_at(tmp_path / "r", monkeypatch, *days(2, 3, 4, 6, 1, 1, 8, 9))
    asked = {1: 0, 2: 1, 3: 2, 4: 3, 5: 3, 6: 6, 7: 6, 8: 7, 9: 8, 31: 8}
    assert {d: open(reg.where, at=dt.date(2026, 3, d)).commit for d in asked} == asked
    assert {d: open(reg.where, at=f"2026-03-{d:02d}").commit for d in asked} == asked
    assert open(reg.where, at="2026-03-05").table("sites").name[0] == "name 3"


def test_before_the_first_commit_it_is_empty(tmp_path, monkeypatch):
    """A day or time before the first commit, or commit 0, opens the empty register."""
    reg = made_at(tmp_path / "r", monkeypatch, *days(5, 6))
    for at in (0, "0", "2026-03-04", dt.date(1, 1, 1), dt.datetime(2026, 3, 5, 11, 59, 59)):
        early = open(reg.where, at=at)
        assert early.commit == 0 and early.sites() == [] and early.committed_utc == ""


def test_times_with_and_without_a_zone(tmp_path, monkeypatch):
    """A time without a zone is UTC, one with a zone is that moment; a day ends as it ends in UTC."""
    reg = made_at(tmp_path / "r", monkeypatch, *days(5, 6))  # each at 12:00 UTC
    ahead = dt.timezone(dt.timedelta(hours=10))
    for at, commit in (
        ("2026-03-05T11:59:59.999", 0), ("2026-03-05T12:00", 1), ("2026-03-05 12:00", 1),
        ("2026-03-05T21:59+10:00", 0), ("2026-03-05T22:00+10:00", 1), ("2026-03-05T12:00Z", 1),
        ("2026-03-06T07:59-04:00", 1), ("2026-03-06T08:00-04:00", 2),
        (dt.datetime(2026, 3, 6, 22, tzinfo=ahead), 2), (dt.datetime(2026, 3, 6, 21, 59, tzinfo=ahead), 1),
        (pd.Timestamp("2026-03-06 12:00"), 2), (pd.Timestamp("2026-03-06 21:59", tz=ahead), 1),
        (" 2026-03-05 ", 1), (np.int64(1), 1), ("1", 1), (" 2 ", 2), (2, 2),
    ):  # fmt: skip
        assert open(reg.where, at=at).commit == commit, at


NONSENSE = [
    True, False, 1.5, float("nan"), "", " ", "yesterday", "1.5", "²", "-1", "2026-02-30", "2026-3-5", "9" * 5000, b"1",
    [1], (1, 2), {}, pd.NaT, np.float64(2), np.bool_(True), dt.time(12), dt.timedelta(days=1), object(),
    dt.datetime.min.replace(tzinfo=dt.timezone(dt.timedelta(hours=10))),
]  # fmt: skip


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """A register of one commit."""
    reg = create(tmp_path_factory.mktemp("one") / "r")
    with reg.edit("ab", "change") as edit:
        edit.put("sites", [{"site": "S1"}])
    return reg


@pytest.mark.parametrize("at", NONSENSE, ids=lambda at: f"{type(at).__name__} {str(at)[:20]}")
def test_nonsense_is_refused_in_words(one, at):
    """What is no number, day or time is an InputError that says what to write, wherever a commit may be named."""
    reg = one
    with pytest.raises(errors.InputError, match="is no commit and no time; write"):
        open(reg.where, at=at)
    with pytest.raises(errors.InputError, match="is no commit"):
        reg.differences(at)
    with pytest.raises(errors.InputError, match="is no commit"):
        reg.undo(at, "ab", "back")
    with pytest.raises(errors.InputError, match="is no commit"):
        reg.edit("ab", "x", base=at)
    for number in (2, -1, np.int64(-1), 10**12):
        with pytest.raises(errors.NotFoundError, match="there is no commit"):
            open(reg.where, at=number)


def plain_answer(times, limit):
    """Return the commit of a moment by its meaning alone: all up to the first that a clock puts later."""
    return next((n for n, when in enumerate(times) if when > limit), len(times))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(0, 12), min_size=1, max_size=9),
    st.integers(0, 12),
    st.sets(st.integers(1, 9)),
)
def test_any_clocks_and_files_of_before(hours, asked, older):
    """Whatever clocks said, and whether or not a commit bears its rising time, a moment means the same commit."""
    times = [START + dt.timedelta(hours=h) for h in hours]
    blobs = FewCommits(times, older)
    limit = START + dt.timedelta(hours=asked)
    assert commit_at(Log(blobs), limit) == plain_answer(times, limit)
    log = Log(blobs)
    rising = rising_times(log, len(times))
    assert [rising_time(Log(blobs), n) for n in range(1, len(times) + 1)] == rising == sorted(rising)


class FewCommits:
    """Commit files of some times; those in `older` lack the rising time, as files of an earlier fibrebook do."""

    where = "here"

    def __init__(self, times, older):
        self.files, latest = {}, times[0]
        for number, when in enumerate(times, 1):
            latest = max(latest, when)
            more = {} if number in older else {"rising_utc": utc_text(latest)}
            body = {
                "format": 1, "commit": number, "time_utc": utc_text(when), "by": "ab", "why": "x", "what": "edit",
                "based_on": 0, "previous_digest": "", "segments": {}, "sites": {},
                "changes": {"file": "changes/x.parquet", "sha256": "0" * 64, "rows": 0, "tables": [], "sites": []}, **more,
            }  # fmt: skip
            self.files[commit_path(number)] = with_digest(body)

    def list(self, folder):
        """Return the names of the commit files."""
        return [p.partition("/")[2] for p in self.files]

    def exists(self, path):
        """Tell whether there is such a file."""
        return path in self.files

    def read(self, path):
        """Return a file's bytes."""
        return self.files[path]


def test_a_day_is_found_by_few_files(tmp_path):
    """Among 4,000 commits a day is found by reading at most 13 of them."""
    times = [START + dt.timedelta(hours=n) for n in range(4000)]
    blobs = FewCommits(times, set())
    read: list[str] = []
    plain = blobs.read
    blobs.read = lambda path: read.append(path) or plain(path)
    assert commit_at(Log(blobs), START + dt.timedelta(hours=1234.5)) == 1235
    assert len(read) <= 13


def test_an_altered_rising_time_is_found(tmp_path, monkeypatch):
    """verify works rising times out again from what the clocks said."""
    reg = made_at(tmp_path / "r", monkeypatch, *days(5, 6))
    path = Path(reg.where) / commit_path(2)
    assert json.loads(path.read_bytes())["rising_utc"] == "2026-03-06T12:00:00.000Z" and len(reg.verify()) == 0
    monkeypatch.setenv("FIBREBOOK_WITNESS", str(tmp_path / "another machine"))  # that never saw what stood there before
    path.write_bytes(with_digest({**digest_checked(path.read_bytes()), "rising_utc": "2026-03-04T12:00:00.000Z"}))
    assert open(reg.where).verify().what.tolist() == ["bears a time that is not that of the commits before it"]
