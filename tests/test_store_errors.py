"""Whatever disk, share or bucket answers is told as an error of ours, with what it really said."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.places.folder import Disk, LocalFolder
from fibrebook.register.places.where import blobs_for

pytest_plugins = ["places"]


class Answering(Disk):
    """A disk that answers the first calls of one sort with an error."""

    def __init__(self, call: str, error: int, times: int = 1, names: str = "") -> None:
        self.call, self.error, self.times, self.names = call, error, times, names

    def _answer(self, call: str, path: Path) -> None:
        if call == self.call and self.times and path.name.endswith(self.names):
            self.times -= 1
            raise OSError(self.error, os.strerror(self.error), str(path))

    def write(self, path: Path, data: bytes) -> None:
        """As told."""
        self._answer("write", path)
        super().write(path, data)

    def link(self, path: Path, name: Path) -> None:
        """As told."""
        self._answer("link", name)
        super().link(path, name)

    def unlink(self, path: Path) -> None:
        """As told."""
        self._answer("unlink", path)
        super().unlink(path)

    def make_folder(self, folder: Path) -> None:
        """As told."""
        self._answer("folder", folder)
        super().make_folder(folder)


def put(reg, name: str = "Mill") -> int:
    """Make one commit."""
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "S1", "name": name}])
    return edit.commit


@pytest.fixture
def reg(tmp_path):
    """A register with one commit."""
    reg = create(tmp_path / "reg")
    put(reg)
    return reg


def test_an_interrupted_link_is_done_again(reg):
    """EINTR says nothing of hard links: the call is made again and the save is made."""
    reg._store.blobs.files.disk = Answering("link", errno.EINTR, times=3)
    assert put(reg, "Barn") == 2 and len(open(reg.where).verify()) == 0


def test_an_interrupted_link_that_was_made_is_ours(reg):
    """Where the interrupted call had made the name, the next answer, that it is taken, is known for our own doing."""

    class Made(Disk):
        def __init__(self) -> None:
            self.done: set[str] = set()

        def link(self, path: Path, name: Path) -> None:
            super().link(path, name)
            if name.name not in self.done:
                self.done.add(name.name)
                raise InterruptedError(errno.EINTR, "Interrupted system call")

    reg._store.blobs.files.disk = Made()
    assert put(reg, "Barn") == 2 and len(open(reg.where).verify()) == 0


@pytest.mark.parametrize("error", [errno.EPERM, errno.EMLINK, errno.EINVAL, errno.EIO, errno.EACCES, errno.ENOSPC])
def test_a_link_refused_where_links_are_possible_is_told_as_what_it_is(reg, error):
    """One refusal where another name can be given is not "no hard links"; the system's own words are told."""
    reg._store.blobs.files.disk = Answering("link", error)
    with pytest.raises(errors.NotCommittedError) as told:
        put(reg, "Barn")
    assert "hard links" not in str(told.value) and os.strerror(error) in str(told.value)
    assert open(reg.where).commit == 1 and put(reg, "Barn") == 2


@pytest.mark.parametrize("error", [errno.EPERM, errno.EOPNOTSUPP, errno.EMLINK])
def test_a_place_without_hard_links_is_told_as_such(reg, error):
    """Where no second name can be given at all, that is what is told, and nothing is committed."""
    reg._store.blobs.files.disk = Answering("link", error, times=1000)
    with pytest.raises(errors.NotCommittedError, match="no hard links"):
        put(reg, "Barn")
    assert open(reg.where).commit == 1


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EROFS, errno.EACCES])
@pytest.mark.parametrize("call", ["write", "folder", "link"])
def test_a_register_that_cannot_be_made_is_told(tmp_path, monkeypatch, call, error):
    """Full, failing, read-only: one InputError with the system's words, for a register as for a copy."""
    monkeypatch.setattr("fibrebook.register.places.folder.Disk", lambda: Answering(call, error, times=1000))
    with pytest.raises(errors.InputError, match="no register can be made"):
        create(tmp_path / "reg")


