"""A register that has lived for years: thousands of commits, and what is asked of it stays right."""

from __future__ import annotations

import datetime as dt
import math
import shutil
import time
from collections import Counter
from pathlib import Path

import long_life
import pytest
from long_life import BEGAN, HOURS_APART, long_lived, unflushed

from fibrebook import errors
from fibrebook.analyses.spare.growth import spare_growth
from fibrebook.register import open
from fibrebook.register.care import packing, tidy
from fibrebook.register.store.lifetimes import lifetimes

APART = dt.timedelta(hours=HOURS_APART)


@pytest.fixture(scope="module")
def thousand(tmp_path_factory):
    """A register of 1,000 commits, which no test changes."""
    return long_lived(tmp_path_factory.mktemp("thousand") / "r", 1000).where


def copied(thousand, tmp_path):
    """A copy of it, to be changed."""
    return unflushed(open(shutil.copytree(thousand, tmp_path / "r")))


def notes(reg):
    """What each site notes."""
    return reg.table("sites").set_index("site").notes.to_dict()


def expected(number, sites=10):
    """What each site notes after so many commits of `long_lived`."""
    return {f"S{n % sites}": f"note {n}" for n in range(max(number - sites, 0) + 1, number + 1)}


def lying_in(root):
    """The files of a register by where they lie: how many in each folder at its top."""
    return Counter(p.relative_to(root).parts[0] for p in Path(root).rglob("*") if p.is_file())


