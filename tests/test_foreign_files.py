"""Small files that somebody else prepared (layouts, decisions, drafts, keys, event tables, photos): told, never endured.

A pipe is never waited for, a device or an enormous file never read to its end, deep or endless content never built.
"""

from __future__ import annotations

import json
import os

import pytest
from hostile import one_site
from test_foreign_registers import in_a_child

from fibrebook import errors
from fibrebook.readers.instruments.otdr_events import read_events
from fibrebook.readers.layouts.file import read_layout
from fibrebook.reference.tables import _read as read_reference
from fibrebook.register.commits.decisions import read_decisions
from fibrebook.register.store.keys import keys_in_use
from fibrebook.screens.frame import drafts


def key(path):
    """Take a key file as the environment names it."""
    os.environ["FIBREBOOK_KEY"] = str(path)
    try:
        return keys_in_use()
    finally:
        del os.environ["FIBREBOOK_KEY"]


def draft(path):
    """Look for drafts in the folder of a file that is named like one."""
    os.environ["FIBREBOOK_DRAFTS"] = str(path.parent)
    try:
        assert drafts.waiting("x", "visit") == []
    finally:
        del os.environ["FIBREBOOK_DRAFTS"]


READERS = {
    "layout": ("a.toml", read_layout), "decisions": ("a.csv", read_decisions), "key": ("a.key", key),
    "draft": ("visit-a.json", draft), "events": ("a.csv", lambda p: read_events(p, "S1", "T1")),
    "reference": ("a.csv", lambda p: read_reference(p, [])),
}  # fmt: skip


@pytest.mark.parametrize("sort", ["pipe", "device", "folder", "terabyte", "deep", "endless"])
@pytest.mark.parametrize("reader", READERS)
def test_small_files_that_are_none(tmp_path, reader, sort):
    """Each is an error of ours in a few words, or (a draft) passed over."""
    name, read = READERS[reader]
    path = tmp_path / name
    if sort == "pipe":
        os.mkfifo(path)
    elif sort == "device":
        path.symlink_to("/dev/zero")
    elif sort == "folder":
        path.mkdir()
    elif sort == "terabyte":
        with path.open("wb") as file:
            file.truncate(10**12)
    elif sort == "deep":
        path.write_text("table,key,column,base,theirs,mine,decision\ncables," + "[" * 100_000 + ",x,,,,mine\n")
    else:
        path.write_text("x" * 3_000_000)
    try:
        read(path)
        assert reader == "draft"
    except errors.FibrebookError as error:
        assert len(str(error)) < 2_000


def test_a_draft_that_is_deep_or_endless_is_passed_over(tmp_path, monkeypatch):
    """A draft nested beyond reason, or of millions of parts, costs nothing and is not offered; a sound one is."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path))
    good = {"register": "x", "screen": "visit", "kept": "2026-01-01 10:00", "process": [os.getpid(), 0], "content": {}}
    (tmp_path / "visit-good.json").write_text(json.dumps(good))
    (tmp_path / "visit-deep.json").write_text("[" * 2_000_000)
    (tmp_path / "visit-many.json").write_text("[" + "{}," * 5_000_000 + "1]")
    assert [p.name for p, _ in drafts.waiting("x", "visit")] == ["visit-good.json"]


PICTURES = """
import io, zlib, struct
from fibrebook.screens.widgets.photo_pictures import shrunk
def chunk(name, body): return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
def png(width, height, *more):
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\\x89PNG\\r\\n\\x1a\\n" + head + b"".join(more) + chunk(b"IDAT", zlib.compress(bytes(10**6))) + chunk(b"IEND", b"")
child.bound(600)
text = chunk(b"zTXt", b"Comment\\0\\0" + zlib.compress(bytes(300_000_000)))
for data in (png(50_000, 50_000), png(8_000, 7_000), png(10, 10, *[text] * 8), png(1, 2**31 - 1), b"GIF89a" + bytes([255] * 4) + bytes(99)):
    print("shown" if shrunk(data) else "not shown")
"""


def test_photos_that_would_be_enormous(tmp_path):
    """Pictures of enormous size or with enormous remarks are shown small or not at all, within bounded memory."""
    one_site(tmp_path)
    said = in_a_child({"register.json": b""}, tmp_path / "x", PICTURES)
    assert len(said.split("\n")) == 6
