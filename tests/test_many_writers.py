"""Many hands on one register: nothing acknowledged is lost, and only what was really changed twice is a conflict."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.places.where import blobs_for
from fibrebook.register.store.log import RegisterWarning
from fibrebook.register.store.state import commit_path

pytest_plugins = ["places"]

SITES = [f"S{n}" for n in range(4)]
# Each writer adds rows of its own, changes cells that only it changes, and now and then a cell that all change.
WRITER = """
import json, random, sys
from fibrebook import errors
from fibrebook.register import open
where, who, commits = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
reg = open(where)
chance = random.Random(who)
made = 0
while made < commits:
    site = chance.choice(["S0", "S1", "S2", "S3"])
    shared = chance.random() < 0.15
    base = reg.commit
    edit = reg.edit(f"w{who}", f"{who}/{made}", base=base)
    edit.put("visits", [{"site": site, "visit": f"{who}-{made}", "done": str(made)}])
    edit.put("enclosures", [{"site": site, "enclosure": f"P{who}", "notes": f"{who}/{made}"}])
    if shared:
        edit.put("sites", [{"site": site, "notes": f"{who}/{made}"}])
    try:
        number = edit.finish()
    except errors.NotCommittedError:
        continue
    except errors.ConflictError as error:
        told = error.conflicts[["table", "column", "base", "theirs"]].values.tolist()
        print(json.dumps(["conflict", base, site, shared, told]), flush=True)
        reg.pending_drop(error.pending)
        made += 1
        continue
    print(json.dumps(["made", number, site, shared, f"{who}-{made}"]), flush=True)
    made += 1
