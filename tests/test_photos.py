"""Photos in the register: kept by digest, once, checked on reading."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

import fibrebook
from fibrebook.errors import DamagedError, InputError, NotFoundError
from fibrebook.register.photos import keep_photo, photo


def drawn() -> bytes:
    """A picture that bears nothing besides."""
    out = io.BytesIO()
    Image.new("RGB", (8, 6), "teal").save(out, "PNG")
    return out.getvalue()


PNG = drawn()


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """An empty register."""
    return fibrebook.create(tmp_path / "register", name="photos")


def test_a_photo_is_kept_once_and_read_back(reg: fibrebook.Register) -> None:
    """The same picture twice gives the same name and one file."""
    name = keep_photo(reg, PNG)
    assert keep_photo(reg, PNG) == name and name.endswith(".png")
    assert photo(reg, name) == PNG
    assert len(list((Path(reg.where) / "photos").iterdir())) == 1


def test_what_is_no_picture_is_refused(reg: fibrebook.Register) -> None:
    """A file that no browser shows as a picture is refused in words."""
    with pytest.raises(InputError, match="no photo"):
        keep_photo(reg, b"<svg onload=alert(1)>")


def test_a_spoilt_photo_is_told(reg: fibrebook.Register) -> None:
    """Turned bits are found on reading; a name that leads elsewhere is no photo."""
    name = keep_photo(reg, PNG)
    (Path(reg.where) / "photos" / name).write_bytes(PNG + b"!")
    with pytest.raises(DamagedError):
        photo(reg, name)
    with pytest.raises(NotFoundError):
        photo(reg, "../register.json")