def check_tidied(reg, commits, keep_days):
    """Tidy, and hold every promise of it: what is kept opens as it was, what is given up is said so, no more."""
    told, log = reg.history(), reg.log()
    done = tidy.tidy(reg._store, keep_days, "ab", "room", grace_s=0)
    now = open(reg.where)
    assert len(now.verify()) == 0 and notes(now) == expected(commits)
    blocks = max(commits - packing.LOOSE, 0) // packing.EACH
    assert lying_in(reg.where)["packs"] == 2 * blocks and done.packed == 2 * blocks * packing.EACH
    check_looking_back(reg.where, commits, told, log)
    first = max(done.first_whole, 1)
    assert done.given_up == ([] if done.commit is None else list(range(1, max(done.given_up) + 1)))
    assert max(done.given_up, default=0) < max(first - 1, 1)
    for at in {first, (first + commits) // 2, commits}:
        assert notes(open(reg.where, at=at)) == expected(at)
        assert notes(open(reg.where, at=(BEGAN + at * APART).isoformat())) == expected(at)
    day = (BEGAN + commits * APART).date() - dt.timedelta(days=1)
    last = next(n for n in range(commits, -1, -1) if n == 0 or (BEGAN + n * APART).date() <= day)
    assert open(reg.where, at=day).commit == last
    for at in {*done.given_up[:2], *done.given_up[-2:]}:
        with pytest.raises(errors.NotFoundError, match="tidied away"):
            open(reg.where, at=at).table("sites")
    return done


def check_looking_back(where, commits, told, log):
    """The whole history and log are what they were; that of one record, one site and the last hundred is part of them."""
    assert open(where).history().equals(told) and open(where).log().iloc[:commits].equals(log)
    for site in ("S1", "S5"):
        own = told[told.key == (site,)].reset_index(drop=True)
        assert len(own) == len(range(int(site[1]), commits + 1, 10))
        for found in (open(where).history("sites", site), open(where).history(site=site)):
            assert found.equals(own) or len(found) == len(own) == 0
    last = open(where).log(last=100)
    assert last.commit.tolist() == list(range(open(where).commit + 1))[1:][-100:]
    shared = last[last.commit <= commits].reset_index(drop=True)
    assert shared.equals(log.iloc[commits - len(shared) :].reset_index(drop=True))


@pytest.mark.parametrize("commits", [1, 2, 65, 66, 67, 200])
def test_tidy_of_registers_of_every_age(tmp_path, commits):
    """Tidying works at any number of commits: also where more states are walked through than are kept in memory."""
    done = check_tidied(long_lived(tmp_path / "r", commits), commits, 0)
    assert (done.commit is not None) == (commits > 12)  # the last two states hold the notes of twelve commits at most


@pytest.mark.long
def test_tidy_of_a_thousand_commits(thousand, tmp_path):
    """A hundred days of 250 are kept; what went before is given up, its history is not."""
    done = check_tidied(copied(thousand, tmp_path), 1000, 100)
    assert done.first_whole == 600 and len(done.given_up) == 598 and done.files == 589


@pytest.mark.long
def test_twenty_thousand_commits(tmp_path, record_property):
    """The same at the age that a firm's register comes to: few files, and every answer as it was; seconds are told."""
    reg = long_lived(tmp_path / "r", 20_000)
    lay = lying_in(reg.where)
    seconds = {"tidy": 0.0}
    with pytest.MonkeyPatch.context() as patch:
        real = tidy.tidy

        def timed(*args, **more):
            """Tidy, and note how long it took."""
            return taken(seconds, "tidy", lambda: real(*args, **more))

        patch.setattr(tidy, "tidy", timed)
        done = check_tidied(reg, 20_000, 365)
    assert done.first_whole == 18_540
    now = lying_in(reg.where)
    assert sum(lay.values()) > 60_000 and sum(now.values()) < 3_000 and now["packs"] == 2 * ((20_000 - 64) // 512)
    for name, ask in {
        "verify": lambda: open(reg.where).verify(),
        "history of all": lambda: open(reg.where).history(),
        "history of a record": lambda: open(reg.where).history("sites", "S3"),
        "history of a site": lambda: open(reg.where).history(site="S3"),
        "log of all": lambda: open(reg.where).log(),
        "log of the last hundred": lambda: open(reg.where).log(last=100),
        "open at a day": lambda: open(reg.where, at=BEGAN.date() + dt.timedelta(days=4800)).sites(),
        "open": lambda: open(reg.where).sites(),
    }.items():
        for _ in range(1 if name in ("verify", "log of all", "history of all") else 9):
            taken(seconds, name, ask)
    for name, least in seconds.items():
        record_property(name, least)
        print(f"{name:<26} {least:9.3f} s")


def taken(seconds, name, work):
    """Do some work; note the seconds that it took, where it was never quicker."""
    start = time.perf_counter()
    result = work()
    seconds[name] = min(seconds.get(name) or math.inf, time.perf_counter() - start)
    return result


@pytest.mark.parametrize(
    ("keep_days", "basis", "first"), [(10_000, "commits", 2006), (800, "commits", 2009), (99, "dates", 0)]
)
def test_growth_is_told_from_the_years_that_are_kept(tmp_path, monkeypatch, keep_days, basis, first):
    """A year whose states were tidied away is left out; where fewer than two are left, today's records are asked."""
    monkeypatch.setattr(long_life, "HOURS_APART", 20 * 24)
    reg = long_lived(tmp_path / "r", 100)  # to June 2011
    reg.tidy(keep_days, "ab", "room")
    told = spare_growth(open(reg.where), today=dt.date(2011, 6, 1))
    assert set(told.basis) == {basis} and len(told) == 10
    since = {day.year for day in told.from_on.dropna()} if first else set()
    assert since == ({first} if first else set())


@pytest.mark.parametrize(
    "asked",
    [
        [80, 3, 64, 65, 3],
        range(200, 0, -1),
        *(pytest.param(a, marks=pytest.mark.long) for a in ([1, 2, 3], range(1, 201))),
    ],
)
def test_any_state_can_be_asked_for_in_any_order(tmp_path, asked):
    """The state asked for is the one given, whatever was asked for before and however often."""
    reg = long_lived(tmp_path / "r", 200)
    for number in [*range(1, 201), *asked, *asked]:
        state = reg._store.log.state(number)
        assert state.commit == number and len(state.sites) == min(number, 10)
        assert state.files().keys() == open(reg.where)._store.log.state(number).files().keys()


def test_lifetimes_are_what_the_states_say(tmp_path):
    """By one walk: each file's first and last commit, also across removal, undo, redaction and checkpoints."""
    reg = long_lived(tmp_path / "r", 60)
    with reg.edit("ab", "gone") as edit:
        edit.remove("sites", "S3")
    reg.undo(61, "ab", "back")
    with reg.edit("ab", "secret") as edit:
        edit.put("sites", [{"site": "S4", "contact": "gatekeeper"}])
    reg.redact("ab", "asked", site="S4")
    grow_more(reg)
    held = {}
    for number in range(1, reg.commit + 1):
        for file in open(reg.where)._store.log.state(number).files():
            held.setdefault(file, set()).add(number)
    spans = {}
    for span in lifetimes(reg._store.log, reg.commit):
        spans.setdefault(span.ref.file, set()).update(range(span.first, span.last + 1))
    assert spans == held


def grow_more(reg):
    """Commits after upkeep, up to the next checkpoint and past it."""
    for n in range(40):
        with reg.edit("ab", f"later {n}") as edit:
            edit.put("sites", [{"site": f"S{n % 10}", "notes": f"later {n % 3}"}])


def test_tidying_reads_each_commit_once(thousand, tmp_path, monkeypatch):
    """The work of tidying grows with the commits and not faster: a state is made once for each of them."""
    from fibrebook.register.store.state import State

    counts = []
    real = State.after
    for commits in (250, 500):
        reg = long_lived(tmp_path / str(commits), commits)
        made = []
        monkeypatch.setattr(State, "after", lambda s, c, m=made: (m.append(c["commit"]), real(s, c))[1])
        reg.tidy(20, "ab", "room")
        counts.append(len(made))
        monkeypatch.undo()
    assert counts[1] < 2.2 * counts[0] and counts[1] < 2 * 500


def test_verify_reads_each_file_once_and_parses_changes_once(thousand, tmp_path, monkeypatch):
    """However much is looked at (digests, rows, the index), each file of the past is read once and parsed once."""
    from fibrebook.register.commits import history

    reg = copied(thousand, tmp_path)
    reg.history()
    read, parsed = [], []
    real, as_changes = type(reg._store.blobs).read, history.as_changes
    monkeypatch.setattr(type(reg._store.blobs), "read", lambda s, path: (read.append(path), real(s, path))[1])
    for module in ("fibrebook.register.care.verify", "fibrebook.register.commits.history"):
        monkeypatch.setattr(f"{module}.as_changes", lambda d, p: (parsed.append(p), as_changes(d, p))[1])
    assert len(open(reg.where).verify()) == 0
    again = {p for p in read if read.count(p) > 1 and p.startswith(("changes/", "commits/"))}
    assert len(parsed) == len(set(parsed)) == 1000 and not again - {f"commits/{n:08d}.json" for n in range(992, 1001)}