"""


@pytest.mark.parametrize(
    ("writers", "commits"), [(4, 6), pytest.param(8, 250, marks=pytest.mark.long, id="eight times 250")]
)
def test_writers_at_once_lose_nothing(where, writers, commits, record_property):
    """Every acknowledged commit is in the history once; conflicts only where the shared cell really changed."""
    reg = create(where)
    with reg.edit("ab", "start") as edit:
        edit.put("sites", [{"site": s} for s in SITES])
        edit.put("enclosures", [{"site": s, "enclosure": f"P{w}"} for s in SITES for w in range(writers)])
    processes = [
        subprocess.Popen([sys.executable, "-c", WRITER, where, str(w), str(commits)], stdout=subprocess.PIPE, text=True)
        for w in range(writers)
    ]
    told = []
    for process in processes:
        out, _ = process.communicate(timeout=60 + writers * commits * 2)  # a deadlock would stand out
        assert process.returncode == 0
        told.append([json.loads(line) for line in out.splitlines()])
    made = [t for own in told for t in own if t[0] == "made"]
    conflicts = [t for own in told for t in own if t[0] == "conflict"]
    assert len(made) + len(conflicts) == writers * commits
    now = open(where)
    assert sorted(t[1] for t in made) == list(range(2, now.commit + 1))  # each number given once, none left out
    visits = now.table("visits")
    assert sorted(visits.visit) == sorted(t[4] for t in made)  # no lost update, nothing of a refused one
    history = now.history("visits")
    assert len(history) == len(made) and set(history.op) == {"added"}
    for own in told:  # each writer's own cell holds its own last word
        for site in SITES:
            last = [t for t in own if t[0] == "made" and t[2] == site]
            who = own[0][4].split("-")[0] if own[0][0] == "made" else None
            if last and who:
                notes = now.table("enclosures", site).set_index("enclosure").notes[f"P{who}"]
                assert notes == last[-1][4].replace("-", "/")
    shared = now.history("sites")
    for _, base, site, was_shared, cells in conflicts:
        assert was_shared and [(c[0], c[1]) for c in cells] == [("sites", "notes")]
        since = shared[(shared.key == (site,)) & (shared.commit > base)]
        assert cells[0][3] in since.after.tolist()  # somebody did change it meanwhile
    assert len(now.verify()) == 0 and len(now.pending()) == 0
    record_property("made", len(made))
    record_property("conflicts", len(conflicts))


def test_a_writer_that_never_wins_gives_up_in_words(tmp_path, monkeypatch):
    """Where others are quicker at every try the save ends by an error that says so, not by waiting for ever."""
    from fibrebook.register.commits import commit
    from fibrebook.register.places.where import AlreadyThere

    reg = create(tmp_path / "r")
    monkeypatch.setattr(commit, "TRIES", 3)

    def taken(number, content):
        raise AlreadyThere(number)

    monkeypatch.setattr(reg._store.log, "append", taken)
    monkeypatch.setattr(reg._store.log, "commit", lambda number: {"token": "another"})
    with pytest.raises(errors.NotCommittedError, match="try again"), reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S1"}])


# --- a folder on a synchronising drive -------------------------------------------------------------------------------


def said(reg, site, column, value, by="ab"):
    """Change one cell of a site in one commit."""
    with reg.edit(by, f"{site} {column} {value}") as edit:
        edit.put("sites", [{"site": site, column: value}])


@pytest.fixture
def two_machines(tmp_path):
    """Two folders that a drive keeps alike, alike up to commit 2."""
    reg = create(tmp_path / "one")
    said(reg, "S1", "name", "Mill")
    said(reg, "S2", "name", "Barn")
    shutil.copytree(tmp_path / "one", tmp_path / "two")
    return reg, open(tmp_path / "two")


def bring_together(one: Path, two: Path, chance: random.Random, swap: bool = False) -> None:
    """Lay the second folder into the first as such drives do: under one name two contents, one is renamed."""
    for path in sorted(two.rglob("*")):
        target = one / path.relative_to(two)
        if path.is_dir():
            target.mkdir(exist_ok=True)
        elif not target.exists():
            shutil.copy(path, target)
        elif target.read_bytes() != path.read_bytes():
            copy = target.with_name(f"{target.stem} (conflicted copy {chance.randint(1, 9)}){target.suffix}")
            if swap and chance.random() < 0.5:
                copy.write_bytes(target.read_bytes())
                target.write_bytes(path.read_bytes())
            else:
                shutil.copy(path, copy)


def test_a_commit_that_has_not_arrived_is_named_and_not_written_over(tmp_path):
    """Files that come out of order: reading and saving stop in words until the missing one is there."""
    reg = create(tmp_path / "r")
    for n in range(4):
        said(reg, "S1", "name", str(n))
    early = open(tmp_path / "r")
    assert early.commit == 4
    late = {n: tmp_path / "r" / commit_path(n) for n in (3, 4)}
    kept = {n: p.read_bytes() for n, p in late.items()}
    late[3].unlink()
    with pytest.raises(errors.DamagedError, match=r"commit 3 is missing.*wait until it has finished"):
        open(tmp_path / "r").sites()
    assert "commits/00000003.json" in open(tmp_path / "r").verify().file.tolist()
    late[4].unlink()
    behind = open(tmp_path / "r")  # sees 2; then commit 4 arrives before commit 3
    assert behind.commit == 2
    edit = behind.edit("cd", "meanwhile")
    edit.put("sites", [{"site": "S1", "notes": "n"}])
    late[4].write_bytes(kept[4])
    with pytest.raises(errors.DamagedError, match="commit 3 is missing, although commit 4 is there"):
        edit.finish()
    late[3].write_bytes(kept[3])
    assert behind.table("sites").name.tolist() == ["3"] and len(behind.verify()) == 0
    (ref,) = behind._store.log.state(4).segments["sites"].values()  # not what the edit that was refused left there
    data = tmp_path / "r" / ref.file
    held = data.read_bytes()
    data.unlink()
    assert data.name in behind.verify().file.str.rpartition("/")[2].tolist()
    data.write_bytes(held)


@pytest.mark.parametrize("swap", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_two_peoples_saves_side_by_side_are_merged(two_machines, seed, swap):
    """A conflicted copy is detected and named; mend brings both people's commits into one chain."""
    one, two = two_machines
    chance = random.Random(seed)
    mine, theirs = chance.randint(1, 3), chance.randint(1, 3)
    for n in range(mine):
        said(one, "S1", "notes", f"one {n}", "ab")
    for n in range(theirs):
        said(two, "S2", "notes", f"two {n}", "cd")
    said(two, f"X{seed}", "name", "new", "cd")
    bring_together(Path(one.where), Path(two.where), chance, swap)
    with pytest.warns(RegisterWarning, match="Run mend"):
        try:
            open(one.where).sites()
        except errors.DamagedError as error:  # the two chains are mixed: never read as if they were one
            assert "does not follow" in str(error)
    assert any("side by side" in w for w in open(one.where).verify().what)
    done = mend_place(one.where, "ab", "two people's saves")
    assert all(d.ok for d in done), done
    now = open(one.where)
    sites = now.table("sites").set_index("site")
    assert sites.notes["S1"] == f"one {mine - 1}" and sites.notes["S2"] == f"two {theirs - 1}"
    assert sites.name[f"X{seed}"] == "new" and now.commit == 2 + mine + theirs + 1
    assert sorted(now.log().by[2:]) == ["ab"] * mine + ["cd"] * (theirs + 1)
    assert len(now.verify()) == 0
    assert mend_place(one.where, "ab", "again") == [] and open(one.where).commit == now.commit


