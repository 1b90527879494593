"""Packs: a register of many years has few files, and answers, verifies, mends and forgets as if they lay singly."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path

import pytest
from long_life import grow, long_lived, unflushed
from test_mend import state, tree

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care import packing, tidy
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.places.pack_file import pack_named
from fibrebook.register.places.where import blobs_for
from fibrebook.register.store.state import signed, unsigned

pytest_plugins = ["places"]


@pytest.fixture(autouse=True)
def small_packs(monkeypatch):
    """Eight commits a block, the newest four by themselves, so that few commits show what many do."""
    monkeypatch.setattr(packing, "EACH", 8)
    monkeypatch.setattr(packing, "LOOSE", 4)


def packed(reg) -> int:
    """Pack what is old in a register, whatever its age."""
    return packing.pack_old(reg._store, 0)


def worked(where, commits: int):
    """Make a register of some commits over two sites, some of them with personal data."""
    reg = create(where, name="Test")
    if hasattr(reg._store.blobs.files, "disk"):
        unflushed(reg)
    for n in range(1, commits + 1):
        with reg.edit("ab", f"visit {n}") as edit:
            edit.put("sites", [{"site": f"S{n % 2}", "name": f"name {n}", "contact": "gatekeeper" if n < 6 else "n/a"}])
    return reg


@pytest.fixture(scope="module")
def singly(tmp_path_factory) -> Path:
    """A register of 38 commits, each by itself; a whole state stands in the 32nd."""
    return Path(worked(tmp_path_factory.mktemp("packs") / "singly", 38).where)


@pytest.fixture
def reg(singly, tmp_path):
    """A copy of it, packed."""
    found = open(shutil.copytree(singly, tmp_path / "r"))
    assert packed(found) == 64
    return open(found.where)


def names(root) -> list[str]:
    """The packs of a register."""
    return sorted(p.name for p in (Path(root) / "packs").glob("*.zip"))


def answers(where) -> list:
    """What a register answers, each of its states too."""
    at = [open(where, at=n).table("sites").to_csv() for n in range(1, open(where).commit + 1)]
    return [*state(Path(where)), *at, open(where).log(last=3).to_csv(), open(where).history("sites", "S1").to_csv()]


def test_a_packed_register_answers_as_it_did(singly, reg):
    """Every state, the log, the history; verify is clean; eight packs and the newest commits are all there is."""
    assert answers(reg.where) == answers(singly) and len(reg.verify()) == 0
    assert [n.rpartition("-")[0] for n in names(reg.where)] == [
        f"{kind}-{first:08d}-{first + 7:08d}" for kind in ("changes", "commits") for first in (1, 9, 17, 25)
    ]
    for folder in ("commits", "changes"):
        assert [p.name[:8] for p in sorted((Path(reg.where) / folder).iterdir())] == [f"{n:08d}" for n in range(33, 39)]
    assert packed(reg) == 0


def test_any_unzip_gives_the_files_back(singly, reg):
    """A pack is a plain ZIP archive; unpacked in the register's folder it is the register as it was, to the last bit."""
    for name in names(reg.where):
        with zipfile.ZipFile(Path(reg.where) / "packs" / name) as archive:
            archive.extractall(reg.where)
    assert len(open(reg.where).verify()) == 0  # each file twice, and alike
    shutil.rmtree(Path(reg.where) / "packs")
    assert tree(Path(reg.where)) == tree(singly)


def test_the_same_files_make_the_same_packs(singly, reg, tmp_path):
    """Two who pack the same register make the same bytes under the same names."""
    other = open(shutil.copytree(singly, tmp_path / "other"))
    packed(other)
    assert tree(Path(other.where)) == tree(Path(reg.where))


def test_tidy_packs_what_is_older_than_a_day(singly, tmp_path):
    """Tidying packs; what was saved within the day is left alone."""
    reg = open(shutil.copytree(singly, tmp_path / "r"))
    done = reg.tidy(10_000, "ab", "room")
    assert done.packed == 0 and not (tmp_path / "r" / "packs").exists()
    done = tidy.tidy(reg._store, 10_000, "ab", "room", grace_s=0)
    assert done.packed == 64 and "64 old files put together" in str(done)
    assert answers(reg.where) == answers(singly)


def test_saving_goes_on_and_later_packs_join(reg):
    """Edits, undo of a packed commit, a second packing: numbers rise by one, nothing is packed twice."""
    for n in range(39, 49):
        with reg.edit("cd", "later") as edit:
            edit.put("sites", [{"site": "S1", "notes": f"later {n}"}])
    assert reg.commit == 48
    before = names(reg.where)
    assert packed(reg) == 16 and set(before) < set(names(reg.where)) and len(names(reg.where)) == 10
    assert reg.undo(48, "ab", "back") == 49
    with pytest.raises(errors.ConflictError):
        reg.undo(2, "ab", "back")
    assert len(open(reg.where).verify()) == 0


