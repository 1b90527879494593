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
