"""A register that has lived for years: thousands of commits, and what is asked of it stays right."""

from __future__ import annotations

import shutil

import pytest
from long_life import long_lived, unflushed

from fibrebook import errors
from fibrebook.register import open
from fibrebook.register.store.lifetimes import lifetimes


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


def check_tidied(reg, commits, keep_days):
    """Tidy, and hold every promise of it: what is kept opens as it was, what is given up is said so, no more."""
    told = reg.history()
    done = reg.tidy(keep_days, "ab", "room")
    now = open(reg.where)
    assert len(now.verify()) == 0 and now.history().equals(told) and notes(now) == expected(commits)
    first = max(done.first_whole, 1)
    assert done.given_up == ([] if done.commit is None else list(range(1, max(done.given_up) + 1)))
    assert max(done.given_up, default=0) < max(first - 1, 1)
    for at in {first, (first + commits) // 2, commits}:
        assert notes(open(reg.where, at=at)) == expected(at)
    for at in {*done.given_up[:2], *done.given_up[-2:]}:
        with pytest.raises(errors.NotFoundError, match="tidied away"):
            open(reg.where, at=at).table("sites")
    return done


@pytest.mark.parametrize("commits", [1, 2, 65, 66, 67, 200])
def test_tidy_of_registers_of_every_age(tmp_path, commits):
    """Tidying works at any number of commits: also where more states are walked through than are kept in memory."""
    done = check_tidied(long_lived(tmp_path / "r", commits), commits, 0)
    assert (done.commit is not None) == (commits > 12)  # the last two states hold the notes of twelve commits at most


def test_tidy_of_a_thousand_commits(thousand, tmp_path):
    """A hundred days of 250 are kept; what went before is given up, its history is not."""
    done = check_tidied(copied(thousand, tmp_path), 1000, 100)
    assert done.first_whole == 600 and len(done.given_up) == 598 and done.files == 589


@pytest.mark.long
def test_tidy_of_twenty_thousand_commits(tmp_path):
    """The same at the age that a firm's register comes to."""
    done = check_tidied(long_lived(tmp_path / "r", 20_000), 20_000, 365)
    assert done.first_whole == 18_540


@pytest.mark.parametrize("asked", [[1, 2, 3], [80, 3, 64, 65, 3], range(200, 0, -1), range(1, 201)])
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
