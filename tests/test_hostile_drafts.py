"""Drafts of any content: taken up or refused in words; the screen opens beside them."""

from __future__ import annotations

import json
import time

import pytest
from hostile import FUZZ, JSON, changed, one_site, places
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fibrebook import errors


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A register with one site."""
    return one_site(tmp_path_factory.mktemp("hostile"))


@pytest.fixture
def own_drafts(tmp_path, monkeypatch):
    """A folder of drafts for one test."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path))
    return tmp_path


def head(reg, content, **more):
    """Return a draft of a process that is gone."""
    return {"register": reg.id, "screen": "record-visit", "kept": "2026-01-01 08:00", "process": [2**22, 1.0],
            "content": content, **more}  # fmt: skip


def kept_as(folder, data):
    """Write a draft's file."""
    path = folder / "record-visit-x.json"
    path.write_bytes(data if isinstance(data, bytes) else json.dumps(data).encode())
    return path


@FUZZ
@given(st.one_of(st.binary(max_size=60), JSON))
@example(b"[" * 100_000)
@example(b"9" * 10_000)
def test_draft_files_of_any_content(reg, own_drafts, data):
    """What is no draft is passed over and left where it lies."""
    from fibrebook.screens.frame import drafts

    path = kept_as(own_drafts, data)
    assert drafts.waiting(reg.id, "record-visit") == []
    assert path.exists()


@FUZZ
@given(st.sampled_from(["register", "kept", "process", "content"]), JSON)
@example("process", [])
@example("process", [1e400, 0])
@example("process", [10**30, 0])
@example("process", ["x", 0])
@example("process", [-1, 0])
@example("process", [1, "x"])
@example("process", None)
def test_drafts_with_a_wrong_head(reg, own_drafts, key, value):
    """A draft whose head is spoilt is listed with a content that is a table of names, or not at all."""
    from fibrebook.screens.frame import drafts

    kept_as(own_drafts, head(reg, {"day": {}}) | {key: value})
    assert all(isinstance(kept["content"], dict) for _, kept in drafts.waiting(reg.id, "record-visit"))


def test_a_draft_of_enormous_size_is_not_read(reg, own_drafts):
    """A file far larger than any day's work is passed over without reading it."""
    from fibrebook.screens.frame import drafts

    path = kept_as(own_drafts, b"")
    with path.open("r+b") as file:
        file.truncate(3_000_000_000)  # a hole; it takes no room
    started = time.monotonic()
    assert drafts.waiting(reg.id, "record-visit") == []
    assert time.monotonic() - started < 1


def test_a_folder_that_takes_no_drafts_is_told(reg, tmp_path, monkeypatch):
    """Where drafts cannot be kept, the person is told in words while there is still time to save."""
    from fibrebook.screens.frame import drafts

    (tmp_path / "file").write_text("")
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "file" / "below"))
    with pytest.raises(errors.InputError, match="FIBREBOOK_DRAFTS"):
        drafts.begin(reg.id, "try").save({"n": 1})


DAY = {"site": "S1", "by": "ab", "on": "2026-01-01", "done": "", "base": 1,
       "parts": {"x": {"title": "a part", "put": {"sites": [{"site": "S1", "name": "new"}]}}}}  # fmt: skip
WORK = {"day": DAY, "sections": {"photos": {}}, "on": "Photos"}


@FUZZ
@given(st.sampled_from(list(places(WORK))), JSON)
@example(("day", "parts", "x", "put"), {"no such": []})
@example(("day", "parts", "x", "put", "sites"), [{"site": {}}])
@example(("day", "on"), "never")
@example(("day", "base"), 10**9)
def test_days_of_spoilt_drafts(reg, path, value):
    """A day is taken up from a draft or refused in words; one that is taken up can be summed up."""
    from fibrebook.screens.recording.visit_draft import Day

    content = changed(WORK, path, value)
    try:
        day = Day.from_json(reg, content["day"])
        day.rows()
    except errors.FibrebookError as error:
        assert "draft" in error.message


@settings(FUZZ, max_examples=8)
@given(st.sampled_from([p for p in places(WORK) if len(p) < 4]), JSON)
@example(("sections", "photos"), {"what": 7, "files": "x"})
@example(("sections",), {n: [] for n in ("cables", "tray", "cords", "equipment", "test", "snags", "photos")})
@example(("on",), "no such part")
def test_the_screen_opens_beside_a_spoilt_draft(reg, own_drafts, path, value):
    """The visit's screen opens, offers what it can, and taking it up ends in words; the draft can be thrown away."""
    from fibrebook.screens.frame import drafts
    from fibrebook.screens.recording.screen import SCREEN, RecordVisit

    file = kept_as(own_drafts, head(reg, changed(WORK, path, value)))
    screen = RecordVisit(reg)
    for found, kept in drafts.waiting(reg.id, SCREEN, but=screen.draft):
        screen.guard(lambda found=found, kept=kept: screen.resume(found, kept))
    screen.offers.discard(file)
    assert not file.exists()
