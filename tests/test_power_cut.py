"""What was acknowledged is there after a power cut or a kill; what was not is absent or whole."""

from __future__ import annotations

import errno
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from weak_disk import NotedDisk, Unsure, lay_down, tree_of

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.places.folder import LocalFolder


@pytest.fixture(autouse=True)
def no_witness(monkeypatch):
    """What the machine saw of a register goes with its power too: nothing of it is kept here."""
    monkeypatch.setenv("FIBREBOOK_WITNESS", os.devnull)


@pytest.fixture(autouse=True)
def no_waiting(monkeypatch):
    """Try again at once where a disk does not answer."""
    monkeypatch.setattr("fibrebook.register.commits.writing._pause", lambda again: None)


def on(disk_of, root: Path):
    """Open a register whose files are written through a disk of ours."""
    reg = open(root)
    disk = disk_of(root)
    reg._store.blobs.files.disk = disk
    return reg, disk


def save(reg, number: int, tables: int = 2) -> int:
    """Make one commit that touches one or several tables."""
    with reg.edit("ab", f"save {number}") as edit:
        edit.put("sites", [{"site": "S1", "name": f"name {number}"}])
        if tables > 1:
            edit.put("snags", [{"site": "S1", "snag": number, "what": "x" * 200}])
        if tables > 2:
            edit.put("sites", [{"site": f"N{number}"}])
            edit.put("locations", [{"site": f"N{number}", "location": "hall"}])
    return edit.commit


@pytest.fixture
def root(tmp_path):
    """A register with one site and two commits."""
    reg = create(tmp_path / "reg")
    save(reg, 0)
    save(reg, 1)
    return Path(reg.where)


def sound(folder: Path, least: int, most: int) -> int:
    """Check that a register opens, is whole and takes the next commit; return the commit it was at."""
    reg = open(folder)
    at = reg.commit
    assert least <= at <= most, f"commit {at}, not {least} to {most}"
    assert len(reg.verify()) == 0, reg.verify().to_string()
    assert reg.table("sites").set_index("site").loc["S1", "name"] == f"name {at - 1}"
    assert set(reg.table("snags").snag.astype(int)) == set(range(at))
    assert save(reg, at) == at + 1
    assert len(open(folder).verify()) == 0
    return at


def every_outcome(start, steps, acknowledged, before, tmp_path, seen, chance=None, cuts=None):
    """Check what may be left of a commit cut after each of its steps; return how many states were looked at."""
    count = 0
    for cut in cuts if cuts is not None else range(len(steps) + 1):
        done = sum(1 for mark in acknowledged if mark <= cut)
        for tree in Unsure(start, steps[:cut]).outcomes(chance):
            print_of = hashlib.sha256(repr(sorted(tree.items())).encode()).hexdigest() + str(done)
            count += 1
            if print_of in seen:
                continue
            seen.add(print_of)
            target = tmp_path / f"after-{len(seen)}"
            sound(lay_down(tree, target), before + done, before + len(acknowledged))
            shutil.rmtree(target)
    return count


def test_power_cut_at_every_step_of_a_commit(root, tmp_path, record_property):
    """After a cut at any step, with any of the unflushed lost, torn or out of order, the register is whole."""
    start = tree_of(root)
    reg, disk = on(NotedDisk, root)
    save(reg, 2)
    assert [s[0] for s in disk.steps].count("link") == 4  # two segments, the history, the commit
    count = every_outcome(start, disk.steps, [len(disk.steps)], 2, tmp_path, seen := set())
    record_property("states", count)
    assert count > 60 and len(seen) > 20


def test_power_cut_while_the_register_grows_its_folders(tmp_path):
    """The very first commit makes folders; a cut leaves either no commit or the whole of it."""
    reg = create(tmp_path / "reg")
    start = tree_of(Path(reg.where))
    reg, disk = on(NotedDisk, Path(reg.where))
    save(reg, 0)
    for cut in range(len(disk.steps) + 1):
        for tree in Unsure(start, disk.steps[:cut]).outcomes(most=48):
            target = tmp_path / "after"
            now = open(lay_down(tree, target))
            assert now.commit in ((1,) if cut == len(disk.steps) else (0, 1)) and len(now.verify()) == 0
            assert now.commit == 0 or now.table("snags").snag.tolist() == ["0"]
            shutil.rmtree(target)


