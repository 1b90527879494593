"""Mending never makes a register older or unreadable: the last true state, or nothing touched and the reason said."""

from __future__ import annotations

import io
import random
import shutil
import warnings
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from small_picture import PICTURE

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care import packing, tidy
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.photos import keep_photo
from fibrebook.register.places.where import blobs_for
from fibrebook.register.store.state import commit_path, digest, digest_checked, with_digest

pytest_plugins = ["places"]
Tree = dict[str, bytes]


def tree(root: Path) -> Tree:
    """Return every file of a folder by its path in it; what mending put away is told by its own tests."""
    found = {p.relative_to(root).as_posix(): p.read_bytes() for p in sorted(root.rglob("*")) if p.is_file()}
    return {p: d for p, d in found.items() if not p.startswith("replaced/")}


def commit_file(root: Path, number: int) -> Path:
    """Return the path of a commit file."""
    return root / "commits" / f"{number:08d}.json"


def grown(root: Path, commits: int, tidied: bool = False, packed: bool = False) -> Path:
    """Make a register of some commits over several tables, with a photo, a kept edit and what a lost try left.

    `tidied`: before the photo; `packed`: by that tidying, two commits in each pack and the newest by itself.
    """
    reg = create(root, name="Test")
    for n in range(1, commits):
        with reg.edit("ab", f"visit {n}") as edit:
            edit.put("sites", [{"site": "S1", "name": f"name {n}", "contact": "keeper"}])
            if n % 2:
                edit.put("snags", [{"site": "S1", "snag": n, "what": "open"}])
            if n == 2:
                edit.put("sites", [{"site": "S2"}])
    if packed:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(packing, "EACH", 2)
            patch.setattr(packing, "LOOSE", 1)
            assert tidy.tidy(reg._store, 0, "ab", "room", grace_s=0).packed
    elif tidied:
        reg.tidy(0, "ab", "room")
    name = keep_photo(reg, PICTURE)
    with reg.edit("cd", "photo") as edit:
        edit.put("photos", [{"site": "S1", "photo": "1", "file": name}])
    late = reg.edit("ab", "late", base=commits - 2)
    late.put("sites", [{"site": "S1", "name": "mine"}])
    with pytest.raises(errors.ConflictError):
        late.finish()
    return root


