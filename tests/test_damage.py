"""Any turned bit is found, named, never answered from; mend puts back what can be had; copying the folder is enough."""

from __future__ import annotations

import contextlib
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care.verify import CUT_OFF
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.store.state import digest_checked


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A register of some commits over two segments' worth of tables, with a kept edit."""
    root = tmp_path_factory.mktemp("damage") / "reg"
    reg = create(root, name="Test")
    with reg.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": s, "name": f"site {s}"} for s in ("S1", "S2")])
        edit.put("enclosures", [{"site": s, "enclosure": e} for s in ("S1", "S2") for e in ("P1", "P2")])
        edit.put("cables", [{"site": "S1", "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12}])
        edit.put("colour_codes", [{"colour_code": "Ours", "position": 1, "colour": "white"}])
    for n in range(4):
        with reg.edit("cd", f"visit {n}") as edit:
            edit.put("visits", [{"site": "S1", "visit": n, "done": "spliced", "visited_on": "2026-03-31"}])
            edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 80 + n}])
    with reg.edit("ab", "gone") as edit:
        edit.remove("enclosures", [("S2", "P2")])
    late = reg.edit("ab", "late", base=4)
    late.put("cables", [{"site": "S1", "cable": "C1", "length_m": 1}])
    with pytest.raises(errors.ConflictError):
        late.finish()
    return root


@pytest.fixture
def root(made, tmp_path):
    """A copy of it to spoil."""
    return Path(shutil.copytree(made, tmp_path / "reg"))


def files_of(root: Path) -> list[Path]:
    """Return every file of a register."""
    return sorted(p for p in root.rglob("*") if p.is_file())


def answers(root: Path) -> list:
    """Return everything that can be asked: each table at each commit, the history, the log, kept edits."""
    reg = open(root)
    out = [reg.name, reg.id, reg.log().to_csv(), reg.history().to_csv(index=False), reg.differences(1).to_csv()]
    for at in range(1, reg.commit + 1):
        out += [{n: t.to_pylist() for n, t in open(root, at=at).tables().items()}, open(root, at=at).sites()]
    for name in reg.pending().name:
        out.append(reg.pending_conflicts(name).to_csv())
    return out