def random_cuts(root, tmp_path, seed, cuts):
    """Make several commits, then look at states after cuts by chance."""
    chance = random.Random(seed)
    start = tree_of(root)
    before = open(root).commit
    reg, disk = on(NotedDisk, root)
    acknowledged = []
    for n in range(chance.randint(1, 4)):
        save(reg, before + n)
        acknowledged.append(len(disk.steps))
    seen: set[str] = set()
    where = [chance.randint(0, len(disk.steps)) for _ in range(cuts)]
    return every_outcome(start, disk.steps, acknowledged, before, tmp_path, seen, chance, where)


def test_power_cuts_by_chance(root, tmp_path):
    """Cuts by chance in the middle of several commits lose none that was acknowledged before the cut."""
    assert random_cuts(root, tmp_path, 7, 40) == 40


@pytest.mark.long
@pytest.mark.parametrize("seed", range(25))
def test_thousands_of_power_cuts_by_chance(root, tmp_path, seed):
    """The same, 2,500 times."""
    assert random_cuts(root, tmp_path, 1000 + seed, 100) == 100


@pytest.mark.parametrize(
    "error", [errno.ENOSPC, errno.EIO, *(pytest.param(n, marks=pytest.mark.long) for n in (errno.EACCES, errno.EROFS))]
)
def test_a_disk_that_refuses_at_any_step(root, tmp_path, error):
    """Disk full, permission lost, read-only, failing: one clear error, nothing lost, and later saves go on."""
    _, probe = on(NotedDisk, root)
    whole = tmp_path / "whole"
    shutil.copytree(root, whole)
    reg, probe = on(NotedDisk, whole)
    save(reg, 2)
    for at in range(len(probe.steps)):
        for times in (1, 1000):
            target = tmp_path / "try"
            shutil.copytree(root, target)
            reg, _ = on(lambda r, a=at, t=times: NotedDisk(r, a, error, t), target)
            try:
                acknowledged = save(reg, 2) == 3
            except errors.NotCommittedError:
                acknowledged = False
                assert open(target).commit == 2
            except errors.UnknownOutcomeError:
                acknowledged = False
            assert acknowledged in (open(target).commit == 3, False)
            sound(target, 3 if acknowledged else 2, 3)
            shutil.rmtree(target)


def test_a_disk_that_does_not_confirm_a_commit_is_told(root):
    """Where the folder of commits cannot be flushed, the save is not acknowledged, whatever lies there."""

    class NoFlush(NotedDisk):
        good = 1  # the commit below is made sure of first

        def flush_folder(self, folder):
            if folder.name == "commits":
                self.good -= 1
                if self.good < 0:
                    raise OSError(errno.EIO, "Input/output error")
            super().flush_folder(folder)

    reg, disk = on(NoFlush, root)
    with pytest.raises(errors.UnknownOutcomeError, match="look at the history"):
        save(reg, 2)
    disk.good = 0
    with pytest.raises(errors.NotCommittedError, match="did not confirm"):
        save(reg, 3)  # not even the commit below can be made sure of
    assert open(root).commit == 3


