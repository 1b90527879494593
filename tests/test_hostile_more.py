"""Drafts, photos, layouts and plugins of any content: one clear error or a right reading, in bounded time."""

from __future__ import annotations

import io
import json
import random
import string
import struct
import time
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import fibrebook
from fibrebook import errors, plugins
from fibrebook.reference import tables as reference
from fibrebook.register.photos import keep_photo, photo
from fibrebook.workbook import read_layout, read_with_layout
from fibrebook.workbook.layout_file import layout_from

FUZZ = settings(
    max_examples=40, deadline=10_000, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=6), st.just("../../x")
)
JSON = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(string.ascii_lowercase, max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A register with one site."""
    made = fibrebook.create(tmp_path_factory.mktemp("more") / "reg")
    with made.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": "S1", "name": "Mill"}])
    return made


# --- layouts ---------------------------------------------------------------------------------------------------------

GOOD = {
    "title": "A list",
    "blank": ["n/a"],
    "file": {"encoding": "utf-8", "delimiter": ";"},
    "sheets": {"only": "*", "hidden": False},
    "table": {"header_row": 1, "header_rows": 1, "ends_at": ["Notes*"], "ends_after_blank_rows": 3},
    "fields": {
        "site": {"heading": "Site", "fill_down": True, "case": "upper", "replace": [["[ -]+", "-"]]},
        "cable": {"letter": "B", "pattern": "(?P<cable>.+?)/(?P<cores>[0-9]+)", "otherwise": "keep"},
        "cores": {"type": "whole number", "unit": ["cores"]},
        "day": {"heading": "Day", "type": "date", "dates": ["%d.%m.%Y"], "optional": True},
        "both": {"made_of": "{site}/{cable}"},
    },
    "rows": [
        {"table": "sites", "columns": {"site": "{site}"}, "when": ["site"], "where": {"site": "[A-Z0-9-]+"}},
        {
            "table": "cables",
            "columns": {"site": "{site}", "cable": "{cable}", "core_count": "{cores}", "notes": ["{both}", "x"]},
            "on_clash": "first",
        },
    ],
}
WORDS = st.one_of(
    st.text(st.sampled_from("{}[]()\\*+?|^$.%:!<>=#&~ab10 \0\n\u2028é"), max_size=12),
    st.sampled_from(
        ["{site!r}", "{site:>9999999999}", "{site:{cable}}", "\\9", "\\g<no>", "%Y %Y", "%Q", "%", "(?R)", "(?i", "a{99999999999}",
         "[[a]", "(a+)+$", "(?P<site>a)(?P<site>b)", "{", "{}", "{0}", "**", "__class__", "{site.x}", "{site[0]}"]
    ),
)  # fmt: skip
VALUES = st.one_of(WORDS, JSON, st.lists(WORDS, max_size=3), st.lists(st.tuples(WORDS, WORDS).map(list), max_size=2))


def places(value, path=()):
    """Yield the path of everything inside a tree of dicts and lists."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inner:
        yield (*path, key)
        yield from places(part, (*path, key))


def changed(value, path, new):
    """Return a tree with one place exchanged."""
    if not path:
        return new
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = changed(copy[path[0]], path[1:], new)
    return copy


SHEET = "Site;Cable;Day\ns 1;C1/12;31.03.2026\n;c2;\naaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa!;999999999999999999999/1;never\n"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """The list that every layout is tried on."""
    path = tmp_path_factory.mktemp("list") / "list.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


def used(data, sheet):
    """Make a layout and read the list by it; return whether it is a layout. No error but ours may come of it."""
    try:
        layout = layout_from(data, "x.toml")
    except errors.LayoutError as error:
        assert error.problems
        return False
    try:
        read_with_layout(sheet, layout)
    except errors.FibrebookError as error:
        assert error.message
    return True


def test_the_layout_that_is_spoilt_below_is_sound(sheet):
    """Unspoilt, the layout reads the list; so what follows tries more than refusals."""
    assert used(GOOD, sheet)
    assert read_with_layout(sheet, layout_from(GOOD, "x.toml")).tables["sites"][0] == {"site": "S-1"}


@settings(FUZZ, max_examples=150)
@given(st.sampled_from(list(places(GOOD))), VALUES)
@example(("table", "header_rows"), 10**9)
@example(("fields", "site", "replace"), [["a", "\\9"]])
@example(("fields", "site", "replace"), [["a", "\\g<no>"]])
@example(("fields", "day", "dates"), ["%Y %Y"])
@example(("rows", 0, "columns", "site"), "{site:>9999999999}")
@example(("rows", 0, "columns", "site"), "{site!x}")
@example(("file", "encoding"), "no such")
@example(("file", "encoding"), "\0")
@example(("file", "delimiter"), "\n")
@example(("fields", "cable", "pattern"), "(" * 2_000)
def test_layouts_with_one_value_exchanged(sheet, path, value):
    """Whatever stands at one key of a layout, it is a layout that reads in words, or a LayoutError."""
    used(changed(GOOD, path, value), sheet)


@FUZZ
@given(st.dictionaries(st.one_of(st.sampled_from(list(GOOD)), st.text(max_size=5)), VALUES, max_size=6))
def test_layouts_of_any_keys(sheet, data):
    """Any tree of values is a layout or a LayoutError that names what is wrong."""
    used(data, sheet)


@FUZZ
@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
@example(b"a = " + b"[" * 50_000)
@example(b"a = " + b"9" * 5_000)
@example(b"\xff")
def test_layout_files_of_any_bytes(tmp_path, data):
    """A layout file of any bytes is a LayoutError; none of them is by chance a layout."""
    (tmp_path / "x.toml").write_bytes(data)
    with pytest.raises(errors.LayoutError):
        read_layout(tmp_path / "x.toml")


def test_a_folder_as_a_layout(tmp_path):
    """A folder's name in place of a file's is told in words."""
    with pytest.raises(errors.LayoutError):
        read_layout(tmp_path)


@pytest.mark.parametrize(
    "pattern", ["(a|aa)+(a|aa)+(a|aa)+b", "(a|a?)+c", "(.*)*(.*)*(.*)*(.*)*(.*)*x", "(?P<cable>a*)*b"]
)
def test_a_pattern_that_never_ends_is_stopped(tmp_path, monkeypatch, pattern):
    """A pattern that would run for ever on a cell is stopped in time, and named; so is one that replaces."""
    monkeypatch.setattr("fibrebook.workbook.patterns.SECONDS", 0.2)
    path = tmp_path / "long.csv"
    path.write_text(SHEET.replace("C1/12", "a" * 5_000), encoding="utf-8")
    for key, value in (("pattern", pattern), ("replace", [[pattern, ""]])):
        data = changed(GOOD, ("fields", "cable"), {"letter": "B", "pattern": "(?P<cores>.*)", key: value})
        if key == "pattern":
            data = changed(data, ("fields", "cores"), {"constant": "1"})
        started = time.monotonic()
        try:
            read_with_layout(path, layout_from(data, "x.toml"))
        except errors.LayoutError as error:
            assert pattern in str(error)
        assert time.monotonic() - started < 5


def test_the_limit_on_patterns_is_reached(monkeypatch):
    """A text that needs more than the time there is ends in a LayoutError that shows the pattern."""
    from fibrebook.workbook import patterns

    monkeypatch.setattr(patterns, "SECONDS", 0.05)
    slow = patterns.compiled("(a|aa)+(a|aa)+(a|aa)+b")
    with pytest.raises(errors.LayoutError, match="takes more than"):
        patterns.fits(slow, "a" * 5_000)
    with pytest.raises(errors.LayoutError, match="takes more than"):
        patterns.replaced(slow, "", "a" * 5_000)


@pytest.mark.parametrize(
    "text", ["(?R)", "(?:(?:a{1000}){1000}){1000}", "a{99999999999}", "(" * 900, "\\p{L}", "[", "a" * 1001]
)
def test_patterns_that_would_eat_the_memory_are_refused(text):
    """Recursion, repeats of repeats and endless nesting are refused when the layout is read."""
    with pytest.raises(errors.LayoutError, match="pattern"):
        layout_from(changed(GOOD, ("fields", "cable", "pattern"), text), "x.toml")


def test_stars_in_a_sheets_name_cost_no_time():
    """Many stars in a word to look for do not multiply the work."""
    from fibrebook.workbook.layout import matches

    started = time.monotonic()
    assert not matches("*a" * 200 + "*b", "a" * 5_000)
    assert matches("*a" * 200 + "*b", "a" * 5_000 + "b")
    assert time.monotonic() - started < 1


@given(st.text("ab*", max_size=6), st.text("ab", max_size=6))
def test_stars_stand_for_anything(pattern, text):
    """The comparison with stars agrees with the standard library's, which reads no other sign in these."""
    import fnmatch

    from fibrebook.workbook.layout import matches

    assert matches(pattern, text) == fnmatch.fnmatchcase(text, pattern)


# --- photos ----------------------------------------------------------------------------------------------------------

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
    image = pytest.importorskip("PIL.Image")
    out = io.BytesIO()
    image.new("RGB", (40, 30), "red").save(out, {"jpg": "JPEG"}.get(sort, sort.upper()))
    return out.getvalue()


@FUZZ
@given(st.sampled_from(sorted(START)), st.binary(max_size=60), st.booleans())
def test_any_bytes_as_a_photo(reg, sort, data, begun):
    """What begins as a picture is kept and given back to the byte; all else is refused."""
    data = START[sort] + data if begun else data
    try:
        name = keep_photo(reg, data)
    except errors.InputError:
        assert not begun
        return
    assert photo(reg, name) == data


@FUZZ
@given(st.sampled_from(sorted(START)), st.integers(0, 10**9))
def test_spoilt_pictures_are_shown_small_or_not_at_all(sort, seed):
    """A picture cut short or with turned bytes gives a small picture or none, never an error."""
    pytest.importorskip("ipywidgets")
    from fibrebook.forms.photo_pictures import shrunk

    chance, data = random.Random(seed), bytearray(picture(sort))
    for _ in range(chance.randint(0, 12)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    assert shrunk(bytes(data[: chance.choice([len(data), chance.randrange(len(data))])])).startswith(("data:", ""))


@pytest.mark.parametrize("side", [8_000, 13_000, 60_000, 2**31 - 1])
def test_a_picture_of_enormous_size_is_not_unpacked(reg, side):
    """A small file that says it has millions of pixels is kept as it is, and shown as one that cannot be shown."""
    pytest.importorskip("ipywidgets")
    from fibrebook.forms.photo_section import photo_html

    started = time.monotonic()
    name = keep_photo(reg, huge_png(side, side))
    assert "cannot be shown" in photo_html(reg, {"photo": "1", "file": name})
    assert time.monotonic() - started < 5


def test_a_sound_picture_is_shown():
    """The small picture of a sound one is there for each sort; so what is refused above is refused for a reason."""
    pytest.importorskip("ipywidgets")
    from fibrebook.forms.photo_pictures import shrunk

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
    name = keep_photo(reg, START["gif"] + b"once")
    path = Path(reg.where) / "photos" / name
    path.unlink()
    path.mkdir()
    with pytest.raises(errors.DamagedError):
        photo(reg, name)
    path.rmdir()


# --- drafts ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def own_drafts(tmp_path, monkeypatch):
    """A folder of drafts for one test."""
    pytest.importorskip("ipywidgets")
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
    from fibrebook.forms import drafts

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
    from fibrebook.forms import drafts

    kept_as(own_drafts, head(reg, {"day": {}}) | {key: value})
    assert all(isinstance(kept["content"], dict) for _, kept in drafts.waiting(reg.id, "record-visit"))


def test_a_draft_of_enormous_size_is_not_read(reg, own_drafts):
    """A file far larger than any day's work is passed over without reading it."""
    from fibrebook.forms import drafts

    path = kept_as(own_drafts, b"")
    with path.open("r+b") as file:
        file.truncate(3_000_000_000)  # a hole; it takes no room
    started = time.monotonic()
    assert drafts.waiting(reg.id, "record-visit") == []
    assert time.monotonic() - started < 1


def test_a_folder_that_takes_no_drafts_is_told(reg, tmp_path, monkeypatch):
    """Where drafts cannot be kept, the person is told in words while there is still time to save."""
    pytest.importorskip("ipywidgets")
    from fibrebook.forms import drafts

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
    pytest.importorskip("ipywidgets")
    from fibrebook.forms.day import Day

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
    from fibrebook.forms import drafts
    from fibrebook.forms.record_visit_screen import SCREEN, RecordVisit

    file = kept_as(own_drafts, head(reg, changed(WORK, path, value)))
    screen = RecordVisit(reg)
    for found, kept in drafts.waiting(reg.id, SCREEN, but=screen.draft):
        screen.guard(lambda found=found, kept=kept: screen.resume(found, kept))
    screen._discard(file)
    assert not file.exists()


# --- plugins ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def plugged():
    """Give a function that puts a plugin of some hooks at the door; it is gone after the test."""
    put = []

    def plug(**hooks):
        parts = {n: staticmethod(plugins.hookimpl(f)) for n, f in hooks.items()}
        plugin = type("Firm", (), parts)()
        plugins.manager().register(plugin, name="a firm's")
        put.append(plugin)
        reference.forget()

    yield plug
    for plugin in put:
        plugins.manager().unregister(plugin)
    reference.forget()


def asked_for(what):
    """Ask; a fault must be ours and name the plugin or its file."""
    try:
        what()
    except (errors.PluginError, errors.ValueSourceError) as error:
        assert "a firm's" in error.message or ".csv" in error.message, error.message
        return error.message
    return ""


def broken():
    """Break as a plugin may."""
    raise RuntimeError("no network")


def half():
    """Give one thing and break."""
    yield lambda situation: []
    raise RuntimeError("half way")


@pytest.mark.parametrize("given_", [broken, half, lambda: 5, lambda: "attenuation.csv", lambda: [7], lambda: ["\0"],
                                    lambda: [None], lambda: ["no such file.csv"], lambda: [Path(__file__).parent]])  # fmt: skip
@pytest.mark.parametrize("hook", ["reference_files", "layout_files"])
def test_hooks_for_files_that_give_wrong_things(plugged, hook, given_):
    """A hook that breaks, or gives what is no file, is a PluginError that names the plugin and the hook."""
    from fibrebook.workbook.guess import shipped_layouts

    plugged(**{hook: given_})
    ask = {"reference_files": reference.names, "layout_files": shipped_layouts}[hook]
    with pytest.raises(errors.PluginError, match=f"a firm's.*{hook}"):
        ask()


class NoNames:
    """A check without a name of its own."""

    def __call__(self, situation):
        """Break."""
        raise ValueError("in a check")


@pytest.mark.parametrize("check", [
    broken, lambda s: broken(), lambda s: None, lambda s: 7, lambda s: "text", lambda s: ["text"], lambda s: [None],
    NoNames(), 5, None, lambda: [], lambda s: (broken() for _ in "x"),
    lambda s: [fibrebook.analyses.situation.Advice("S1", "c", "t", None, "w", "d")],
    lambda s: [fibrebook.analyses.situation.Advice("S1", 5, "t", "r", "w", "d")],
])  # fmt: skip
def test_advice_checks_that_break_or_give_wrong_things(reg, plugged, check):
    """A check that raises, is no function or gives no advice is a PluginError that names the plugin."""
    plugged(advice_checks=lambda: [check])
    with pytest.raises(errors.PluginError, match="a firm's"):
        fibrebook.advice(reg)


@pytest.mark.parametrize("given_", [broken, half, lambda: 5, lambda: [len], lambda: {"x": 5}, lambda: {7: len},
                                    lambda: {"spare": len}, lambda: "spare"])  # fmt: skip
def test_analyses_that_are_no_functions(plugged, given_):
    """Analyses that are no mapping, no functions, or take a name that is taken are a PluginError with the plugin."""
    assert "spare" in plugins.gathered_analyses()
    plugged(analyses=given_)
    with pytest.raises(errors.PluginError, match="a firm's"):
        plugins.gathered_analyses()


COLUMNS = ("fibre_class", "wavelength_nm", "attenuation_db_per_km", "source", "basis")
CELLS = st.one_of(
    st.sampled_from(["OS2", "1310", "0.4", "a handbook", "seen", "", "nan", "inf", "1e999", "-1", "9" * 5_000, '"', 'x"y', "\0", "x" * 140_000]),
    st.text(max_size=6),
)  # fmt: skip


@settings(FUZZ, max_examples=80)
@given(
    st.lists(st.sampled_from([*COLUMNS, "x", ""]), max_size=7),
    st.lists(st.lists(CELLS, min_size=3, max_size=6), max_size=3),
    st.sampled_from(["attenuation", "cables_of_mine", "group_index"]),
)
@example(list(COLUMNS), [["OS2", "1310", "nan", "a", "seen"]], "attenuation")
@example(list(COLUMNS), [["OS2", "1310", "1e999", "a", "seen"]], "attenuation")
@example(list(COLUMNS), [["OS2", "1310", "0.4", '"a', "seen"]], "attenuation")
@example(list(COLUMNS), [["OS2", "1310", "0.4", "x" * 140_000, "seen"]], "attenuation")
@example(["position", "source", "basis"], [["99999999999", "a", "seen"]], "of_mine")
def test_reference_files_with_spoilt_rows(plugged, tmp_path, columns, rows, name):
    """A plugin's file of any rows is read, or refused with its name."""
    path = tmp_path / f"{name}.csv"
    path.write_text("\n".join([",".join(columns), *map(",".join, rows)]), encoding="utf-8", newline="")
    if not FILES:
        plugged(reference_files=lambda: list(FILES))
    FILES[:] = [path]
    reference.forget()
    asked_for(lambda: reference.table(name).validate(full=True))


FILES: list[Path] = []


@pytest.mark.parametrize(("row", "fault"), [
    ("OS2,1310,nan,a handbook,seen", "not a number"), ("OS2,1310,1e999,a handbook,seen", "not a number"),
    ('OS2,1310,0.4,"a,seen', "no CSV"), ("OS2,1310,0.4,,seen", "no source"), ("OS2,1310,0.4,a,rumour", "rumour"),
    ("OS2,1310,0.4", "cells"),
])  # fmt: skip
def test_a_spoilt_row_is_named(plugged, tmp_path, row, fault):
    """The message names the file and what is wrong with the row."""
    path = tmp_path / "attenuation.csv"
    path.write_text(",".join(COLUMNS) + "\n" + row + "\n", encoding="utf-8")
    plugged(reference_files=lambda: [path])
    message = asked_for(lambda: reference.table("attenuation"))
    assert fault in message and "attenuation.csv" in message


def test_reference_files_of_any_bytes(plugged, tmp_path):
    """A file that is no text is refused with its name."""
    path = tmp_path / "attenuation.csv"
    path.write_bytes(b"\xff\xfe\0")
    plugged(reference_files=lambda: [path])
    assert "attenuation.csv" in asked_for(lambda: reference.table("attenuation"))