def test_side_by_side_saves_of_one_cell_are_kept_to_be_decided(two_machines):
    """Where both changed the same cell the one is kept as a pending edit, and the choice settles it."""
    one, two = two_machines
    said(one, "S1", "name", "one's", "ab")
    said(two, "S1", "name", "two's", "cd")
    bring_together(Path(one.where), Path(two.where), random.Random(1))
    done = mend_place(one.where, "ab", "both")
    assert any("to be decided" in d.how for d in done)
    now = open(one.where)
    assert now.table("sites").name[0] == "one's" and len(now.verify()) == 0
    name = now.pending().name[0]
    assert now.pending_conflicts(name)[["theirs", "mine"]].values.tolist() == [["one's", "two's"]]
    now.pending_resolve(name, "mine")
    assert now.table("sites").name[0] == "two's"


@pytest.mark.parametrize("seed", range(3))
def test_a_mend_that_is_broken_off_is_taken_up_again(two_machines, monkeypatch, seed):
    """Mending stopped at any step and begun again comes to the same end."""
    one, two = two_machines
    said(one, "S1", "notes", "one", "ab")
    said(two, "S2", "notes", "two", "cd")
    said(two, "S2", "hazards", "asbestos", "cd")
    bring_together(Path(one.where), Path(two.where), random.Random(seed), swap=True)
    from fibrebook.register.places.folder import LocalFolder

    whole = {n: getattr(LocalFolder, n) for n in ("create", "replace", "delete")}
    for stop in range(60):
        steps = [0]

        def broken(self, *args, name, steps=steps, stop=stop):
            steps[0] += 1
            if steps[0] > stop:
                raise KeyboardInterrupt
            return whole[name](self, *args)

        copy = Path(one.where).parent / f"stop{stop}"
        shutil.copytree(one.where, copy)
        with monkeypatch.context() as patch:
            for name in whole:
                patch.setattr(LocalFolder, name, lambda self, *a, name=name: broken(self, *a, name=name))
            try:
                mend_place(copy, "ab", "x")
                ended = True
            except KeyboardInterrupt:
                ended = False
        mend_place(copy, "ab", "x")
        now = open(copy)
        row = now.table("sites").set_index("site")
        assert row.notes["S1"] == "one" and row.notes["S2"] == "two" and row.hazards["S2"] == "asbestos"
        assert len(now.verify()) == 0, now.verify().to_string()
        if ended:
            break
    assert ended and stop > 5


def test_credentials_of_a_bucket_are_nowhere_written(where):
    """No file of the register holds the credentials that it was written with; none may stand in the address."""
    reg = create(where)
    said(reg, "S1", "name", "Mill")
    files = blobs_for(where)
    for path in files.everything():
        assert b"testing" not in files.read(path)
    if where.startswith("s3:"):
        assert os.environ["AWS_SECRET_ACCESS_KEY"] == "testing"
        with pytest.raises(errors.InputError, match="environment"):
            open("s3://key:secret@registers/x")


@pytest.mark.parametrize("address", ["s3://", "s3:///folder", "s3://two words/folder", "gs://"])
def test_what_is_no_address_of_a_bucket_is_told(address):
    """An address that the bucket library cannot read is one clear error of ours."""
    with pytest.raises(errors.InputError, match="no address of a bucket"):
        open(address)
