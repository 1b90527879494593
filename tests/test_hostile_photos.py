"""Photos of any content and name: kept as they came or refused in words, and shown small or not at all."""

from __future__ import annotations

import io
import random
import struct
import time
import zlib
from pathlib import Path

import pytest
from hostile import FUZZ, JSON, one_site
from hypothesis import example, given
from hypothesis import strategies as st

from fibrebook import errors
from fibrebook.register.photos import keep_photo, photo


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A register with one site."""
    return one_site(tmp_path_factory.mktemp("hostile"))


START = {"png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff", "gif": b"GIF89a", "webp": b"RIFF\0\0\0\0WEBP"}


def chunk(name, body):
    """Return a chunk of a PNG (PNG specification, section 5.3)."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def huge_png(width, height):
    """Return a small file that says it is a picture of any size."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return START["png"] + head + chunk(b"IDAT", zlib.compress(b"\0" * 100_000)) + chunk(b"IEND", b"")


def picture(sort):
    """Return a sound small picture."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, {"jpg": "JPEG"}.get(sort, sort.upper()))
    return out.getvalue()


@FUZZ
@given(st.sampled_from(sorted(START)), st.binary(max_size=60), st.booleans())
def test_any_bytes_as_a_photo(reg, sort, data, begun):
    """What is no picture through and through is refused in words; so is what only begins as one."""
    data = START[sort] + data if begun else data
    with pytest.raises(errors.InputError, match="cut short or damaged" if begun else "no photo|cut short"):
        keep_photo(reg, data)


@FUZZ
@given(st.sampled_from(sorted(START)), st.integers(0, 10**9))
def test_spoilt_pictures_are_shown_small_or_not_at_all(sort, seed):
    """A picture cut short or with turned bytes gives a small picture or none, never an error."""
    from fibrebook.screens.widgets.photo_pictures import shrunk

    chance, data = random.Random(seed), bytearray(picture(sort))
    for _ in range(chance.randint(0, 12)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    assert shrunk(bytes(data[: chance.choice([len(data), chance.randrange(len(data))])])).startswith(("data:", ""))


@pytest.mark.parametrize("side", [8_000, 13_000, 60_000, 2**31 - 1])
def test_a_picture_of_enormous_size_is_not_unpacked(reg, side):
    """A small file that says it has millions of pixels is kept as it is, and shown as one that cannot be shown."""
    from fibrebook.screens.recording.photos import photo_html

    started = time.monotonic()
    name = keep_photo(reg, huge_png(side, side))
    assert "cannot be shown" in photo_html(reg, {"photo": "1", "file": name})
    assert time.monotonic() - started < 5


def test_a_sound_picture_is_shown():
    """The small picture of a sound one is there for each sort; so what is refused above is refused for a reason."""
    from fibrebook.screens.widgets.photo_pictures import shrunk

    assert all(shrunk(picture(sort)).startswith("data:image/jpeg") for sort in START)


@FUZZ
@given(st.one_of(JSON, st.text(st.sampled_from("0123456789abcdef./\\:\0\npng"), max_size=80)))
@example("../register.json")
@example("0" * 64 + ".png\n")
@example("0" * 64 + ".png/../../register.json")
@example("..\\..\\register.json")
@example(None)
def test_any_name_of_a_photo(reg, name):
    """A name that is not that of a kept photo is told; none leads out of the folder of photos."""
    with pytest.raises(errors.NotFoundError):
        photo(reg, name)


@pytest.mark.parametrize("data", [None, "text", [], 7])
def test_what_is_no_bytes_is_no_photo(reg, data):
    """A text or nothing in place of bytes is refused in words."""
    with pytest.raises(errors.InputError):
        keep_photo(reg, data)


def test_a_photo_too_large_is_refused(reg):
    """A file beyond the limit is refused before it is written."""
    with pytest.raises(errors.InputError, match="more than"):
        keep_photo(reg, START["png"] + bytes(25_000_000))


def test_a_folder_in_the_place_of_a_photo(reg):
    """A folder that bears a photo's name is damage told in words."""
    name = keep_photo(reg, picture("gif"))
    path = Path(reg.where) / "photos" / name
    path.unlink()
    path.mkdir()
    with pytest.raises(errors.DamagedError):
        photo(reg, name)
    path.rmdir()