def state(root: Path) -> list:
    """Return everything that the register answers at its newest commit and of its past; errors by their kind."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        out: list = []
        asks: list[Callable[[], object]] = [
            lambda: (open(root).id, open(root).commit),
            lambda: {n: t.to_pylist() for n, t in open(root).tables().items()},
            lambda: open(root).log().to_csv(),
            lambda: sorted(open(root).history().to_csv(index=False).splitlines()),
        ]
        for ask in asks:
            try:
                out.append(ask())
            except errors.FibrebookError as error:
                out.append(type(error).__name__)
        return out


def damages(root: Path, other: Path, chance: random.Random, each: int) -> Iterator[tuple[str, Tree]]:
    """Give every sort of damage to every single file, as its name and the files that it leaves."""
    true, foreign = tree(root), tree(other)
    first, newest = blobs_for(root).read(commit_path(1)), open(root).commit
    for path, data in true.items():
        folder, _, name = path.rpartition("/")
        beside = [p for p in true if p.rpartition("/")[0] == folder and p != path]
        place = sorted([*beside, path]).index(path)
        for bit in chance.sample(range(len(data) * 8), each):
            turned = bytearray(data)
            turned[bit // 8] ^= 1 << (bit % 8)
            yield f"bit {bit} of {path}", {**true, path: bytes(turned)}
        yield f"{path} cut", {**true, path: data[: chance.randrange(1, len(data))]}
        yield f"{path} emptied", {**true, path: b""}
        yield f"{path} lost", {p: d for p, d in true.items() if p != path}
        elsewhere = [chance.choice([p for p in true if p not in (path, *beside)])]
        for one in {*chance.sample(beside, min(1, len(beside))), *beside[place - 1 : place], *elsewhere}:
            yield f"{path} and {one} swapped", {**true, path: true[one], one: data}
            yield f"{path} replaced by {one}", {**true, path: true[one]}
        if name.removesuffix(".json").isdecimal():
            after = commit_path(newest + 1)
            yield f"{path} replaced by commit 1", {**true, path: first}
            yield f"{path} as {after}", {**true, after: data}
        same = [p for p in foreign if p.rpartition("/")[0] == folder]
        yield f"{path} of another register", {**true, path: foreign[path if path in foreign else chance.choice(same)]}
        if folder == "packs":
            alike = [p for p in same if p.split("-")[:3] == path.split("-")[:3]]
            renamed = {p: d for p, d in true.items() if p != path} | {path.replace("0000", "copy"): data}
            yield f"{path} renamed", renamed
            yield f"{path} and another register's", {**true, alike[0]: foreign[alike[0]]}
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                inside = {n: archive.read(n) for n in archive.namelist()}
            one = chance.choice(list(inside))
            yield f"{one} by itself too", {**true, one: inside[one]}
            yield f"{one} by itself too, and cut", {**true, one: inside[one][:-9]}
        double = f"{path.rpartition('.')[0]} (copy).{path.rpartition('.')[2]}"
        yield f"{path} twice", {**true, double: data}


def lay(files: Tree, root: Path) -> Path:
    """Write files into a new folder."""
    shutil.rmtree(root, ignore_errors=True)
    for path, data in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(data)
    return root


def hold_to_the_promise(root: Path, files: Tree, what: str, tmp_path: Path) -> str:
    """Mend one damage without and with a good source; return what became of it without."""
    right = state(root)
    true = tree(root)
    copy = lay(files, tmp_path / "copy")
    planned = mend_place(copy, "", "", dry_run=True)
    assert tree(copy) == files, f"{what}: a dry run changed something"
    done = mend_place(copy, "ab", "mended")
    told = [(m.file, m.how.split(" (")[0]) for m in done if "kept as" not in m.how]
    assert told == [(m.file, m.how.split(" (")[0]) for m in planned if "kept as" not in m.how], what
    now = tree(copy)
    fate = "mended" if same(state(copy), right) else "refused"
    if fate == "refused":
        assert now == files, f"{what}: neither mended nor left alone: {done}"
        assert state_of_records_elsewhere(files, true) or any(not m.ok for m in done), f"{what}: {done}"
    gone = {d for p, d in files.items() if p not in now or now[p] != d} - set(now.values())
    put_away = {p.read_bytes() for p in (copy / "replaced").glob("*")}
    assert {d for d in gone if d} <= put_away, f"{what}: bytes are gone"
    assert all(m.file in {d.file for d in done} for m in mend_place(copy, "ab", "again")), what
    with_source = lay(files, tmp_path / "with source")
    done = mend_place(with_source, "ab", "from the backup", root)
    assert same(state(with_source), right), f"{what}: not the true state with a good source: {done}"
    return fate


def same(now: list, right: list) -> bool:
    """Tell whether a register answers as it did; a commit of the mending itself may stand on top."""
    if now == right:
        return True
    if isinstance(now[0], str) or now[0][1] != right[0][1] + 1 or now[1] != right[1] or now[3] != right[3]:
        return False
    return "mend" in now[2].splitlines()[-1] and now[2].startswith(right[2])


def state_of_records_elsewhere(files: Tree, true: Tree) -> bool:
    """Tell whether only the newest commit file is gone: the register then looks as it did before it was made."""
    newest = max(p for p in true if p.startswith("commits/"))
    return newest not in files or [p for p in true if files.get(p) != true[p]] == []


@pytest.fixture(scope="module", params=["whole past", pytest.param("tidied", marks=pytest.mark.long), "packed"])
def made(request, tmp_path_factory) -> tuple[Path, Path]:
    """A register and another one like it."""
    place = tmp_path_factory.mktemp("mend")
    how = request.param
    reg, other = (grown(place / n, 5, how == "tidied", how == "packed") for n in ("reg", "other"))
    assert len([p for p in tree(reg) if p.startswith("packs/")]) == (4 if how == "packed" else 0)
    return reg, other


@pytest.mark.parametrize("each", [1, pytest.param(40, marks=pytest.mark.long)])
def test_any_damage_of_one_file_is_mended_or_nothing_is_touched(made, tmp_path, each, record_property):
    """Bits, cuts, losses, swaps, neighbours, older ones, strangers, doubles, packs too: the true state, or untouched.

    With a good source it is the true state always. Bytes that were replaced are kept; a second mend finds no more.
    """
    root, other = made
    chance = random.Random(11)
    found = list(damages(root, other, chance, each))
    if each == 1:
        of_packs, others = ([d for d in found if ("packs/" in d[0]) == packed] for packed in (True, False))
        found = chance.sample(of_packs, min(20, len(of_packs)))
        found += chance.sample(others, 30 - len(found))
    fates = [hold_to_the_promise(root, files, what, tmp_path) for what, files in found]
    record_property("damages", len(fates))
    print({fate: fates.count(fate) for fate in sorted(set(fates))})
    assert fates.count("mended") > len(fates) / 3


@pytest.fixture(scope="module")
def many(tmp_path_factory) -> Path:
    """A register of 36 commits, so that a whole state stands above the damage and all can be read."""
    return grown(tmp_path_factory.mktemp("many") / "reg", 36)


def swap(root: Path) -> None:
    """Let two commit files change their names."""
    nine, ten = commit_file(root, 9).read_bytes(), commit_file(root, 10).read_bytes()
    commit_file(root, 9).write_bytes(ten)
    commit_file(root, 10).write_bytes(nine)


SPOILT: dict[str, tuple[Callable[[Path], object], bool]] = {  # what is done, whether it can be mended from here
    "a neighbour over it": (lambda r: shutil.copy(commit_file(r, 9), commit_file(r, 10)), False),
    "edited": (lambda r: reworded(commit_file(r, 10)), False),
    "two swapped": (swap, True),
    "another's register.json": (lambda r: shutil.copy(create(r.parent / "b").where + "/register.json", r), False),
}


def reworded(path: Path) -> None:
    """Let a commit say something else, its own digest put right."""
    path.write_bytes(with_digest({**(digest_checked(path.read_bytes()) or {}), "by": "zz"}))


@pytest.mark.parametrize("name", list(SPOILT))
def test_a_commit_file_that_is_not_the_true_one_costs_nothing(many, tmp_path, name):
    """All later commits stay; without a source it is mended or refused, with one it is mended."""
    spoil, alone = SPOILT[name]
    root = Path(shutil.copytree(many, tmp_path / "reg"))
    spoil(root)
    spoilt, right = tree(root), state(many)
    done = mend_place(root, "ab", "x")
    assert all(m.ok for m in done) == alone and len(done) in (1, 2), done
    assert (tree(root) == tree(many)) if alone else (tree(root) == spoilt)
    assert state(root)[1] == right[1]
    assert all(m.ok for m in mend_place(root, "ab", "x", many))
    assert tree(root) == tree(many) and state(root) == right and len(open(root).verify()) == 0
    assert mend_place(root, "ab", "again") == []


def test_what_an_earlier_mend_set_aside_comes_back(many, tmp_path):
    """Commits that lie in `aside` because one below them was lost are a chain again once a backup gives that one."""
    root = Path(shutil.copytree(many, tmp_path / "reg"))
    (root / "aside").mkdir()
    for number in range(11, open(many).commit + 1):
        path = commit_file(root, number)
        path.rename(root / "aside" / f"{digest(path.read_bytes())}.json")
    shutil.copy(commit_file(root, 9), commit_file(root, 10))
    before = tree(root)
    assert not all(m.ok for m in mend_place(root, "ab", "x")) and tree(root) == before
    assert all(m.ok for m in mend_place(root, "ab", "x", many))
    assert tree(root) == tree(many)


def test_a_lost_newest_commit_is_not_taken_from_a_copy_that_went_on_by_itself(many, tmp_path):
    """A commit made in a copy is no lost one of ours: nothing of it is here. It comes by bring-back, not by mend."""
    root = Path(shutil.copytree(many, tmp_path / "reg"))
    copy = open(root).take_away(tmp_path / "copy")
    with copy.edit("cd", "there") as edit:
        edit.put("sites", [{"site": "S1", "name": "there"}])
    before = tree(root)
    assert mend_place(root, "ab", "x", copy.where) == [] and tree(root) == before


def test_replaced_bytes_are_kept_until_the_next_tidy_and_never_past_a_redaction(many, tmp_path):
    """What mend put away lies in `replaced`, is not copied away, and goes with a tidy or a redaction."""
    for put_in_order in (lambda r: r.tidy(1, "ab", "room"), lambda r: r.redact("ab", "asked", site="S1")):
        root = Path(shutil.copytree(many, tmp_path / "reg"))
        bad = commit_file(root, 10).read_bytes()[:-9]
        commit_file(root, 10).write_bytes(bad)
        assert mend_place(root, "ab", "x", many)[0].ok
        assert [p.read_bytes() for p in (root / "replaced").iterdir()] == [bad]
        assert len(open(root).verify()) == 0
        assert not (Path(open(root).take_away(tmp_path / "copy").where) / "replaced").exists()
        put_in_order(open(root))
        assert list((root / "replaced").iterdir()) == [] and len(open(root).verify()) == 0
        for folder in (root, tmp_path / "copy"):
            shutil.rmtree(folder)


def test_a_mend_that_is_broken_off_at_any_step_is_taken_up_again(many, tmp_path, monkeypatch):
    """Stopped before any of its steps and begun again: the register is what it was, and no byte of it was gone."""
    from fibrebook.register.places.folder import LocalFolder

    true = tree(many)
    whole = {n: getattr(LocalFolder, n) for n in ("create", "replace", "delete")}
    stops = 0
    for stop in range(60):
        root = Path(shutil.copytree(many, tmp_path / "reg"))
        swap(root)
        commit_file(root, 5).write_bytes(true["commits/00000005.json"][:-50])
        next((root / "tables" / "sites").iterdir()).write_bytes(b"spoilt")
        steps = [0]

        def broken(self, *args, name, steps=steps, stop=stop):
            steps[0] += 1
            if steps[0] > stop:
                raise KeyboardInterrupt
            return whole[name](self, *args)

        with monkeypatch.context() as patch:
            for name in whole:
                patch.setattr(LocalFolder, name, lambda self, *a, name=name: broken(self, *a, name=name))
            try:
                mend_place(root, "ab", "x", many)
                ended = True
            except KeyboardInterrupt:
                ended = False
        mend_place(root, "ab", "again", many)
        assert tree(root) == true, f"stopped at step {stop}"
        shutil.rmtree(root)
        stops = stop
        if ended:
            break
    assert stops > 5


def test_what_waits_for_another_file_is_mended_in_the_same_go(many, tmp_path):
    """A lost file of rows is worked out from history files that lay under each other's names: one mend does both."""
    root = Path(shutil.copytree(many, tmp_path / "reg"))
    one, two = sorted((root / "changes").iterdir())[20:22]
    first = one.read_bytes()
    one.write_bytes(two.read_bytes())
    two.write_bytes(first)
    for number in (20, 21, 22, 23):
        for files in digest_checked(commit_file(root, number).read_bytes())["segments"].values():
            for ref in files.values():
                (root / ref["file"]).write_bytes(b"")
    assert all(m.ok for m in mend_place(root, "ab", "x")) and mend_place(root, "ab", "again") == []
    assert tree(root) == tree(many)


