"""History kept for years: tidying, redaction, signatures, differences, upgrades, and what strangers may not see."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care.tidy import tidy
from fibrebook.register.places.where import blobs_for
from fibrebook.register.store import formats, state
from fibrebook.register.store.keys import make_key
from fibrebook.register.store.state import digest_checked, with_digest

pytest_plugins = ["places"]
HERE = Path(__file__).parent


def put(reg, table, by="ab", why="change", **row):
    """Put one row in one commit."""
    with reg.edit(by, why) as edit:
        edit.put(table, [row])
    return edit.commit


def years(where, monkeypatch=None):
    """Make a register of six commits, one each month of 2020."""
    from fibrebook.register.commits import writing

    reg = create(where)
    real = writing.utc_text
    for month in range(1, 7):
        writing.utc_text = lambda m=month: f"2020-{m:02d}-15T12:00:00.000Z"
        try:
            put(reg, "sites", why=f"month {month}", site="S1", name=f"name {month}", contact=f"person {month}")
        finally:
            writing.utc_text = real
    return reg


def age(reg, days):
    """Make every file of a folder look some days older."""
    for path in Path(reg.where).rglob("*"):
        if path.is_file():
            when = path.stat().st_mtime - days * 86_400
            os.utime(path, (when, when))


# --- tidying ---------------------------------------------------------------------------------------------------------


def test_tidy_keeps_what_the_days_need_and_says_what_is_given_up(tmp_path):
    """States older than the days go, the one before the first kept stays; the history is whole; verify is clean."""
    reg = years(tmp_path / "r")
    age(reg, 10)
    before = reg.history()
    done = reg.tidy(70, "ab", "room")  # back from 15 June: April, May, June are kept, March to undo April by
    assert done.given_up == [1, 2] and done.files == 2 and done.first_whole == 4
    assert "commits 1 to 2 can no longer be opened" in str(done)
    now = open(reg.where)
    assert len(now.verify()) == 0 and now.log().what.tolist()[-1] == "tidy"
    assert now.history().equals(before) and now.table("sites").name.tolist() == ["name 6"]
    for at in (3, 4, 5, 6, 7):
        assert open(reg.where, at=at).table("sites").name.tolist() == [f"name {min(at, 6)}"]
    for at in (1, 2):
        with pytest.raises(errors.NotFoundError, match="tidied away by ab in commit 7"):
            open(reg.where, at=at).table("sites")
    with pytest.raises(errors.ConflictError, match="commit 6 changed the same"):
        now.undo(4, "ab", "x")
    assert now.tidy(70, "ab", "again").commit is None and now.commit == 7


def test_tidy_never_touches_what_a_kept_edit_or_a_save_under_way_needs(tmp_path):
    """The base of a pending edit stays; a file that no commit names yet stays for a day; leftovers go after."""
    reg = years(tmp_path / "r")
    late = reg.edit("cd", "late", base=2)
    late.put("sites", [{"site": "S1", "name": "other"}])
    with pytest.raises(errors.ConflictError) as caught:
        late.finish()
    left = Path(reg.where) / "tables" / "sites" / ("0001-" + "a" * 32 + ".parquet")
    half = left.with_name(".abc.tmp")
    for path in (left, half):
        path.write_bytes(b"x")
    done = reg.tidy(0, "ab", "room")
    assert 2 not in done.given_up and left.exists() and half.exists()
    assert reg.pending_conflicts(caught.value.pending).theirs.tolist() == ["name 6"]
    age(reg, 2)
    assert tidy(reg._store, 0, "ab", "room").files == 2 and not left.exists() and not half.exists()
    assert reg.pending_resolve(caught.value.pending, "mine") and len(reg.verify()) == 0


def test_undo_after_tidying_brings_the_same_bytes_back(tmp_path):
    """A state that was given up and comes again by undo is written again and counts as sound."""
    reg = years(tmp_path / "r")
    for n in (6, 5):
        reg.undo(n, "ab", "back")
    age(reg, 5)
    reg.tidy(0, "ab", "room")
    assert len(reg.verify()) == 0 and reg.table("sites").name.tolist() == ["name 4"]
    put(reg, "sites", site="S1", name="name 1", contact="person 1")  # the very bytes of commit 1
    assert len(open(reg.where).verify()) == 0 and open(reg.where, at=1).table("sites").name.tolist() == ["name 1"]
    for path in (Path(reg.where) / "tables" / "sites").iterdir():
        path.unlink()
    assert "is missing" in open(reg.where).verify().what.tolist()


# --- redaction -------------------------------------------------------------------------------------------------------


def holds(where, words):
    """Tell which of some words stand in any file of a register, in the clear or in a Parquet column."""
    files = blobs_for(where)
    found = set()
    for path in files.everything():
        data = files.read(path)
        text = data.decode("utf-8", "replace")
        if path.endswith(".parquet"):
            import pyarrow as pa

            text += str(pq.read_table(pa.BufferReader(data)).to_pylist())
        found |= {w for w in words if w in text}
    return found


def test_redact_takes_personal_data_out_of_the_whole_past(where):
    """No file holds the values any more; the commits, their order and their digests are what they were."""
    reg = create(where)
    put(reg, "sites", site="S1", name="Mill", contact="gatekeeper", access="code 1234", customer="client one")
    put(reg, "sites", site="S2", name="Barn", contact="neighbour")
    put(reg, "sites", site="S1", contact="another keeper", notes="kept")
    late = reg.edit("cd", "late", base=2)
    late.put("sites", [{"site": "S1", "contact": "third keeper", "notes": "mine"}])
    with pytest.raises(errors.ConflictError):
        late.finish()
    before = [reg._store.log.raw(n) for n in range(1, 4)]
    done = reg.redact("ab", "asked by the customer", site="S1")
    assert done.commit == 4 and len(done.removed) >= 4
    secrets = {"gatekeeper", "another keeper", "third keeper", "code 1234"}
    assert holds(where, {*secrets, "neighbour", "kept"}) == {"neighbour", "kept"}
    now = open(where)
    assert [now._store.log.raw(n) for n in range(1, 4)] == before and len(now.verify()) == 0
    for at in range(1, 5):
        sites = open(where, at=at).tables()["sites"].to_pylist()
        assert sites[0]["name"] == "Mill" and sites[0]["contact"] is None and sites[0]["access"] is None
    told = now.history("sites", "S1")
    assert "redacted" in set(told.op) and told.before.dropna().tolist() == []
    assert now._store.log.commit(4)["replaced"].keys() == set(done.replaced)
    assert done.replaced and all(now._store.blobs.exists(f) for f in done.replaced.values())
    put(now, "sites", site="S1", notes="goes on")
    assert now.redact("ab", "again", site="S1").commit is None
    assert now.tidy(0, "ab", "room") and len(now.verify()) == 0
    copy = now.take_away(str(Path(os.environ.get("TMPDIR", "/tmp")) / f"copy-{now.id}"))
    try:
        assert len(copy.verify()) == 0 and holds(copy.where, secrets) == set()
    finally:
        shutil.rmtree(copy.where)


def test_redact_by_customer_finds_every_site_that_ever_bore_the_name(tmp_path):
    """All sites of a customer, former ones too, and the name itself; an unknown name or column says so."""
    reg = create(tmp_path / "r")
    put(reg, "sites", site="S1", customer="client one", contact="keeper 1")
    put(reg, "sites", site="S2", customer="client one", contact="keeper 2")
    put(reg, "sites", site="S2", customer="client two")
    put(reg, "sites", site="S3", customer="client three", contact="keeper 3")
    assert reg.redact("ab", "asked", customer="client one").sites == ("S1", "S2")
    assert holds(reg.where, {"client one", "client two", "keeper 1", "keeper 2", "keeper 3"}) == {"keeper 3"}
    with pytest.raises(errors.NotFoundError):
        reg.redact("ab", "asked", customer="nobody")
    with pytest.raises(errors.NotFoundError):
        reg.redact("ab", "asked", site="S9")
    with pytest.raises(errors.InputError, match="no column"):
        reg.redact("ab", "asked", site="S3", columns=["sites.shoes"])
    with pytest.raises(errors.InputError, match="which"):
        reg.redact("ab", "asked")
    reg.redact("ab", "asked", site="S3", columns=["sites.customer"])
    assert holds(reg.where, {"client three", "keeper 3"}) == {"keeper 3"}


@pytest.mark.parametrize("stop", range(12))
def test_a_redaction_that_is_broken_off_is_done_again(tmp_path, monkeypatch, stop):
    """Stopped anywhere: sound before the commit, named by verify after it, and finished by doing it again."""
    from fibrebook.register.places.folder import LocalFolder

    reg = create(tmp_path / "r")
    put(reg, "sites", site="S1", contact="gatekeeper")
    put(reg, "sites", site="S1", contact="keeper")
    whole = {n: getattr(LocalFolder, n) for n in ("create", "delete")}
    steps = [0]

    def broken(self, *args, name):
        steps[0] += 1
        if steps[0] > stop:
            raise KeyboardInterrupt
        return whole[name](self, *args)

    with monkeypatch.context() as patch:
        for name in whole:
            patch.setattr(LocalFolder, name, lambda self, *a, name=name: broken(self, *a, name=name))
        with contextlib.suppress(KeyboardInterrupt):
            reg.redact("ab", "asked", site="S1")
    found = open(reg.where).verify()
    assert set(found.what) <= {"was to be removed and is still there: do the redaction again"}
    open(reg.where).redact("ab", "asked", site="S1")
    assert holds(reg.where, {"gatekeeper", "keeper"}) == set()
    assert len(open(reg.where).verify()) == 0 and open(reg.where).commit == 3


def test_published_tables_leave_personal_columns_out_by_the_switch(tmp_path):
    """publish(personal=False) writes no column that holds personal data."""
    reg = create(tmp_path / "r")
    put(reg, "sites", site="S1", contact="gatekeeper", name="Mill")
    reg.publish(tmp_path / "out", personal=False)
    table = pq.read_table(tmp_path / "out" / "sites.parquet")
    assert table.column_names[:3] == ["site", "name", "customer"]
    assert {"address", "contact", "access"}.isdisjoint(table.column_names)


# --- signatures ------------------------------------------------------------------------------------------------------


def test_signatures_by_a_key_file(tmp_path, monkeypatch):
    """With a key each commit is signed; a forged commit, whose digests all fit, is found by whoever has the key."""
    reg = create(tmp_path / "r")
    put(reg, "sites", site="S1")
    key = make_key(tmp_path / "key")
    if os.name != "nt":
        assert key.stat().st_mode & 0o077 == 0
    with pytest.raises(errors.InputError):
        make_key(key)
    monkeypatch.setenv("FIBREBOOK_KEY", str(key))
    put(reg, "sites", site="S2")
    put(reg, "sites", site="S3")
    assert len(reg.verify()) == 0
    secret = key.read_bytes().strip()
    assert all(secret not in p.read_bytes() for p in Path(reg.where).rglob("*") if p.is_file())
    path = Path(reg.where) / "commits" / "00000003.json"
    content = digest_checked(path.read_bytes())
    (tmp_path / "no folder").write_text("")
    monkeypatch.setenv("FIBREBOOK_WITNESS", str(tmp_path / "no folder"))  # a machine that remembers nothing
    path.write_bytes(with_digest({**content, "by": "zz"}))
    assert open(reg.where).verify().what.tolist() == ["bears a signature that was not made with the key"]
    del content["signature"]
    path.write_bytes(with_digest(content))
    assert open(reg.where).verify().what.tolist() == ["bears no signature, although earlier commits do"]
    monkeypatch.setenv("FIBREBOOK_KEY", str(tmp_path / "lost"))
    with pytest.raises(errors.InputError, match="cannot be read"):
        put(open(reg.where), "sites", site="S4")


def test_each_commit_bears_the_digest_of_the_one_before(tmp_path):
    """The chain begins at register.json; a commit exchanged for another whole one is found on reading."""
    import hashlib

    reg = years(tmp_path / "r")
    before = (tmp_path / "r" / "register.json").read_bytes()
    for n in range(1, 7):
        data = (tmp_path / "r" / "commits" / f"{n:08d}.json").read_bytes()
        assert json.loads(data)["previous_digest"] == hashlib.sha256(before).hexdigest()
        before = data
    path = tmp_path / "r" / "commits" / "00000002.json"
    path.write_bytes(with_digest({**digest_checked(path.read_bytes()), "why": "another"}))
    assert open(reg.where).verify().file.tolist() == ["commits/00000003.json"]
    with pytest.raises(errors.DamagedError, match="does not follow"):
        open(reg.where).sites()


# --- differences -----------------------------------------------------------------------------------------------------


def test_differences_between_two_days(tmp_path):
    """What differs between two commits or days, cell by cell; the way there and back mirror each other."""
    reg = years(tmp_path / "r")
    put(reg, "sites", site="S2", name="Barn")
    found = reg.differences("2020-02-20", "2020-04-20", site="S1")
    assert found[["column", "before", "after"]].values.tolist() == [
        ["name", "name 2", "name 4"], ["contact", "person 2", "person 4"],
    ]  # fmt: skip
    back = reg.differences(4, 2, "S1")
    assert back[["before", "after"]].values.tolist() == found[["after", "before"]].values.tolist()
    assert set(reg.differences(6).key) == {("S2",)} and len(reg.differences(3, 3)) == 0
    assert list(found.columns) == list(reg.history().columns)
    with pytest.raises(errors.NotFoundError):
        reg.differences(1, 99)
    with pytest.raises(errors.NotFoundError):
        reg.differences(1, 2, site="S9")


# --- formats ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("folder", sorted((HERE / "registers").iterdir()), ids=lambda p: p.name)
def test_a_register_of_every_released_format_opens(folder, tmp_path):
    """Kept as it was written: it opens, answers what it answered, verifies clean and takes a commit."""
    expected = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
    where = shutil.copytree(folder / "register", tmp_path / "r")
    reg = open(where)
    assert len(reg.verify()) == 0
    for at, tables in expected.items():
        then = open(where, at=int(at))
        for name, rows in tables.items():
            stored = [{k: str(v) for k, v in r.items() if v not in (None, "")} for r in then.tables()[name].to_pylist()]
            assert stored == rows, (at, name)
    put(reg, "sites", site="S1", notes="after")
    assert len(open(where).verify()) == 0


@pytest.fixture
def earlier(tmp_path, monkeypatch):
    """A register of today's format, read where a next one is known; in it sites had a column `title` for `name`."""
    reg = create(tmp_path / "r", name="Old")
    put(reg, "sites", site="S1", name="Mill")
    put(reg, "sites", site="S1", name="Old mill", notes="n")
    put(reg, "enclosures", site="S1", enclosure="P1")
    previous = None
    for n in range(4):
        path = tmp_path / "r" / ("register.json" if n == 0 else f"commits/{n:08d}.json")
        content = digest_checked(path.read_bytes())
        for files in content.get("segments", {}).values():
            for ref in files.values():
                file = tmp_path / "r" / ref["file"]
                table = pq.read_table(file)
                if "/sites/" in ref["file"]:
                    table = table.rename_columns(["title" if c == "name" else c for c in table.column_names])
                    pq.write_table(table, file, store_schema=False)
                    data = file.read_bytes()
                    ref.update(sha256=state.digest(data), bytes=len(data))
                    new = f"tables/sites/0001-{state.digest(data)[:32]}.parquet"
                    file.rename(tmp_path / "r" / new)
                    ref["file"] = new
        if previous is not None:
            content["previous_digest"] = state.digest(previous)
        previous = with_digest(content)
        path.write_bytes(previous)
    calls = []

    def step(kind, table):
        calls.append(kind)
        names = ["name" if kind == "sites" and c == "title" else c for c in table.column_names]
        return table.rename_columns(names)

    monkeypatch.setitem(formats.STEPS, state.FORMAT, step)
    known = state.FORMAT
    for name, module in list(sys.modules.items()):
        if name.startswith("fibrebook.register") and getattr(module, "FORMAT", None) == known:
            monkeypatch.setattr(module, "FORMAT", known + 1)
    monkeypatch.setenv("FIBREBOOK_WITNESS", str(tmp_path / "another machine"))  # that never saw what stood there before
    return tmp_path / "r", calls


