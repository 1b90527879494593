"""Layouts of any content: one clear error or a right reading of the list, in bounded time."""

from __future__ import annotations

import time

import pytest
from hostile import FUZZ, JSON, changed, places
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fibrebook import errors
from fibrebook.readers.layouts.file import layout_from
from fibrebook.workbook import read_layout, read_with_layout

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


@settings(FUZZ, max_examples=60)
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
    monkeypatch.setattr("fibrebook.readers.layouts.patterns.SECONDS", 0.2)
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
    from fibrebook.readers.layouts import patterns

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
    from fibrebook.readers.layouts.layout import matches

    started = time.monotonic()
    assert not matches("*a" * 200 + "*b", "a" * 5_000)
    assert matches("*a" * 200 + "*b", "a" * 5_000 + "b")
    assert time.monotonic() - started < 1


@given(st.text("ab*", max_size=6), st.text("ab", max_size=6))
def test_stars_stand_for_anything(pattern, text):
    """The comparison with stars agrees with the standard library's, which reads no other sign in these."""
    import fnmatch

    from fibrebook.readers.layouts.layout import matches

    assert matches(pattern, text) == fnmatch.fnmatchcase(text, pattern)
