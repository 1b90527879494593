"""Plugins that break or give wrong things: an error that names the plugin or its file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hostile import FUZZ, one_site
from hypothesis import example, given, settings
from hypothesis import strategies as st

import fibrebook
from fibrebook import errors, plugins
from fibrebook.reference import tables as reference


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A register with one site."""
    return one_site(tmp_path_factory.mktemp("hostile"))


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


def left_out(part=""):
    """What was noted of the firm's plugin, in words; it must have been."""
    told = [str(f) for f in plugins.faults() if part in f.part]
    assert told and all("a firm's" in one for one in told), told
    return " ".join(told)


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
    """A hook that breaks, or gives what is no file, is left out and named; ours are given all the same."""
    from fibrebook.readers.guess.guess import shipped_layouts

    ask = {"reference_files": reference.names, "layout_files": shipped_layouts}[hook]
    ours = ask()
    plugged(**{hook: given_})
    assert ask() == ours
    assert hook in left_out(hook)


class NoNames:
    """A check without a name of its own."""

    def __call__(self, situation):
        """Break."""
        raise ValueError("in a check")


@pytest.mark.parametrize("check", [
    broken, lambda s: broken(), lambda s: None, lambda s: 7, lambda s: "text", lambda s: ["text"], lambda s: [None],
    NoNames(), 5, None, lambda: [], lambda s: (broken() for _ in "x"),
    lambda s: [fibrebook.analyses.advice.situation.Advice("S1", "c", "t", None, "w", "d")],
    lambda s: [fibrebook.analyses.advice.situation.Advice("S1", 5, "t", "r", "w", "d")],
])  # fmt: skip
def test_advice_checks_that_break_or_give_wrong_things(reg, plugged, check):
    """A check that raises, is no function or gives no advice is left out; that is advice too, with its plugin's name."""
    others = fibrebook.advice(reg)
    plugged(advice_checks=lambda: [check])
    told = fibrebook.advice(reg)
    assert told[told["check"] == "plugin"]["record"].tolist() == ["a firm's"]
    assert told[told["check"] != "plugin"].reset_index(drop=True).equals(others)
    assert "broke" in left_out()


@pytest.mark.parametrize("given_", [broken, half, lambda: 5, lambda: [len], lambda: {"x": 5}, lambda: {7: len},
                                    lambda: {"spare": len}, lambda: "spare"])  # fmt: skip
def test_analyses_that_are_no_functions(plugged, given_):
    """Analyses that are no declarations, no functions, or take a name that is taken are left out, and the plugin named."""
    ours = plugins.gathered_analyses()
    assert "spare" in ours
    plugged(analyses=given_)
    assert plugins.gathered_analyses() == ours
    assert "anal" in left_out("analyses")


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
    """A plugin's file of any rows is read, or left out with its name."""
    path = tmp_path / f"{name}.csv"
    path.write_text("\n".join([",".join(columns), *map(",".join, rows)]), encoding="utf-8", newline="")
    if not FILES:
        plugged(reference_files=lambda: list(FILES))
    FILES[:] = [path]
    reference.forget()
    try:
        reference.table(name).validate(full=True)
    except errors.ValueSourceError as error:  # a table that none but a faulty file would have made
        assert name in error.message


FILES: list[Path] = []


@pytest.mark.parametrize(("row", "fault"), [
    ("OS2,1310,nan,a handbook,seen", "not a number"), ("OS2,1310,1e999,a handbook,seen", "not a number"),
    ('OS2,1310,0.4,"a,seen', "no CSV"), ("OS2,1310,0.4,,seen", "no source"), ("OS2,1310,0.4,a,rumour", "rumour"),
    ("OS2,1310,0.4", "cells"),
])  # fmt: skip
def test_a_spoilt_row_is_named(plugged, tmp_path, row, fault):
    """A file with a spoilt row is left out whole; what is told names the file and what is wrong with the row."""
    ours = reference.table("attenuation")
    path = tmp_path / "attenuation.csv"
    path.write_text(",".join(COLUMNS) + "\n" + row + "\n", encoding="utf-8")
    plugged(reference_files=lambda: [path])
    assert reference.table("attenuation").equals(ours)
    told = left_out("attenuation.csv")
    assert fault in told and "attenuation.csv" in told


def test_reference_files_of_any_bytes(plugged, tmp_path):
    """A file that is no text is left out, with its name."""
    path = tmp_path / "attenuation.csv"
    path.write_bytes(b"\xff\xfe\0")
    plugged(reference_files=lambda: [path])
    reference.table("attenuation")
    assert "attenuation.csv" in left_out()


def test_a_file_that_was_mended_is_taken(plugged, tmp_path):
    """Once the file is in order its rows are there and nothing is said of it any more."""
    path = tmp_path / "attenuation.csv"
    path.write_text(",".join(COLUMNS) + "\nOS2,1310,nan,a handbook,seen\n", encoding="utf-8")
    plugged(reference_files=lambda: [path])
    without = reference.table("attenuation").num_rows
    assert left_out()
    path.write_text(",".join(COLUMNS) + "\nOS2,1310,0.4,a handbook,seen\n", encoding="utf-8")
    reference.forget()
    assert reference.table("attenuation").num_rows == without + 1
    assert plugins.in_words() == ""
