"""A disk that fails to confirm once and then says yes: what it dropped is written again, or the user is told."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from small_picture import PICTURE
from test_power_cut import on, save
from weak_disk import NotedDisk, Unsure, lay_down, tree_of

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.photos import keep_photo, photo
from fibrebook.register.places.folder import LocalFolder


@pytest.fixture(autouse=True)
def no_witness(monkeypatch):
    """What the machine saw of a register goes with its power too: nothing of it is kept here."""
    monkeypatch.setenv("FIBREBOOK_WITNESS", os.devnull)


@pytest.fixture
def root(tmp_path):
    """A register with one site and two commits."""
    reg = create(tmp_path / "reg")
    save(reg, 0)
    save(reg, 1)
    return Path(reg.where)


def flushes(disk: NotedDisk) -> list[int]:
    """Return which of the steps were flushes, of content or of names."""
    return [at for at, (what, _, _) in enumerate(disk.steps) if what in ("flush", "names")]


def after_a_cut(start, disk: NotedDisk, tmp_path: Path, check: Callable[[Path], None]) -> int:
    """Check every state that a power cut may leave now; return how many there are."""
    count = 0
    for tree in Unsure(start, disk.steps).outcomes():
        target = tmp_path / "after"
        shutil.rmtree(target, ignore_errors=True)
        check(lay_down(tree, target))
        count += 1
    return count


def saved_as_people_do(reg, number: int) -> list[str]:
    """Save until it is there: try again where nothing was committed, look and leave it where it is not known."""
    told = []
    for _ in range(3):
        try:
            assert save(reg, number) == number + 1
            return told
        except errors.NotCommittedError as error:
            told.append(f"not committed: {error}")
        except errors.UnknownOutcomeError as error:
            told.append(f"not known: {error}")
            assert "did not confirm" in str(error)
            return told
    raise AssertionError(told)


@pytest.mark.parametrize("reopened", [False, True], ids=["same handle", "opened again"])
@pytest.mark.parametrize("first", [False, True], ids=["third commit", "first commit"])
def test_one_failed_flush_at_every_flush_of_a_save(root, tmp_path, first, reopened):
    """Whichever one fails, it is told; what is acknowledged afterwards, and all below it, outlasts a power cut."""
    before = 0 if first else 2
    if first:
        root = Path(create(tmp_path / "new").where)
    start = tree_of(root)
    copy = Path(shutil.copytree(root, tmp_path / "probe" / root.name))
    reg, probe = on(NotedDisk, copy)
    save(reg, before)
    where = flushes(probe)
    assert len(where) > 8
    seen = set()
    for at in where:
        target = Path(shutil.copytree(root, tmp_path / f"try{at}" / root.name))
        reg, disk = on(lambda r, a=at: NotedDisk(r, a, errno.EIO), target)
        told = saved_as_people_do(reg, before)
        assert len(told) == 1, f"step {at} {disk.steps[at]}: not told"
        unknown = told[0].startswith("not known")
        assert disk.steps[at][1].endswith("/commits") or not unknown, disk.steps[at]
        seen.add(told[0].split(":")[0])
        if reopened:
            reg = open(target)
            reg._store.blobs.files.disk = disk
        assert reg.commit == before + 1
        save(reg, before + 1)

        def whole(folder: Path) -> None:
            now = open(folder)
            assert now.commit == before + 2 and len(now.verify()) == 0, now.verify().to_string()
            assert set(now.table("snags").snag.astype(int)) == set(range(before + 2))

        assert after_a_cut(start, disk, tmp_path, whole) > 0
        shutil.rmtree(target)
    assert seen == {"not committed", "not known"}


def test_what_is_acknowledged_was_written_again_after_the_failure(root, tmp_path):
    """Where a save is acknowledged at the second try, no file of it rests on the flush that failed."""
    start = tree_of(root)
    for at in range(30):
        target = Path(shutil.copytree(root, tmp_path / f"try{at}" / root.name))
        reg, disk = on(lambda r, a=at: NotedDisk(r, a, errno.EIO), target)
        try:
            told = saved_as_people_do(reg, 2)
        finally:
            disk.fail_at = None
        if told and told[0].startswith("not committed"):

            def whole(folder: Path) -> None:
                now = open(folder)
                assert now.commit == 3 and len(now.verify()) == 0 and len(now.table("snags")) == 3

            assert after_a_cut(start, disk, tmp_path, whole) > 0
        shutil.rmtree(target)


def test_a_photo_that_was_not_confirmed_is_told_and_written_again(root, tmp_path):
    """At every flush: told as not committed; the second try writes it anew, and it outlasts a power cut."""
    start = tree_of(root)
    copy = Path(shutil.copytree(root, tmp_path / "probe" / root.name))
    reg, probe = on(NotedDisk, copy)
    name = keep_photo(reg, PICTURE)
    for at in flushes(probe):
        target = Path(shutil.copytree(root, tmp_path / f"try{at}" / root.name))
        reg, disk = on(lambda r, a=at: NotedDisk(r, a, errno.EIO), target)
        with pytest.raises(errors.NotCommittedError, match="photo could not be kept"):
            keep_photo(reg, PICTURE)
        again = open(target)
        again._store.blobs.files.disk = disk
        assert keep_photo(again, PICTURE) == name
        assert after_a_cut(start, disk, tmp_path, lambda folder: photo(open(folder), name)) > 0
        shutil.rmtree(target)


def test_a_copy_taken_away_that_was_not_confirmed_is_told(root, tmp_path):
    """At every flush of a copy: one error of ours, and never a copy that opens and is not whole."""
    from fibrebook.register.copies.take_away import take_away

    keep_photo(open(root), PICTURE)
    probe = NotedDisk(tmp_path / "probe")
    take_away(open(root)._store, LocalFolder(tmp_path / "probe", probe))
    for at in flushes(probe):
        place = tmp_path / f"copy{at}"
        with pytest.raises(
            (errors.InputError, errors.UnknownOutcomeError), match=r"cannot be written|not known whether"
        ):
            take_away(open(root)._store, LocalFolder(place, NotedDisk(place, at, errno.EIO)))


def test_tables_published_to_a_disk_that_does_not_confirm(root, tmp_path, monkeypatch):
    """Publishing flushes each file; a failed flush, or a folder that cannot be made, is one error of ours."""
    from fibrebook.register.places import folder

    def failing(self, path, data=b""):
        raise OSError(errno.EIO, "Input/output error")

    reg = open(root)
    assert reg.publish(tmp_path / "out")
    with monkeypatch.context() as patch:
        patch.setattr(folder.Disk, "flush_folder", failing)
        with pytest.raises(errors.UnknownOutcomeError, match="Publish again"):
            reg.publish(tmp_path / "out")
    with monkeypatch.context() as patch:
        patch.setattr(folder.Disk, "write", failing)
        with pytest.raises(errors.InputError, match="cannot be published"):
            reg.publish(tmp_path / "out")
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(errors.InputError, match="cannot be published"):
        reg.publish(tmp_path / "file" / "out")