def test_a_handle_that_was_open_all_the_while_follows(singly, tmp_path):
    """One opened before the packing, with little read, finds the newest commit and every earlier one; so does a writer."""
    where = shutil.copytree(singly, tmp_path / "r")
    for commit_known in (0, 5, 38):
        old = open(where)
        old._store.log._newest = commit_known
        packed(open(where))
        assert old.commit == open(where).commit and len(old.log()) == old.commit
        with old.edit("cd", "after") as edit:
            edit.put("sites", [{"site": "S0", "notes": f"{commit_known}"}])
    assert open(where).commit == 41 and len(open(where).verify()) == 0


def test_a_writer_who_slept_while_his_number_was_packed_takes_the_next(singly, tmp_path, monkeypatch):
    """He had looked, and found the number free; he wakes after a packing and makes the file: it goes, he comes later."""
    from fibrebook.register.places.folder import LocalFolder

    where = shutil.copytree(singly, tmp_path / "r")
    sleeper, others = open(where), open(where)
    edit = sleeper.edit("cd", "slept")
    edit.put("sites", [{"site": "S9", "name": "late"}])
    real = LocalFolder.create
    slept = []

    def create_late(self, path, data):
        if path == "commits/00000039.json" and self is sleeper._store.blobs.files and not slept:
            slept.append(path)
            for n in range(16):
                with others.edit("ef", f"{n}") as other:
                    other.put("sites", [{"site": "S1", "notes": f"meanwhile {n}"}])
            assert packed(others) == 96
        return real(self, path, data)

    monkeypatch.setattr(LocalFolder, "create", create_late)
    assert edit.finish() == 55 and slept
    now = open(where)
    assert now.commit == 55 and len(now.verify()) == 0 and not (where / "commits" / "00000039.json").exists()
    assert now.table("sites").site.tolist() == ["S0", "S1", "S9"]


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> Path:
    """A register of 13 commits: one block to pack."""
    return Path(worked(tmp_path_factory.mktemp("small") / "r", 13).where)


def test_packing_that_is_killed_at_any_step_loses_nothing(small, tmp_path, monkeypatch):
    """Stopped before any of its steps: everything reads, verify is clean; packed again it is as if never stopped."""
    from fibrebook.register.places.folder import Disk

    right, whole = answers(small), None
    for stop in range(100):
        root = shutil.copytree(small, tmp_path / "r")
        steps = [0]
        with monkeypatch.context() as patch:
            for name in ("write", "link", "unlink", "rename_over"):
                real = getattr(Disk, name)

                def step(self, *args, real=real, steps=steps, stop=stop):
                    steps[0] += 1
                    if steps[0] > stop:
                        raise KeyboardInterrupt
                    return real(self, *args)

                patch.setattr(Disk, name, step)
            try:
                packed(open(root))
                ended = True
            except KeyboardInterrupt:
                ended = False
        if stop % 5 == 2 or ended:
            assert answers(root) == right, stop
        assert len(open(root).verify()) == 0, stop
        packed(open(root))
        now = {p: d for p, d in tree(root).items() if not p.endswith(".tmp")}
        whole = whole or now
        assert now == whole and len(names(root)) == 2
        shutil.rmtree(root)
        if ended:
            break
    assert ended and stop > 20


def test_a_redaction_reaches_what_is_packed(reg):
    """No pack and no other file holds the value any more; the past still opens; a later packing takes the new files in."""
    assert holding(reg.where, b"gatekeeper")
    done = reg.redact("ab", "asked", site="S1")
    assert done.replaced and len(reg.verify()) == 0
    assert reg.redact("ab", "asked", site="S0").commit and len(open(reg.where).verify()) == 0
    assert not holding(reg.where, b"gatekeeper")
    assert open(reg.where, at=3).table("sites").contact.isna().all()
    assert "gatekeeper" not in open(reg.where).history().to_csv()
    assert packed(open(reg.where)) and len(open(reg.where).verify()) == 0 and not holding(reg.where, b"gatekeeper")
    assert len(names(reg.where)) == 8