@pytest.mark.skipif(os.name == "nt", reason="the rights of a folder are of POSIX")
def test_a_read_only_folder_says_so(root):
    """A folder without permission to write can be read and verified; saving is one clear error."""
    place = Path(tempfile.mkdtemp())
    shutil.copytree(root, place / "reg")
    assert len(open(root).verify()) == 0  # whatever is imported at first use is imported now
    folders = [place, *(p for p in place.rglob("*") if p.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    superuser = os.geteuid() == 0
    try:
        if superuser:
            os.seteuid(65534)  # the superuser is refused nothing: be nobody for a while
        reg = open(place / "reg")
        assert reg.sites() == ["S1"] and len(reg.verify()) == 0
        with pytest.raises(errors.NotCommittedError, match="could not be written"):
            save(reg, 2)
    finally:
        if superuser:
            os.seteuid(0)
        for folder in folders:
            folder.chmod(0o755)
    assert open(place / "reg").commit == 2
    shutil.rmtree(place)


def test_a_clock_that_goes_backwards_loses_nothing(root, monkeypatch):
    """Commits keep their order by number; a clock put back makes none look old enough to be tidied away."""
    from fibrebook.register.commits import writing

    reg = open(root)
    monkeypatch.setattr(writing, "utc_text", lambda: "1980-01-01T00:00:00.000Z")
    save(reg, 2)
    monkeypatch.undo()
    save(reg, 3)
    assert reg.log().commit.tolist() == [1, 2, 3, 4] and len(reg.verify()) == 0
    assert reg.history("sites", "S1").commit.is_monotonic_increasing
    assert open(root, at=3).table("sites").name.tolist() == ["name 2"]
    assert reg.tidy(1, "ab", "room").given_up == []
    assert open(root, at=1).table("sites").name.tolist() == ["name 0"]


def test_a_conflict_on_a_full_disk_is_still_told(root, monkeypatch):
    """Where the edit in conflict cannot be kept either, the conflict is told and the disk's answer with it."""
    reg = open(root)
    late = reg.edit("ab", "late")
    late.put("sites", [{"site": "S1", "name": "mine"}])
    save(open(root), 2)

    def full(path, data):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(reg._store.blobs, "create", full)
    with pytest.raises(errors.ConflictError, match=r"could not be kept.*No space left") as caught:
        late.finish()
    assert caught.value.pending is None and len(caught.value.conflicts) == 1


WRITER = """
import sys
from fibrebook.register import open
reg = open(sys.argv[1])
for number in range(int(sys.argv[2]), int(sys.argv[2]) + int(sys.argv[3])):
    with reg.edit("ab", f"save {number}") as edit:
        edit.put("sites", [{"site": "S1", "name": f"name {number}"}])
        edit.put("snags", [{"site": "S1", "snag": number, "what": "x" * 200}])
    print(edit.commit, flush=True)
"""
MARK = "save-begins"


def traced(root: Path, words: list[str], log: Path | str) -> subprocess.CompletedProcess[str]:
    """Run one save of a process of its own under strace."""
    writer = WRITER.replace("reg = open", "import os\nreg = open", 1).replace(
        "for number", f"reg.table('snags')\nos.access('/{MARK}', 0)\nfor number", 1
    )
    command = ["strace", "-f", "-qq", "-o", str(log), *words, sys.executable, "-c", writer, str(root), "2", "1"]
    env = {**os.environ, "PYTHONHASHSEED": "0", "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(command, capture_output=True, text=True, env=env)


def calls_of_a_save(root: Path, tmp_path: Path) -> list[tuple[str, int]]:
    """Return every system call of the main thread during a save, as its name and its how-manieth of that name."""
    log = tmp_path / "calls"
    copy = tmp_path / "traced"
    shutil.copytree(root, copy)
    traced(copy, [], log)
    counts: dict[str, int] = {}
    found, begun, main = [], False, ""
    for line in log.read_text(errors="replace").splitlines():
        thread, _, rest = line.partition(" ")
        main = main or thread
        name = rest.strip().partition("(")[0]
        if thread != main or not name.isidentifier():
            continue
        counts[name] = counts.get(name, 0) + 1
        if begun:
            found.append((name, counts[name]))
        begun = begun or MARK in rest
    shutil.rmtree(copy)
    return found


@pytest.mark.long
@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is of Linux")
def test_killed_at_every_system_call(root, tmp_path, record_property):
    """A process killed at any one system call of a save, whichever it is, leaves a whole register."""
    calls = calls_of_a_save(root, tmp_path)
    assert {"write", "fsync", "unlink"} <= {name for name, _ in calls} and len(calls) > 100
    kills = 0
    for call, when in calls:
        target = tmp_path / "killed"
        shutil.copytree(root, target)
        words = ["-e", f"trace={call}", "-e", f"inject={call}:signal=SIGKILL:when={when}"]
        out = traced(target, words, os.devnull)
        kills += out.returncode != 0
        sound(target, 3 if out.stdout.split() else 2, 3)
        shutil.rmtree(target)
    record_property("kills", kills)
    print(f"killed {kills} times at {len(calls)} calls")
    assert kills > len(calls) * 0.9


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is of POSIX")
@pytest.mark.parametrize("rounds", [4, pytest.param(400, marks=pytest.mark.long)])
def test_killed_at_odd_moments(root, rounds):
    """A process that saves without end, killed at a moment by chance, again and again in one register."""
    chance = random.Random(3)
    import time

    for _ in range(rounds):
        at = open(root).commit
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(root), str(at), "10000"], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        acknowledged = [int(process.stdout.readline())]
        time.sleep(chance.random() * 0.08)
        process.send_signal(signal.SIGKILL)
        acknowledged += [int(line) for line in process.stdout.read().split()]
        process.wait()
        now = open(root)
        assert now.commit - max(acknowledged) in (0, 1) and len(now.table("snags")) == now.commit
    assert len(open(root).verify()) == 0
    assert isinstance(open(root)._store.blobs.files, LocalFolder)