def test_an_older_register_is_read_as_it_is_and_upgraded_by_a_commit(earlier):
    """Reading leaves it alone; the first change is preceded by one commit that writes it in today's format."""
    where, calls = earlier
    reg = open(where)
    assert reg.table("sites").name.tolist() == ["Old mill"] and calls
    assert open(where, at=1).table("sites").name.tolist() == ["Mill"]
    assert reg.commit == 3 and len(reg.verify()) == 0
    assert put(reg, "sites", by="cd", site="S1", notes="new") == 5
    assert reg.log()[["what", "by"]].values.tolist()[-2:] == [["upgrade", "cd"], ["edit", "cd"]]
    now = open(where)
    calls.clear()
    assert now.table("sites").name.tolist() == ["Old mill"] and now.table("enclosures").enclosure.tolist() == ["P1"]
    assert calls == []
    assert open(where, at=2).table("sites").name.tolist() == ["Old mill"] and calls
    assert len(now.verify()) == 0 and now.history("sites", "S1").column.tolist()[-1] == "notes"


def test_a_commit_of_a_newer_format_is_refused_in_words(tmp_path):
    """Neither the register nor one commit of a later fibrebook is guessed at."""
    reg = create(tmp_path / "r")
    put(reg, "sites", site="S1")
    path = tmp_path / "r" / "commits" / "00000001.json"
    path.write_bytes(with_digest({**digest_checked(path.read_bytes()), "format": state.FORMAT + 1}))
    with pytest.raises(errors.FormatError, match="newer fibrebook"):
        open(tmp_path / "r").sites()


def test_history_tells_who_changed_a_port_and_when(tmp_path):
    """The question of the customer's auditor: who put what into this port, when, and what was there before."""
    reg = create(tmp_path / "r")
    with reg.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S1"}])
        edit.put("enclosures", [{"site": "S1", "enclosure": "P1"}])
        edit.put("cables", [{"site": "S1", "cable": "C1", "a_enclosure": "P1", "core_count": 12}])
        edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": 1}])
        edit.put("terminations", [{"site": "S1", "enclosure": "P1", "port": 1, "cable": "C1", "core": 1}])
    put(reg, "terminations", "cd", "respliced", site="S1", enclosure="P1", port=1, cable="C1", core=2)
    told = reg.history("terminations", ("S1", "P1", 1, ""))
    core = told[told.column == "core"][["by", "why", "before", "after"]]
    assert core.values.tolist() == [["ab", "set up", None, 1], ["cd", "respliced", 1, 2]]
    assert told.time_utc.is_monotonic_increasing and isinstance(told.time_utc.dtype, pd.DatetimeTZDtype)
