"""The history by index: the answers of the changes themselves, whatever becomes of the index."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from long_life import grow, long_lived, unflushed

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.commits import history
from fibrebook.register.commits.history_index import INDEX, TAIL, HistoryIndex, part_named
from fibrebook.register.proof.signatures import NOTHING_SIGNED
from fibrebook.register.row_files.written import to_parquet
from fibrebook.register.store.keys import make_key
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import digest


@pytest.fixture(scope="module")
def hundreds(tmp_path_factory):
    """A register of 150 commits with its index, which no test changes."""
    where = long_lived(tmp_path_factory.mktemp("hundreds") / "r", 150).where
    open(where).history()
    return where


@pytest.fixture
def reg(hundreds, tmp_path):
    """A copy of it."""
    return unflushed(open(shutil.copytree(hundreds, tmp_path / "r")))


def index_of(reg):
    """The files of a register's index."""
    return sorted((Path(reg.where) / "index").glob("*"))


SEEN = {}  # changes files read before, by digest: they never change


def changes_of(log, number):
    """The changes of one commit; what was taken out of them since is not remembered."""
    content = log.commit(number)
    known = (content["changes"]["sha256"], len(list(log.replacing())))
    if known not in SEEN:
        SEEN[known] = history.read_changes(log, content)
    return content, SEEN[known]


def from_changes(reg, kind=None, key=None, site=None):
    """The history as the changes tell it, commit by commit and row by row, without any index."""
    log = Log(reg._store.blobs)
    found = history.to_history_frame(changes_of(log, n) for n in range(1, reg.commit + 1))
    wanted = history.wanted_key(None if kind is None else reg._store.kind(kind), key)
    places = [(reg._store.kind(kind).key.index(n), v) for n, v in wanted.items()]
    sites = [r["site"] for n in range(1, reg.commit + 1) for r in changes_of(log, n)[1].to_pylist()]
    keep = [
        (kind is None or t == kind) and (site is None or s == site) and all(k[at] == v for at, v in places)
        for t, s, k in zip(found["table"], sites, found["key"], strict=True)
    ]
    return found[keep].reset_index(drop=True)


QUESTIONS = (
    {}, {"site": "S3"}, {"kind": "sites"}, {"kind": "sites", "key": "S7"}, {"kind": "sites", "key": {"site": "S1"}},
    {"kind": "cables"}, {"kind": "cables", "key": ("S1", "C1")}, {"kind": "cables", "key": "C1"}, {"site": "none"},
    {"kind": "cables", "key": "C", "site": "S1"}, {"kind": "splices", "key": ("S1", 'P"1', "1")},
)  # fmt: skip


def same_answers(reg):
    """Every question gets the answer of the changes, from a register just opened and from one long open."""
    for handle in (open(reg.where), reg):
        for asked in QUESTIONS:
            found, expected = handle.history(**asked), from_changes(handle, **asked)
            assert found.equals(expected) or len(found) == len(expected) == 0, asked
            assert list(found.dtypes) == list(expected.dtypes) or not len(found)


def worked(reg, n):
    """Commits of several tables and sites: labels with quotes, slashes, letters beyond ASCII; undone and removed."""
    for i in range(n):
        with reg.edit("ab", f"work {i}") as edit:
            edit.put("sites", [{"site": f"S{i % 3}", "notes": f"work {i}"}])
            edit.put("enclosures", [{"site": f"S{i % 3}", "enclosure": e} for e in ('P"1', "Höhe/2")])
            edit.put("cables", [{"site": f"S{i % 3}", "cable": "C1", "core_count": 4, "length_m": 10.0 + i, "a_enclosure": 'P"1', "b_enclosure": "Höhe/2"}])  # fmt: skip
            edit.put("splices", [{"site": f"S{i % 3}", "enclosure": 'P"1', "tray": "1", "slot": str(i % 2 + 1), "a_cable": "C1", "a_core": i % 2 + 1, "b_cable": "C1", "b_core": i % 2 + 3, "loss_db": i / 100}])  # fmt: skip
    return reg


def test_history_by_index_is_the_history(reg):
    """With a whole index, with one carried on, and at earlier commits: each answer is what the changes say."""
    same_answers(reg)
    with reg.edit("ab", "more") as edit:
        edit.put("sites", [{"site": "S3", "notes": None, "name": 'Mill "3"'}, {"site": "ny/å", "name": "New"}])
    same_answers(reg)
    grow(reg, TAIL + 1)
    assert len(index_of(reg)) == 1
    same_answers(reg)
    assert [part_named(p.name).last for p in index_of(reg)] == [150, 152 + TAIL]
    then = open(reg.where, at=80)
    assert then.history().equals(from_changes(then)) and then.history().commit.max() == 80


