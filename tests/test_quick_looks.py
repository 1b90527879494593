"""What is looked at in bulk, or by text, says what a look at each by itself says: digests, paths, packs, links, times."""

from __future__ import annotations

import itertools
import os
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_life import long_lived

from fibrebook.errors import DamagedError
from fibrebook.register import open
from fibrebook.register.commits import history
from fibrebook.register.places.asked import _PROPER, all_proper
from fibrebook.register.places.folder import LocalFolder
from fibrebook.register.places.pack_file import MOST_SPAN, Pack
from fibrebook.register.places.pack_list import PackList
from fibrebook.register.store.state import as_bytes, digest, signed, unsigned
from fibrebook.regular_files import read_regular

NAMES = st.sampled_from(["digest", "by", "zone", "a\"digest\":"]) | st.text(max_size=4)  # fmt: skip
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
    max_leaves=8,
)


@given(content=st.dictionaries(NAMES, VALUES, max_size=5), turned=st.integers(0, 10_000))
def test_a_file_is_taken_for_what_was_written_only_if_it_is(content, turned):
    """The file itself is taken; with any one bit turned, or its digest another, it is not. No part of it is lost."""
    data = signed(content)
    assert unsigned(data) == {
        **content,
        "digest": digest(as_bytes({k: v for k, v in content.items() if k != "digest"})),
    }
    other = bytearray(data)
    other[turned // 8 % len(data)] ^= 1 << turned % 8
    assert unsigned(bytes(other)) is None


def test_no_digest_that_stands_elsewhere_in_a_file_is_taken_for_its_own():
    """One within a part, as the last part, twice, none, no text, or another's."""
    for content in (
        {"a": {"digest": "x"}},
        {"a": {"digest": "x"}, "z": 1},
        {"a": "1"},
        {"z": [{"digest": "x", "e": 1}]},
    ):
        own = unsigned(signed(content))
        assert own is not None
        inside = signed({**content, "b": {"digest": own["digest"], "e": 1}})
        assert unsigned(inside) is not None
        for wrong in (None, 5, "", "x", own["digest"].upper(), [own["digest"]], digest(b"x")):
            assert unsigned(as_bytes({**content, "digest": wrong})) is None
        assert unsigned(as_bytes(content)) is None
        assert unsigned(as_bytes({**content, "b": {"digest": own["digest"], "e": 1}})) is None
        assert unsigned(signed(content).replace(b"{", b"{ ", 1)) is None


def test_many_paths_are_proper_where_each_is():
    """All short texts of the signs that matter, alone and among others."""
    for size in range(5):
        for signs in itertools.product("a./\\:\0\n", repeat=size):
            path = "".join(signs)
            for paths in ([path], ["x/y", path], [path, "ab"], [path, f"{path}z"]):
                assert all_proper(paths) == all(map(_PROPER.fullmatch, paths)), paths
    assert all_proper([]) and all_proper({f"tables/sites/{n}.parquet": None for n in range(99)})


def test_the_packs_that_may_hold_a_file_are_found_among_all():
    """Packs of any length that overlap or lie far apart: those that cover a number, in their order."""
    chance = random.Random(3)
    listed = PackList(LocalFolder("none"))
    for _ in range(50):
        firsts = [chance.randint(1, 9000) for _ in range(chance.randint(0, 30))]
        lasts = [f + chance.choice([0, 1, 511, MOST_SPAN - 1, chance.randint(0, MOST_SPAN - 1)]) for f in firsts]
        found = [
            f"{chance.choice(['commits', 'changes'])}-{f:08d}-{n:08d}-{i:032x}.zip"
            for i, (f, n) in enumerate(zip(firsts, lasts, strict=True))
        ]
        listed.files.list = lambda prefix, found=found: found
        packs = listed.all(anew=True)
        assert sorted(p.name for p in packs) == sorted(found)
        for number in {1, *firsts, *lasts, *(n + 1 for n in lasts), *(chance.randint(1, 14_000) for _ in range(20))}:
            for kind, path in (
                ("commits", f"commits/{number:08d}.json"),
                ("changes", f"changes/{number:08d}-{0:032x}.parquet"),
            ):
                own: list[Pack] = [p for p in packs if p.covers(kind, number)]
                assert listed.covering(path) == own
    assert listed.covering("register.json") == []


def test_a_link_is_refused_in_words_wherever_it_lies(tmp_path):
    """As the file itself, to a file, to nothing; as a folder on the way to it."""
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "file").write_bytes(b"x")
    (tmp_path / "linked").symlink_to("real")
    (tmp_path / "real" / "link").symlink_to("file")
    (tmp_path / "real" / "dangling").symlink_to("nothing")
    files = LocalFolder(tmp_path)
    assert files.read("real/file") == b"x"
    for path in ("real/link", "real/dangling", "linked/file", "linked/none"):
        with pytest.raises(DamagedError, match="link"):
            files.read(path)
        with pytest.raises(DamagedError, match="link") if path.startswith("linked") else _nothing():
            files.exists(path)
    assert read_regular(tmp_path / "real" / "link", 9) == b"x"
    with pytest.raises(OSError, match="it is a link"):
        read_regular(tmp_path / "real" / "link", 9, follow=False)
    here = Path.cwd()
    os.chdir(tmp_path)
    try:
        with pytest.raises(DamagedError, match="linked is a link"):
            LocalFolder(".").read("linked/file")
        assert LocalFolder(".").read("real/file") == b"x"
    finally:
        os.chdir(here)


class _nothing:  # noqa: N801
    """No error is expected."""

    def __enter__(self):
        """Begin."""

    def __exit__(self, *error):
        """End; an error goes on."""


def test_times_in_any_writing_of_the_standard_are_told(tmp_path):
    """Commits whose machines wrote their times with and without fractions, in other zones, or by weeks (ISO 8601)."""
    reg = long_lived(tmp_path / "r", 5)
    log = reg._store.log
    said = ["2026-01-05T08:00:00Z", "20260105T080000Z", "2026-W02-1T09:00:00+01:00", "2026-01-05T08:00:00.000001Z"]
    for number, text in enumerate(said, 1):
        content = {**log.commit(number), "time_utc": text}
        log.take(number, signed(content), content)
    for frame in (history.log_frame(log, 4), reg.log(last=5)):
        assert [t.isoformat() for t in frame.time_utc[:4]] == ["2026-01-05T08:00:00+00:00"] * 3 + [
            "2026-01-05T08:00:00.000001+00:00"
        ]
    assert len(open(reg.where).log()) == 5