def turn(path: Path, bit: int) -> None:
    """Turn one bit of a file."""
    data = bytearray(path.read_bytes())
    data[bit // 8] ^= 1 << (bit % 8)
    path.write_bytes(bytes(data))


def bits(size: int, count: int, chance: random.Random) -> list[int]:
    """Choose which bits to turn."""
    return sorted(chance.sample(range(size * 8), min(count, size * 8)))


@pytest.mark.parametrize("each", [3, pytest.param(400, marks=pytest.mark.long)])
def test_any_turned_bit_is_found_named_and_never_answered_from(root, each, record_property):
    """In every file of the register: verify names the file; an answer is right or an error, never wrong."""
    right = answers(root)
    assert len(open(root).verify()) == 0
    chance, count = random.Random(5), 0
    homes = open(root)._store.log
    sites_of = {r["file"]: t for n in range(1, 7) for t, f in homes.commit(n)["segments"].items() for r in f.values()}
    for path in files_of(root):
        good = path.read_bytes()
        name = path.relative_to(root).as_posix()
        for bit in bits(len(good), each, chance):
            turn(path, bit)
            count += 1
            try:
                found = open(root).verify()
            except (errors.DamagedError, errors.FormatError):
                from fibrebook.register.care.verify import to_frame, verify
                from fibrebook.register.places.where import blobs_for

                found = to_frame(verify(blobs_for(root)))
            row = found[found.file == name]
            assert len(row), f"bit {bit} of {name} was not found: {found}"
            if name in sites_of:
                assert row.table.tolist() == [sites_of[name]] and row.segment[row.index[0]]
                assert row.segment.tolist() == ["firm"] or "S1" in row.sites[row.index[0]]
            if bit % 5 == 0 or each < 10:
                with contextlib.suppress(errors.FibrebookError):
                    assert answers(root) == right, f"bit {bit} of {name} gave a wrong answer"
            path.write_bytes(good)
    assert answers(root) == right
    record_property("bits", count)
    print(f"{count} bits turned in {len(files_of(root))} files")


@pytest.mark.long
def test_each_segment_and_history_file_is_worked_out_again(root):
    """Every file of rows and of history, lost or spoilt, comes back by mend from what the others hold."""
    right = answers(root)
    for path in files_of(root):
        if path.parts[-2] == "commits" or path.parent == root or "pending" in path.parts:
            continue
        good = path.read_bytes()
        for how in ("lost", "spoilt") if "tables/" in path.as_posix() else ("lost",):
            copy = Path(shutil.copytree(root, root.parent / "copy"))
            there = copy / path.relative_to(root)
            if how == "lost":
                there.unlink()
            else:
                turn(there, len(good) * 4)
            done = mend_place(copy, "ab", "a bad disk")
            assert [d.file for d in done] == [path.relative_to(root).as_posix()] and done[0].ok, done
            assert len(open(copy).verify()) == 0
            now = answers(copy)
            assert now[5 : 5 + 12] == right[5 : 5 + 12]  # every table at every commit
            assert sorted(now[3].splitlines()) == sorted(right[3].splitlines())
            assert mend_place(copy, "ab", "again") == []
            shutil.rmtree(copy)


def test_a_turned_bit_in_a_commit_file_is_turned_back(root):
    """The digests say which bit it was; the file is again what it was, byte for byte."""
    chance = random.Random(2)
    for path in [root / "register.json", *sorted((root / "commits").iterdir())]:
        good = path.read_bytes()
        turn(path, chance.randrange(len(good) * 8))
        done = mend_place(root, "ab", "a bad disk")
        assert len(done) == 1 and done[0].ok and path.read_bytes() == good
        assert digest_checked(good) is not None and len(open(root).verify()) == 0


def test_what_cannot_be_mended_is_said_and_another_copy_helps(root, tmp_path):
    """A lost commit file, or one spoilt all over, is named as beyond mending; a backup brings it back."""
    backup = shutil.copytree(root, tmp_path / "backup")
    good = (root / "commits" / "00000003.json").read_bytes()
    (root / "commits" / "00000003.json").unlink()
    (root / "commits" / "00000002.json").write_bytes(b"rubbish")
    pending = next((root / "pending").iterdir())
    pending.write_bytes(pending.read_bytes()[:200])
    done = mend_place(root, "ab", "a bad disk")
    assert {d.file: d.ok for d in done} == {
        "commits/00000002.json": False, "commits/00000003.json": False, f"pending/{pending.name}": False,
    }  # fmt: skip
    assert all("restore it" in d.how for d in done if d.file.startswith("commits"))
    assert len(mend_place(root, "ab", "from the backup", backup)) == 3
    assert (root / "commits" / "00000003.json").read_bytes() == good and len(open(root).verify()) == 0


def test_a_damaged_file_that_no_commit_names_is_found_and_removed(root):
    """A leftover that is not what its name says would stand in a later save's way; verify names it, mend removes it."""
    there = next((root / "tables" / "cables").iterdir())
    stray = there.with_name("0001-" + "0" * 32 + ".parquet")
    stray.write_bytes(b"half")
    assert open(root).verify().file.tolist() == [f"tables/cables/{stray.name}"]
    assert mend_place(root, "ab", "x")[0].ok and not stray.exists()


COPIER_WRITER = """
import sys
from fibrebook.register import open
reg = open(sys.argv[1])
n = reg.commit
while True:
    n += 1
    with reg.edit("ab", f"save {n}") as edit:
        edit.put("visits", [{"site": "S1", "visit": f"w{n}", "done": "x" * 100}])
        edit.put("snags", [{"site": "S1", "snag": f"w{n}"}])
    print(n, flush=True)
"""


@pytest.mark.parametrize("order", ["names", "backwards", "commits first", "commits last", "chance"])
def test_a_copy_of_the_folder_taken_during_writing_is_a_register(root, tmp_path, order):
    """Whatever order a copier goes in while somebody saves: the copy opens at some commit that was, or says what lacks.

    A copier that takes the commits before the files they name may miss none of those files, because they were there
    before; one that lists first and copies later may have commits without their files only if it listed the folders of
    tables before: then verify names them and mend works them out.
    """
    process = subprocess.Popen([sys.executable, "-c", COPIER_WRITER, str(root)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    first = int(process.stdout.readline())
    chance = random.Random(4)
    try:
        for n in range(3):
            target = tmp_path / f"copy{n}"
            files = files_of(root)
            if order == "backwards":
                files.reverse()
            elif order == "chance":
                chance.shuffle(files)
            elif order.startswith("commits"):
                files.sort(key=lambda p: (p.parts[-2] == "commits") == (order == "commits last"))
            for path in files:
                if path.name.endswith(".tmp"):
                    continue
                (target / path.relative_to(root)).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(path, target / path.relative_to(root))
            copy = open(target)
            assert copy.commit >= first - 1
            assert len(copy.verify()) == 0, copy.verify().to_string()
            visits, snags = set(copy.table("visits").visit), set(copy.table("snags").snag)
            assert {v for v in visits if v.startswith("w")} == snags
            assert copy.commit == 6 + len(snags)
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize("walk", ["tables first", "commits first"])
def test_a_copier_that_lists_folder_by_folder(root, tmp_path, walk):
    """Folders copied one after another while commits land in between: sound, or named and mended."""
    target = tmp_path / "copy"
    folders = ["tables", "changes", "pending", "commits"]
    reg = open(root)
    n = 0
    for folder in folders if walk == "tables first" else folders[::-1]:
        shutil.copytree(root / folder, target / folder)
        with reg.edit("ab", "in between") as edit:
            n += 1
            edit.put("visits", [{"site": "S1", "visit": f"w{n}"}])
    shutil.copy(root / "register.json", target)
    if walk == "commits first":
        assert open(target).commit == 6 and open(target).table("visits") is not None
        assert open(target).verify().what.tolist() == [CUT_OFF.format(8, 6)]  # an attacker would have left just that
        assert all(m.ok for m in mend_place(target, "ab", "backup taken while writing", root))
        assert len(open(target).verify()) == 0 and open(target).commit == 8
        return
    found = open(target).verify()  # commits arrived whose files were copied too early
    assert set(found.what) == {"is missing"} and all(found.file.str.startswith(("tables", "changes")))
    with pytest.raises(errors.DamagedError):
        open(target).table("visits")
    done = mend_place(target, "ab", "backup taken while writing", root)
    assert all(d.ok for d in done) and len(open(target).verify()) == 0
    assert "w1" in open(target).table("visits").visit.tolist()


def test_a_copier_that_goes_by_letter(root, tmp_path):
    """Folders copied by letter (changes, commits, tables) while commits land: tables are right, mend does the rest."""
    target = tmp_path / "copy"
    reg = open(root)
    for n, folder in enumerate(["changes", "commits", "pending", "tables"], 1):
        shutil.copytree(root / folder, target / folder)
        with reg.edit("ab", "in between") as edit:
            edit.put("visits", [{"site": "S1", "visit": f"w{n}"}])
    shutil.copy(root / "register.json", target)
    copy = open(target)
    assert copy.commit == 7 and "w1" in copy.table("visits").visit.tolist()
    assert copy.verify().what.tolist() == ["is missing"]
    done = mend_place(target, "ab", "backup taken while writing")
    assert [d.ok for d in done] == [True] and len(open(target).verify()) == 0
    assert "w1" in [k[1] for k in open(target).history("visits").key]