def test_history_of_every_kind_of_record_by_index(tmp_path):
    """Rows of many tables, keys of several parts, additions, changes and removals, at any length of the index."""
    reg = create(tmp_path / "r")
    worked(reg, 5)
    reg.undo(5, "ab", "back")
    same_answers(reg)
    assert not index_of(reg)
    HistoryIndex(reg._store.log).carry_on(0)
    same_answers(reg)
    worked(reg, 4)
    same_answers(reg)
    HistoryIndex(reg._store.log).carry_on(0)
    assert index_of(reg) and len(reg.verify()) == 0
    same_answers(reg)


@pytest.mark.long
def test_there_are_few_parts_and_each_commit_goes_into_few(tmp_path, monkeypatch):
    """Carried on at every 65 commits, 500 commits make at most log2 parts, and a commit is written log2 times."""
    reg = long_lived(tmp_path / "r", 1)
    written = []
    real = HistoryIndex._write
    monkeypatch.setattr(HistoryIndex, "_write", lambda s, a, b, rows: (written.append(b - a + 1), real(s, a, b, rows)))
    for _ in range(8):
        grow(reg, TAIL + 1)
        HistoryIndex(reg._store.log).carry_on()
        assert len(index_of(reg)) <= 6
    assert sum(written) <= 6 * reg.commit and same_answers(reg) is None


def test_the_history_of_a_record_reads_few_files(reg, monkeypatch):
    """However many commits there are, one record's past is read from the index and the commits since."""
    read = []
    real = type(reg._store.blobs).read
    monkeypatch.setattr(type(reg._store.blobs), "read", lambda s, path: (read.append(path), real(s, path))[1])
    assert len(open(reg.where).history("sites", "S3")) == 15
    assert len(read) <= 6, read
    read.clear()
    open(reg.where).log(last=20)
    assert len(read) <= 21


