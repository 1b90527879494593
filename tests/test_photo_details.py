"""What a camera writes into a picture is taken out on the way in, and out of pictures kept before; pixels stay."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

import fibrebook
from fibrebook.errors import InputError, NotFoundError
from fibrebook.register.photo_details import without_details
from fibrebook.register.photos import keep_photo, photo

PLACE = b"51 deg 30 min"  # nobody's
DEVICE = "Testcamera 7"
FORMATS = {"jpg": "JPEG", "png": "PNG", "webp": "WEBP", "gif": "GIF"}
MODES = [("jpg", "RGB"), ("jpg", "L"), ("jpg", "CMYK"), ("png", "RGBA"), ("png", "P"), ("webp", "RGBA"), ("gif", "P")]


PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()  # once: it bears the time of its making


def exif(way_up: int = 1) -> Any:
    """What a camera writes: device, day, place, and which way up it was held."""
    made = Image.Exif()
    made[0x010F], made[0x0110], made[0x0132] = "Invented", DEVICE, "2026:11:20 10:00:00"
    made[0x0112] = way_up
    made.get_ifd(0x8825)[29] = PLACE.decode()
    made.get_ifd(0x8769)[0x9286] = b"by " + PLACE
    return made


def picture(sort: str, mode: str = "RGB", way_up: int = 1, **more: Any) -> bytes:
    """A picture with all that its format can bear besides the picture."""
    image = Image.effect_mandelbrot((64, 40), (-2, -1, 1, 1), 40).convert("RGB").convert(mode)
    out = io.BytesIO()
    if sort == "png":
        more["pnginfo"] = PngImagePlugin.PngInfo()
        more["pnginfo"].add_itxt("XML:com.adobe.xmp", f"<x>{PLACE.decode()}</x>")
        more["pnginfo"].add_text("Comment", DEVICE)
    if sort in ("jpg", "gif"):
        more["comment"] = DEVICE.encode()
    if sort in ("jpg", "webp"):
        more["xmp"] = b"<x>" + PLACE + b"</x>"
    if sort != "gif":
        more |= {
            "exif": exif(way_up),
            "icc_profile": PROFILE,
        }
    if sort == "webp":
        more["lossless"] = True
    image.save(out, FORMATS[sort], **more)
    return out.getvalue() + (b"" if sort == "webp" else b"and behind the end: " + PLACE)


def opened(data: bytes) -> Image.Image:
    """A picture, read whole."""
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


@pytest.mark.parametrize(("sort", "mode"), MODES)
@pytest.mark.parametrize("way_up", [1, 6])
def test_details_go_and_the_picture_stays(sort: str, mode: str, way_up: int) -> None:
    """Neither place nor device nor day is left anywhere in the file; pixels, colour profile and orientation are."""
    before = picture(sort, mode, way_up)
    after = without_details(before, sort)
    for gone in (PLACE, DEVICE.encode(), b"Invented", b"2026:11:20"):
        assert gone in before or sort == "gif" or gone not in before
        assert gone not in after
    assert DEVICE.encode() in before
    one, two = opened(before), opened(after)
    assert (one.size, one.mode, one.tobytes()) == (two.size, two.mode, two.tobytes())
    assert two.info.get("icc_profile") == one.info.get("icc_profile")
    if sort != "gif":
        assert dict(two.getexif()) == ({0x0112: way_up} if way_up != 1 else {})
    assert without_details(after, sort) == after


@pytest.mark.parametrize(
    "options", [{"progressive": True}, {"quality": 30, "subsampling": 2}, {"restart_marker_blocks": 1}]
)
def test_jpegs_of_every_making(options: dict[str, Any]) -> None:
    """Progressive ones, with several scans, and those with restart markers keep every pixel."""
    before = picture("jpg", **options)
    assert opened(without_details(before, "jpg")).tobytes() == opened(before).tobytes()


def test_parts_of_other_makers_go_too() -> None:
    """IPTC (APP13), a second picture behind the first, a small one in JFIF: none of them is the picture."""
    plain = picture("jpg")
    ours = b"\xff\xed" + struct.pack(">H", 2 + len(PLACE)) + PLACE
    jfxx = b"\xff\xe0" + struct.pack(">H", 2 + 6 + len(PLACE)) + b"JFXX\0\x10" + PLACE
    mpf = b"\xff\xe2" + struct.pack(">H", 2 + 4 + len(PLACE)) + b"MPF\0" + PLACE
    data = plain[:2] + ours + jfxx + mpf + plain[2:] + plain
    after = without_details(data, "jpg")
    assert PLACE not in after
    assert len(after) < len(plain)
    assert opened(after).tobytes() == opened(plain).tobytes()


@pytest.mark.parametrize("sort", ["png", "webp", "gif"])
def test_moving_pictures_keep_moving(sort: str) -> None:
    """All frames of an animation stay, with their times."""
    frames = [Image.new("RGB", (20, 10), colour) for colour in ("red", "blue", "green")]
    out = io.BytesIO()
    frames[0].save(out, FORMATS[sort], save_all=True, append_images=frames[1:], duration=90, loop=0)
    after = without_details(out.getvalue(), sort)
    assert opened(after).n_frames == 3  # type: ignore[attr-defined]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(FORMATS)), st.data())
def test_damaged_pictures_are_cleaned_or_refused(sort: str, data: st.DataObject) -> None:
    """Cut anywhere, or with bytes turned, a file gives one whose details are gone for good, or words; no other error."""
    whole = bytearray(picture(sort))
    for _ in range(data.draw(st.integers(0, 4))):
        whole[data.draw(st.integers(3, len(whole) - 1))] = data.draw(st.integers(0, 255))
    cut = bytes(whole[: data.draw(st.integers(8, len(whole)))])
    try:
        after = without_details(cut, sort)
    except InputError as error:
        assert "cut short or damaged" in error.message
        return
    assert without_details(after, sort) == after


@pytest.fixture
def reg(tmp_path: Path) -> fibrebook.Register:
    """A register of two sites."""
    made = fibrebook.create(tmp_path / "register", name="photos")
    with made.edit("ab", "sites") as edit:
        edit.put("sites", [{"site": "S1", "contact": "a name"}, {"site": "S2"}])
    return made


def put(reg: fibrebook.Register, site: str, label: str, file: str) -> None:
    """Commit the row of a photo."""
    with reg.edit("ab", "photo") as edit:
        edit.put("photos", {"site": site, "photo": label, "file": file, "what": "the tray"})


def choose(reg: fibrebook.Register, value: str) -> None:
    """Let the firm choose."""
    with reg.edit("ab", "choice") as edit:
        edit.put("choices", {"choice": "photo_details", "value": value})


def bytes_below(reg: fibrebook.Register) -> bytes:
    """All bytes of all files of a register."""
    return b"".join(p.read_bytes() for p in sorted(Path(reg.where).rglob("*")) if p.is_file())


def test_on_the_way_in_details_go_unless_the_firm_chooses_to_keep_them(reg: fibrebook.Register) -> None:
    """By default no place and no device stands in the register; with the choice the photo is kept to the byte."""
    name = keep_photo(reg, picture("jpg"))
    assert photo(reg, name) == without_details(picture("jpg"), "jpg")
    assert keep_photo(reg, picture("jpg")) == name
    assert PLACE not in bytes_below(reg)
    choose(reg, "keep")
    assert photo(reg, keep_photo(reg, picture("jpg"))) == picture("jpg")
    choose(reg, "remove")
    assert keep_photo(reg, picture("jpg")) == name


def test_redact_takes_the_details_out_of_photos_kept_before(reg: fibrebook.Register) -> None:
    """The picture stands under its new digest in every state and in the history; the old file is gone; verify is clean."""
    choose(reg, "keep")
    old = keep_photo(reg, picture("jpg", way_up=6))
    put(reg, "S1", "F1", old)
    put(reg, "S2", "F1", old)
    with reg.edit("ab", "words") as edit:
        edit.put("photos", {"site": "S1", "photo": "F1", "file": old, "what": "the lid"})
    before = reg.commit
    done = reg.redact("ab", "asked", site="S1")
    assert done.commit == before + 1
    assert PLACE not in bytes_below(reg)
    again = fibrebook.open(reg.where)
    (file,) = set(again.table("photos")["file"])
    assert file != old
    assert opened(photo(again, file)).tobytes() == opened(picture("jpg")).tobytes()
    assert set(fibrebook.open(reg.where, at=before).table("photos")["file"]) == {file}
    assert len(again.verify()) == 0
    assert "redacted" in set(again.history(site="S1")["op"])
    assert old.encode() not in bytes_below(again).replace(
        f"photos/{old}".encode(), b""
    )  # only the commit says what went
    assert reg.redact("ab", "again", site="S1").commit is None


def test_redact_takes_photos_out_whole(reg: fibrebook.Register) -> None:
    """With photos="all" the pictures of the site go; the rows stay and say so; one that another site shows stays there."""
    mine, shared = keep_photo(reg, picture("png")), keep_photo(reg, picture("webp"))
    put(reg, "S1", "F1", mine)
    put(reg, "S1", "F2", shared)
    put(reg, "S2", "F1", shared)
    reg.redact("ab", "asked", site="S1", photos="all")
    again = fibrebook.open(reg.where)
    files = again.table("photos", "S1")["file"]
    assert set(files) == {"taken out"}
    with pytest.raises(NotFoundError, match="taken out"):
        photo(again, files.iloc[0])
    with pytest.raises(NotFoundError):
        photo(again, mine)
    assert photo(again, again.table("photos", "S2")["file"].iloc[0])
    assert len(again.verify()) == 0


def test_redact_of_named_columns_leaves_photos_alone(reg: fibrebook.Register) -> None:
    """Who names columns gets those; who asks for photos besides gets them too."""
    choose(reg, "keep")
    old = keep_photo(reg, picture("jpg"))
    put(reg, "S1", "F1", old)
    reg.redact("ab", "asked", site="S1", columns=["sites.contact"])
    assert photo(reg, old) == picture("jpg")
    reg.redact("ab", "asked", site="S1", columns=["sites.contact"], photos="details")
    assert PLACE not in bytes_below(reg)


def test_a_photo_that_cannot_be_cleaned_is_named(reg: fibrebook.Register) -> None:
    """What cannot be told apart stays and is named, with what to do; nothing is silently left."""
    choose(reg, "keep")
    broken = keep_photo(reg, picture("jpg")[:300])
    put(reg, "S1", "F1", broken)
    done = reg.redact("ab", "asked", site="S1")
    assert done.left == (broken,)
    assert broken in str(done)
    reg.redact("ab", "asked", site="S1", photos="all")
    assert PLACE not in bytes_below(reg)


def test_a_crc_of_an_orientation_written_anew_holds() -> None:
    """PNG readers that check are satisfied."""
    after = without_details(picture("png", way_up=3), "png")
    at = after.index(b"eXIf")
    (length,) = struct.unpack_from(">I", after, at - 4)
    assert struct.unpack_from(">I", after, at + 4 + length)[0] == zlib.crc32(after[at : at + 4 + length])