def holding(where, text: bytes) -> list[str]:
    """The files in which a text stands, looked for in packs and in Parquet."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    found = []
    for path in Path(where).rglob("*"):
        if not path.is_file():
            continue
        inside = {path.name: path.read_bytes()}
        if path.suffix == ".zip":
            with zipfile.ZipFile(path) as archive:
                inside = {n: archive.read(n) for n in archive.namelist()}
        for name, data in inside.items():
            if name.endswith(".parquet"):
                data = "".join(str(c.to_pylist()) for c in pq.read_table(pa.BufferReader(data)).columns).encode()
            found += [f"{path.name} {name}"] if text in data else []
    return found


def test_a_redaction_while_somebody_packs_is_not_undone(singly, tmp_path, monkeypatch):
    """What is taken out between the reading for a pack and its making does not stand in the pack in the end."""
    reg = open(shutil.copytree(singly, tmp_path / "r"))
    other = open(reg.where)
    real = packing.made

    def made_late(members):
        if "S1" in other.sites() and not other.log().what.isin(["redact"]).any():
            other.redact("ab", "asked", site="S1")
            other.redact("ab", "asked", site="S0")
        return real(members)

    monkeypatch.setattr(packing, "made", made_late)
    packed(reg)
    assert not holding(reg.where, b"gatekeeper") and len(open(reg.where).verify()) == 0


@pytest.mark.parametrize("spoil", ["flip", "lost", "cut"])
@pytest.mark.parametrize("kind", ["commits", "changes"])
def test_a_damaged_pack_is_named_once_and_the_newest_state_opens(singly, reg, tmp_path, kind, spoil):
    """The newest state is answered; what is in the pack is refused in words; with any good copy all comes back."""
    right = state(Path(reg.where))
    path = Path(reg.where) / "packs" / next(n for n in names(reg.where) if n.startswith(kind))
    data = path.read_bytes()
    if spoil == "lost":
        path.unlink()
    else:
        path.write_bytes(data[:-40] if spoil == "cut" else data[:99] + bytes([data[99] ^ 8]) + data[100:])
    now = open(reg.where)
    assert now.commit == 38 and now.table("sites").name.tolist() == ["name 38", "name 37"]
    with pytest.raises(errors.DamagedError, match=r"run mend|restore"):
        open(reg.where).history()
    if spoil != "lost":
        assert now.verify().file.tolist() == [f"packs/{path.name}"]
    for source in (singly, tmp_path / "packed too"):
        copy = Path(shutil.copytree(reg.where, tmp_path / "copy"))
        if source != singly:
            packed(open(shutil.copytree(singly, source)))
        done = mend_place(copy, "ab", "x", source)
        assert all(m.ok for m in done) and state(copy) == right and len(open(copy).verify()) == 0, done
        shutil.rmtree(copy)


def test_two_packs_that_differ_are_noticed_and_brought_together(singly, tmp_path):
    """Two copies of one folder went their own ways, both were packed, a synchronising drive lays the packs together."""
    one, two = (open(shutil.copytree(singly, tmp_path / n)) for n in ("one", "two"))
    for reg, site, count in ((one, "S1", 15), (two, "S5", 12)):
        for n in range(count):
            with reg.edit("ab", f"{site} {n}") as edit:
                edit.put("sites", [{"site": site, "notes": f"{site} {n}"}])
        packed(reg)
    for path in Path(two.where).rglob("*"):
        target = Path(one.where) / path.relative_to(two.where)
        if path.is_file() and not (target.exists() and target.read_bytes() == path.read_bytes()):
            target.parent.mkdir(exist_ok=True)
            shutil.copy(path, target.with_stem(f"{path.stem} (two's)") if target.exists() else target)
    with pytest.raises(errors.DamagedError, match="places that differ"):
        open(one.where).log()
    assert any("places that differ" in w for w in open(one.where).verify().what)
    done = mend_place(one.where, "cd", "together")
    assert all(m.ok for m in done), [m for m in done if not m.ok]
    now = open(one.where)
    assert now.table("sites").set_index("site").notes.fillna("").to_dict() == {"S0": "", "S1": "S1 14", "S5": "S5 11"}
    assert len(now.verify()) == 0 and mend_place(one.where, "cd", "again") == []


def test_a_file_that_lies_by_itself_and_otherwise_in_a_pack_is_noticed(reg, singly):
    """Neither is preferred in silence; mend keeps the one that the chain proves."""
    path = Path(reg.where) / "commits" / "00000005.json"
    path.write_bytes(signed({**unsigned((singly / "commits" / path.name).read_bytes()), "by": "zz"}))
    with pytest.raises(errors.DamagedError, match="2 places that differ"):
        open(reg.where).log()
    assert all(m.ok for m in mend_place(reg.where, "ab", "x")) and len(open(reg.where).verify()) == 0
    assert open(reg.where).log().by.tolist() == ["ab"] * 38


def test_copies_are_packed_as_the_register_is(reg, tmp_path):
    """A whole copy has the packs as they are, is worked in and brought back; one of a site has no past to pack."""
    copy = reg.take_away(tmp_path / "copy")
    assert names(copy.where) == names(reg.where) and len(copy.verify()) == 0
    assert tree(Path(copy.where)) == tree(Path(reg.where))
    with copy.edit("cd", "there") as edit:
        edit.put("sites", [{"site": "S1", "notes": "there"}])
    assert reg.bring_back(copy.where, "ab", "back") == 39
    assert open(reg.where).table("sites").notes.fillna("").tolist() == ["", "there"]
    part = reg.take_away(tmp_path / "part", site="S1")
    assert part.commit == 1 and not (tmp_path / "part" / "packs").exists()


def test_in_a_bucket_as_in_a_folder(where):
    """The same packing in any place: it answers, verifies and redacts."""
    reg = worked(where, 14)
    told = [reg.history().to_csv(), reg.log().to_csv()]
    assert packed(reg) == 16
    for handle in (reg, open(where)):
        assert [handle.history().to_csv(), handle.log().to_csv()] == told and handle.commit == 14
    assert not [p for p in blobs_for(where).everything() if p.startswith("commits/") and p < "commits/00000009"]
    assert len(open(where).verify()) == 0 and open(where, at=3).table("sites").name.tolist() == ["name 2", "name 3"]
    reg.redact("ab", "asked", site="S1")
    assert "gatekeeper" not in open(where).history(site="S1").to_csv() and len(open(where).verify()) == 0


def test_a_pack_that_tells_otherwise_is_not_believed(reg):
    """A ZIP that would expand without end, lacks commits, or leads out of the register is damaged, not read."""
    from fibrebook.register.store.state import digest

    folder = Path(reg.where) / "packs"
    path = folder / next(n for n in names(folder.parent) if n.startswith("commits-00000001"))
    with zipfile.ZipFile(path) as archive:
        members = {n: archive.read(n) for n in archive.namelist()}
    path.unlink()
    bad = {
        "lacks": {n: d for n, d in members.items() if "003" not in n},
        "leads out": {**members, "../commits/00000001.json": b"{}"},
        "expands": {**members, "commits/00000001.json": b"0" * 260_000_000},
    }
    for what, files in bad.items():
        made = folder / "made.zip"
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in files.items():
                archive.writestr(name, data)
        name = f"commits-00000001-00000008-{digest(made.read_bytes())[:32]}.zip"
        made.rename(folder / name)
        assert pack_named(name)
        with pytest.raises(errors.DamagedError, match="packs/commits-00000001"):
            open(reg.where).log()
        assert f"packs/{name}" in open(reg.where).verify().file.tolist(), what
        assert open(reg.where).commit == 38
        (folder / name).unlink()


def test_registers_of_the_first_format_are_packed_after_an_upgrade_only(tmp_path):
    """They open and answer as before; tidying upgrades them by a commit first, so that an older fibrebook refuses."""
    old = Path(__file__).parent / "registers" / "format_1" / "register"
    reg = open(shutil.copytree(old, tmp_path / "r"))
    assert packed(reg) == 0 and reg.commit == 3
    tidy.tidy(reg._store, 10_000, "ab", "room", grace_s=0)
    assert reg.log().what.tolist()[-1] == "upgrade" and reg._store.log.state(reg.commit).format == 2
    tables = [ref for files in reg._store.log.commit(4)["segments"].values() for ref in files.values()]
    assert not tables and len(reg.verify()) == 0


def test_the_kept_register_of_format_2_holds_packs():
    """What is kept of the format has what the format is about."""
    kept = Path(__file__).parent / "registers" / "format_2" / "register"
    assert len(names(kept)) == 2 and not (kept / "commits" / "00000008.json").exists()


def test_an_older_fibrebook_refuses_a_packed_register_in_words(reg, monkeypatch):
    """To one that reads format 1 alone every newest state is of a newer fibrebook."""
    import sys

    for name, module in list(sys.modules.items()):
        if name.startswith("fibrebook.register") and getattr(module, "FORMAT", None) == 2:
            monkeypatch.setattr(module, "FORMAT", 1)
    with pytest.raises(errors.FormatError, match="install the newer fibrebook"):
        open(reg.where)


def test_opening_and_looking_back_read_few_files(tmp_path, monkeypatch):
    """However many commits are packed, opening reads the newest alone, and a record's history no pack."""
    monkeypatch.setattr(packing, "EACH", 64)
    reg = long_lived(tmp_path / "r", 300)
    reg.history()
    packed(unflushed(reg))
    read = []
    files = type(reg._store.blobs.files)
    real = files.read
    monkeypatch.setattr(files, "read", lambda s, path: (read.append(path), real(s, path))[1])
    fresh = open(reg.where)
    fresh.table("sites")
    assert len(fresh.history("sites", "S3")) == 30 and len(fresh.log(last=20)) == 20
    assert not [p for p in read if p.startswith("packs/")], read
    assert len(open(reg.where).log()) == 300
    grow(reg, 3)
    assert open(reg.where).commit == 303
