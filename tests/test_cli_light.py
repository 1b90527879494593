"""The commands about light say what the answers say, in text within 80 columns and as strict JSON."""

from __future__ import annotations

import json

import pytest
from demo_once import make_demo
from test_cli import run

import fibrebook


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo firm's register."""
    where = tmp_path_factory.mktemp("light") / "register"
    make_demo(where)
    return where


ASKED = (
    ("would-run", "Observatory", "channel", "CH1"),
    ("would-run", "Mill", "M1/11"),
    ("room-for", "-s", "Mill"),
    ("acceptance", "-s", "Mill"),
    ("untested",),
    ("polarity", "-s", "Secondary school"),
    ("locate", "Quarry", "P1/1/A", "1190"),
    ("splices", "--by", "month"),
    ("pedigree", "attenuation", "fibre_class=OM3"),
)


@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_text_fits_and_json_is_strict(demo, words):
    """Each command answers in lines of at most 80 signs, and in JSON that any reader takes."""
    text = run(*words, "--register", demo)
    assert text.code == 0 and text.out.strip()
    if words[0] != "pedigree":  # a pedigree is one sentence a value
        assert max(map(len, text.out.splitlines())) <= 80
    rows = run(*words, "--register", demo, "--json")
    assert rows.code == 0
    assert rows.json


def test_answers_are_those_of_the_package(demo):
    """The rows of a command are the rows of the function of that name."""
    told = run("would-run", "Observatory", "channel", "CH1", "-r", demo, "--json").json
    frame = fibrebook.would_run(fibrebook.open(demo), "Observatory", ("channel", "CH1"))
    assert [(r["application"], r["runs"]) for r in told] == list(zip(frame["application"], frame["runs"], strict=True))
    failed = run("acceptance", "-r", demo, "--json").json
    assert {r["verdict"] for r in failed} == {"marginal"}


def test_the_firm_s_margin_is_honoured(demo, tmp_path):
    """The command `headroom` takes the firm's margin off like the function does."""
    reg = fibrebook.open(demo).take_away(tmp_path / "copy")
    with reg.edit(by="ts", why="margin") as edit:
        edit.put("choices", [{"choice": "margin_db", "value": "1"}])
    before, after = (
        {(r["site"], r["channel"], r["direction"], r["wavelength_nm"]): r["headroom_db"] for r in run(
            "headroom", "-s", "Observatory", "-r", where, "--json").json}
        for where in (demo, tmp_path / "copy")
    )  # fmt: skip
    assert after == {k: pytest.approx(v - 1.0) for k, v in before.items()}


def test_a_start_that_is_not_there_is_told(demo):
    """What is nothing at the site ends with exit code 1 and says what to give."""
    done = run("locate", "Quarry", "nowhere", "10", "-r", demo)
    assert done.code == 1 and "has no core, port or interface 'nowhere'" in done.err


def test_pedigree_without_a_register(monkeypatch, tmp_path):
    """Published values are told without any register; a column that is none is named."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FIBREBOOK_REGISTER", raising=False)
    assert "3.5 dB/km" in run("pedigree", "attenuation", "fibre_class=OM3", "wavelength_nm=850").out
    assert "attenuation" in run("pedigree").out.splitlines()
    done = run("pedigree", "attenuation", "colour=red")
    assert done.code == 1 and "No column 'colour'" in done.err
    assert run("pedigree", "attenuation", "red").code == 2
    (row,) = json.loads(run("pedigree", "practice", "name=test uncertainty", "--json").out)
    assert row["value"] == 0.1