def cut(data):
    """Half of it."""
    return data[: len(data) // 2]


def flipped(data):
    """One bit turned in the middle."""
    return data[: len(data) // 2] + bytes([data[len(data) // 2] ^ 4]) + data[len(data) // 2 + 1 :]


@pytest.mark.parametrize(
    "harm",
    [
        flipped,
        lambda d: b"",
        *(pytest.param(f, marks=pytest.mark.long) for f in (cut, lambda d: d + b"x", lambda d: b"PAR1" * 9)),
    ],
)
def test_a_damaged_index_never_gives_a_wrong_answer(reg, harm):
    """Cut, flipped, emptied, lengthened: the answers stay, verify names the file, the next question makes it anew."""
    (path,) = index_of(reg)
    path.write_bytes(harm(path.read_bytes()))
    read_only = open(reg.where, read_only=True)
    assert read_only.history(site="S3").equals(from_changes(reg, site="S3"))
    found = open(reg.where).verify()
    assert found.file.tolist() == [f"index/{path.name}"] and "told without it" in found.what[0]
    same_answers(reg)
    assert len(open(reg.where).verify()) == 0


def test_mend_and_tidy_put_a_damaged_index_right(reg):
    """Mend removes it, tidy makes it anew; nothing else is touched."""
    (path,) = index_of(reg)
    whole = path.read_bytes()
    for right in (lambda: reg.mend("ab", "x"), lambda: reg.tidy(10_000, "ab", "x")):
        path.write_bytes(flipped(whole))
        right()
        assert len(open(reg.where).verify()) == 0 and open(reg.where).commit == 150
    assert path.read_bytes() == whole
    same_answers(reg)


def test_an_index_that_tells_otherwise_is_named_by_verify(reg):
    """Somebody writes an index whose digest fits and whose rows do not: verify holds it against the changes."""
    (path,) = index_of(reg)
    part = part_named(path.name)
    rows = pq.read_table(path, schema=INDEX).slice(1)
    data = to_parquet(rows)
    path.unlink()
    path.with_name(path.name.replace(part.proof, digest(data)[:32])).write_bytes(data)
    assert "does not say what the changes say" in open(reg.where).verify().what[0]
    reg.tidy(10_000, "ab", "x")
    same_answers(open(reg.where))
    assert len(open(reg.where).verify()) == 0


def test_with_a_key_nobody_without_it_can_make_an_index(reg, tmp_path, monkeypatch):
    """With a key in use an index made without it is not used; without the key one made with it is not used either."""
    (path,) = index_of(reg)
    monkeypatch.setenv("FIBREBOOK_KEY", str(make_key(tmp_path / "key")))
    assert HistoryIndex(reg._store.log).parts() == []
    same_answers(reg)
    (own,) = index_of(reg)
    assert own.name != path.name and open(reg.where).verify().what.tolist() == [NOTHING_SIGNED]
    assert len(HistoryIndex(reg._store.log).parts()) == 1
    monkeypatch.delenv("FIBREBOOK_KEY")
    assert HistoryIndex(open(reg.where)._store.log).parts() == []
    same_answers(reg)


def test_an_index_of_another_history_is_not_used(reg, tmp_path):
    """The index of a register that went another way, laid into this one, changes no answer and is named."""
    other = long_lived(tmp_path / "other", 130)
    other.history()
    (own,) = index_of(reg)
    own.unlink()
    (strange,) = index_of(other)
    shutil.copy(strange, own.parent)
    assert "another history" in open(reg.where).verify().what[0]
    same_answers(reg)
    assert [p.name for p in index_of(reg)] == [own.name]


def test_a_register_that_may_not_be_written_to_answers(reg):
    """Opened read-only or without rights to write, the history is told and no index is made."""
    for path in index_of(reg):
        path.unlink()
    assert open(reg.where, read_only=True).history(site="S3").equals(from_changes(reg, site="S3"))
    assert not index_of(reg)
    reg._store.blobs.create = refused
    assert reg.history(site="S3").equals(from_changes(reg, site="S3")) and not index_of(reg)


def refused(path, data):
    """A place without rights to write."""
    raise PermissionError(13, "Permission denied", path)


def test_a_redaction_reaches_the_index(reg):
    """What was taken out stands in no part of the index; one laid back is not used, and verify names it."""
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S3", "contact": "gatekeeper"}])
    grow(reg, TAIL + 1)
    assert "gatekeeper" in reg.history(site="S3").after.tolist()
    kept = {p.name: p.read_bytes() for p in index_of(reg)}
    reg.redact("ab", "asked", site="S3")
    assert not index_of(reg)
    for name, data in kept.items():
        (Path(reg.where) / "index" / name).write_bytes(data)
    now = open(reg.where, read_only=True)
    assert "gatekeeper" not in now.history(site="S3").after.tolist()
    assert set(now.verify().file) == {f"index/{n}" for n in kept}
    same_answers(open(reg.where))
    assert all("gatekeeper" not in pq.read_table(p, schema=INDEX)["after"].to_pylist() for p in index_of(reg))
    assert len(open(reg.where).verify()) == 0


def test_damaged_changes_are_told_and_leave_the_other_answers(reg):
    """A changes file that cannot be read: no index is made over it, records that it does not concern are answered."""
    for path in index_of(reg):
        path.unlink()
    next((Path(reg.where) / "changes").glob("00000044-*")).write_bytes(b"x")
    fresh = open(reg.where)
    assert len(fresh.history("sites", "S3")) == 15 and not index_of(reg)
    with pytest.raises(errors.DamagedError, match="changes/00000044"):
        fresh.history("sites", "S4")
    assert fresh.verify().file.tolist()[0].startswith("changes/00000044-")


def test_writers_and_readers_at_once_make_no_wrong_answer(reg):
    """One grows, one asks, one throws the index away at random: each answer is what the changes say."""
    rng = random.Random(5)
    other = unflushed(open(reg.where))
    for _ in range(6):
        grow(reg, rng.randint(1, 90))
        if rng.random() < 0.4:
            rng.choice([*index_of(reg), Path("none")]).unlink(missing_ok=True)
        assert other.history("sites", "S3").equals(from_changes(other, "sites", "S3"))
        assert reg.history(site="S5").equals(from_changes(reg, site="S5"))
    assert len(open(reg.where).verify()) == 0


def test_an_empty_part_of_the_history_is_fine(tmp_path):
    """Commits that change no record, and a register without any commit, have an index too, or none."""
    reg = create(tmp_path / "r")
    assert len(reg.history()) == 0 and HistoryIndex(reg._store.log).carry_on(0) is False
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S1"}])
    HistoryIndex(reg._store.log).carry_on(0)
    assert isinstance(pq.read_table(index_of(reg)[0]), pa.Table) and len(reg.history()) == 1