@pytest.mark.parametrize("columns", [None, ["sites.name"], ["snags.what"]])
def test_what_a_lost_redaction_took_out_does_not_come_back_from_an_old_backup(many, tmp_path, columns):
    """With the redaction's own commit lost, its files look like a loss: an older backup must not undo it."""
    root = Path(shutil.copytree(many, tmp_path / "reg"))
    done = open(root).redact("ab", "asked", site="S1", columns=columns)
    good = Path(shutil.copytree(root, tmp_path / "good"))
    commit_file(root, done.commit).unlink()
    before = tree(root)
    told = mend_place(root, "ab", "x", many)
    assert tree(root) == before and told and all("may have taken" in m.how for m in told)
    assert all(m.ok for m in mend_place(root, "ab", "x", good)) and tree(root) == tree(good)
    assert mend_place(root, "ab", "x", many) == []


@pytest.mark.parametrize("spoil", ["neighbour", "lost segment"])
def test_in_a_bucket_as_in_a_folder(where, tmp_path, spoil):
    """The same plan, the same refusal, the same source, whatever the place."""
    reg = create(where)
    for n in range(4):
        with reg.edit("ab", f"{n}") as edit:
            edit.put("sites", [{"site": "S1", "name": f"name {n}"}])
    copy = reg.take_away(tmp_path / "copy")
    blobs = blobs_for(where)
    if spoil == "neighbour":
        blobs.replace("commits/00000002.json", blobs.read("commits/00000001.json"))
        assert [m.ok for m in mend_place(where, "", "", dry_run=True)] == [False]
    else:
        blobs.delete(next(p for p in blobs.everything() if p.startswith("tables/")))
    before = {p: blobs.read(p) for p in blobs.everything()}
    planned = mend_place(where, "", "", copy.where, dry_run=True)
    assert planned and all(m.ok for m in planned)
    assert {p: blobs.read(p) for p in blobs.everything()} == before
    assert mend_place(where, "ab", "x", copy.where) == planned
    assert len(open(where).verify()) == 0 and open(where).table("sites").name.tolist() == ["name 3"]
    assert {p for p in blobs.everything() if not p.startswith("replaced/")} == set(blobs_for(copy.where).everything())


def test_the_command_tells_beforehand_what_it_would_do(many, tmp_path):
    """`mend --dry-run` needs no initials and changes nothing; it ends as mend would, with a code that something is left."""
    from test_cli import run

    root = Path(shutil.copytree(many, tmp_path / "reg"))
    shutil.copy(commit_file(root, 9), commit_file(root, 10))
    before = tree(root)
    told = run("-r", root, "mend", "--dry-run")
    assert "nothing was changed" in told.out and "cannot be mended" in told.out and told.code != 0
    told = run("-r", root, "mend", "--dry-run", "--source", many, "--json")
    assert [(row["file"], row["ok"]) for row in told.json] == [("commits/00000010.json", True)] and told.code == 0
    assert tree(root) == before and run("-r", root, "mend").code != 0
    assert open(root, read_only=True).mend(dry_run=True).ok.tolist() == [False]
    assert run("-r", root, "mend", "--by", "ab", "--why", "x", "--source", many).code == 0
    assert tree(root) == tree(many)
