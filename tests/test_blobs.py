"""Files of a register: made only if absent, whole or not at all, in a folder and in a bucket alike."""

from __future__ import annotations

import os
import threading
import uuid

import pytest

from fibrebook.errors import ConflictError, NotCommittedError
from fibrebook.register import create
from fibrebook.register import open as open_register
from fibrebook.register.places import where as b
from fibrebook.register.places.folder import LocalFolder

pytest_plugins = ["places"]


def test_created_file_reads_back(where):
    """What was created is there, byte for byte, under its name."""
    files = b.blobs_for(where)
    assert not files.exists("commits/00000001.json")
    files.create("commits/00000001.json", b"\x00one\xff")
    assert files.exists("commits/00000001.json")
    assert b.blobs_for(where).read("commits/00000001.json") == b"\x00one\xff"
    assert files.list("commits") == ["00000001.json"]
    assert files.list("nothing") == []


def test_a_taken_name_is_refused_and_untouched(where):
    """Creating under a taken name says so and changes nothing."""
    files = b.blobs_for(where)
    files.create("a/x", b"first")
    with pytest.raises(b.AlreadyThere):
        files.create("a/x", b"second")
    assert files.read("a/x") == b"first"
    assert files.list("a") == ["x"]


def test_missing_and_delete(where):
    """A file that is not there is Missing; deleting it is no error."""
    files = b.blobs_for(where)
    with pytest.raises(b.Missing):
        files.read("a/none")
    files.delete("a/none")
    files.create("a/x", b"1")
    files.delete("a/x")
    assert not files.exists("a/x")


def test_of_many_writers_one_wins(where):
    """Of eight that create one name at once exactly one succeeds, and the file is that one's."""
    results: list[int] = []
    start = threading.Barrier(8)

    def race(number: int) -> None:
        files = b.blobs_for(where)
        start.wait()
        try:
            files.create("commits/1", f"writer {number}".encode() * 1000)
            results.append(number)
        except b.AlreadyThere:
            pass

    threads = [threading.Thread(target=race, args=(n,)) for n in range(8)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(results) == 1
    assert b.blobs_for(where).read("commits/1") == f"writer {results[0]}".encode() * 1000
    assert b.blobs_for(where).list("commits") == ["1"]


def test_bucket_takes_its_own_earlier_try_for_success(bucket_server, monkeypatch):
    """Where a repeated request finds its own bytes there, it landed (the client may have sent it twice)."""
    for name, value in bucket_server.items():
        monkeypatch.setenv(name, value)
    files = b.blobs_for(f"s3://registers/{uuid.uuid4().hex}")
    files.create("c/1", b"token 1")
    files.create("c/1", b"token 1")
    with pytest.raises(b.AlreadyThere):
        files.create("c/1", b"token 2")


def test_unfinished_writes_are_not_listed(tmp_path):
    """What a killed writer left half-written is no file of the register."""
    (tmp_path / "commits").mkdir()
    (tmp_path / "commits" / ".abc.tmp").write_bytes(b"half")
    assert LocalFolder(tmp_path).list("commits") == []


@pytest.mark.skipif(os.name == "nt", reason="Windows renames and needs no hard link")
def test_a_disk_without_hard_links_is_refused_in_words(tmp_path, monkeypatch):
    """Where the file system cannot link, nothing lands and the message says what to do."""

    def no_links(self, target):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("pathlib.Path.hardlink_to", no_links)
    files = LocalFolder(tmp_path)
    with pytest.raises(NotCommittedError, match="hard links"):
        files.create("a/x", b"1")
    assert files.list("a") == [] and not list((tmp_path / "a").iterdir())


def test_a_dead_bucket_gives_no_clear_answer(monkeypatch):
    """A server that is not there is told apart from a name that is taken or missing."""
    for name, value in {
        "AWS_ENDPOINT_URL": "http://127.0.0.1:9", "AWS_ALLOW_HTTP": "true", "AWS_ACCESS_KEY_ID": "x",
        "AWS_SECRET_ACCESS_KEY": "x", "AWS_REGION": "us-east-1",
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    files = b.blobs_for("s3://registers/x").files
    files.store = type(files.store).from_url(
        "s3://registers/x",
        retry_config={"max_retries": 0},
        client_options={"allow_http": True, "timeout": "2s"},
    )
    with pytest.raises(b.OutcomeUnknown):
        files.create("a", b"1")


def test_a_register_lives_in_a_folder_and_a_bucket_alike(where):
    """Two handles, a merge, a conflict kept and settled, an undo: the same in either place."""
    reg = create(where, name="Either")
    with reg.edit("ab", "start") as edit:
        edit.put("sites", [{"site": n} for n in ("S1", "S2")])
        edit.put("locations", [{"site": "S1", "location": "hall"}])
    late = reg.edit("ab", "late")
    late.put("locations", [{"site": "S1", "location": "hall", "room": "12", "rack": "A"}])
    other = open_register(where)
    with other.edit("cd", "first") as edit:
        edit.put("locations", [{"site": "S1", "location": "hall", "room": "11"}])
    with pytest.raises(ConflictError) as caught:
        late.finish()
    assert reg.pending_resolve(caught.value.pending, "mine") == 3
    assert other.table("locations", "S1").room.tolist() == ["12"]
    assert other.undo(3, "cd", "no") == 4 and reg.table("locations").room.tolist() == ["11"]
    assert len(reg.history("locations", ("S1", "hall"))) == 6
    assert len(reg.verify()) == 0 and len(reg.pending()) == 0