def test_a_register_that_the_disk_did_not_confirm_is_told(tmp_path, monkeypatch):
    """Its name may be gone after a power cut: not known, in words."""

    def failing(self, folder):
        if folder.name == "reg":
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(Disk, "flush_folder", failing)
    with pytest.raises(errors.UnknownOutcomeError, match="does not confirm"):
        create(tmp_path / "reg")


@pytest.mark.parametrize("where", ["~no-such-user-here/reg", "a\0b", "x" * 300])
def test_what_is_no_folder_is_told(tmp_path, monkeypatch, where):
    """A home that is not there, a null character, a name too long for any folder."""
    monkeypatch.chdir(tmp_path)
    for act in (create, open):
        with pytest.raises(errors.FibrebookError):
            act(where)


def test_a_file_that_cannot_be_removed_is_told(reg):
    """Tidying, dropping a kept edit and redacting meet a disk that refuses: an error of ours."""
    put(reg, "Barn")
    reg._store.blobs.files.disk = Answering("unlink", errno.EACCES, times=1000, names=".parquet")
    with pytest.raises(errors.FibrebookError, match="could not be removed"):
        reg.redact("ab", "asked", site="S1", columns=["sites.name"])
    reg._store.blobs.files.disk = Disk()
    reg.redact("ab", "asked", site="S1", columns=["sites.name"])
    assert len(open(reg.where).verify()) == 0
    reg._store.blobs.files.disk = Answering("write", errno.ENOSPC, times=1)
    put(open(reg.where), "Shed")
    with pytest.raises(errors.FibrebookError, match="did not come to its end"):
        reg.redact("ab", "asked", site="S1", columns=["sites.name"])


def test_a_folder_in_one_that_cannot_be_listed_takes_saves(reg, monkeypatch):
    """The folder above the register may be another's, not to be read: its names are not ours to flush."""
    real = os.access
    above = Path(reg.where).parent
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != above and real(path, mode))

    class Closed(Disk):
        def flush_folder(self, folder: Path) -> None:
            if folder == above:
                raise PermissionError(errno.EACCES, "Permission denied")
            super().flush_folder(folder)

    again = open(reg.where)
    again._store.blobs.files.disk = Closed()
    assert put(again, "Barn") == 2


def test_a_bucket_that_is_not_there(bucket_server, monkeypatch, tmp_path):
    """Making, opening, copying to: an error of ours that says that there is no such bucket, or no register."""
    for name, value in bucket_server.items():
        monkeypatch.setenv(name, value)
    nowhere = "s3://no-such-bucket-here/reg"
    with pytest.raises(errors.NotFoundError, match="there is no bucket"):
        create(nowhere)
    with pytest.raises(errors.NotFoundError):
        open(nowhere)
    reg = create(tmp_path / "reg")
    put(reg)
    with pytest.raises(errors.FibrebookError, match="there is no bucket"):
        reg.take_away(nowhere)
    for ask in (lambda b: b.list("commits"), lambda b: b.everything(), lambda b: b.create("a", b"1")):
        with pytest.raises(errors.NotFoundError, match="there is no bucket"):
            ask(blobs_for(nowhere))


def test_a_file_confirmed_by_nobody_here_is_written_again(tmp_path):
    """Confirming writes another's file anew, its bytes the same, and one's own not at all."""
    first, second = LocalFolder(tmp_path / "r"), LocalFolder(tmp_path / "r")
    first.create("commits/1", b"one")
    before = (tmp_path / "r" / "commits" / "1").stat().st_ino
    first.confirm("commits/1")
    assert (tmp_path / "r" / "commits" / "1").stat().st_ino == before
    second.confirm("commits/1")
    assert (tmp_path / "r" / "commits" / "1").stat().st_ino != before
    assert first.read("commits/1") == b"one" and first.list("commits") == ["1"]
