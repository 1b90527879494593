"""What is brought in is judged at once: the report tells what advice and acceptance say of it."""

from __future__ import annotations

import csv
import datetime as dt
import json
from html import escape

import pytest
from click.testing import CliRunner
from light_plant import duplex, register

import fibrebook
from fibrebook import screens
from fibrebook.cli import cli
from fibrebook.errors import FibrebookError

COLUMNS = (
    "site", "test", "from_at", "from_port", "from_position", "to_at", "to_port", "to_position", "method",
    "wavelength_nm", "direction", "reference_method", "loss_db", "verdict", "tested_on",
)  # fmt: skip
# 600 m of OM3: 2.1 dB of fibre, two pigtails at 0.3 dB, two ends at 0.5 dB (one cord): 3.70 dB
LOSSES = {"T1": (3.0, "pass"), "T2": (3.75, "marginal"), "T3": (9.5, "pass"), "T4": (None, "")}


def sheet(where, rows):
    """A .csv of tests."""
    path = where / "tests.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    return path


def readings(side="A", **more):
    """Readings of a link, one of each verdict."""
    ends = {
        "from_at": "P1",
        "from_port": "1",
        "from_position": side,
        "to_at": "P2",
        "to_port": "1",
        "to_position": side,
    }
    return [
        {
            "site": "S1", "test": test, **ends, "method": "loss test", "wavelength_nm": 850, "direction": "a to b",
            "reference_method": "one-cord", "loss_db": loss, "verdict": verdict, "tested_on": dt.date(2026, 3, 1), **more,
        }
        for test, (loss, verdict) in LOSSES.items()
    ]  # fmt: skip


@pytest.fixture
def reg(tmp_path):
    """A register of one link with a polarity slip, which is advice before anything is brought in."""
    return register(duplex("1000BASE-SX", "OM3", 600.0, turn=False), tmp_path / "register")


def bring(reg, tmp_path, rows, **more):
    """Bring a sheet of tests in."""
    return fibrebook.bring_in(reg, sheet(tmp_path, rows), by="ts", why="readings of the day", **more)


@pytest.mark.parametrize("dry_run", [True, False])
def test_every_loss_test_brought_is_judged_in_the_report(reg, tmp_path, dry_run):
    """The sum by verdict, and each that did not pass with loss, limit and why; before the commit as after it."""
    report = bring(reg, tmp_path, readings(), dry_run=dry_run)
    assert report.said.words[:4] == [
        "loss tests judged by ISO/IEC 14763-3:2014/Cor 1: 1 pass, 1 marginal, 1 fail, 1 not known",
        "test S1 / T2 at 850 nm: 3.75 dB against 3.70 dB is marginal, over the limit",
        "test S1 / T3 at 850 nm: 9.50 dB against 3.70 dB is fail",
        "test S1 / T4 at 850 nm: not known, no loss recorded",
    ]
    assert [t["verdict"] for t in report.said.tests] == ["pass", "marginal, over the limit", "fail", "not known"]
    assert all(line in str(report) for line in report.said.words[:4])
    assert all(word in report._repr_html_() for word in ("3.75 dB against 3.70 dB", "worth a second look"))


@pytest.mark.parametrize("dry_run", [True, False])
def test_advice_is_what_the_file_causes_and_no_more(reg, tmp_path, dry_run):
    """What `advice` says after the file and did not say before it, row by row; what stood before is not repeated."""
    before = fibrebook.advice(reg).to_dict("records")
    assert before
    report = bring(reg, tmp_path, readings(), dry_run=dry_run)
    if dry_run:
        bring(reg, tmp_path, readings())
    after = fibrebook.advice(reg).to_dict("records")
    caused = [row for row in after if row not in before]
    assert [dict(a) for a in report.said.advice] == caused
    assert "test over its limit" in {a["check"] for a in caused}
    assert any("9.50 dB at 850 nm against a limit of 3.70 dB" in word for word in report.said.words)


def test_a_failed_test_of_another_method_is_told(reg, tmp_path):
    """No verdict is made of an OTDR trace; that it is written down as failed is told."""
    (row, *_) = readings(method="OTDR", reference_method="", verdict="fail", loss_db="")
    report = bring(reg, tmp_path, [row])
    assert report.said.words[0] == "test S1 / T1 at 850 nm (OTDR): written down as failed"


def test_only_what_came_is_judged(reg, tmp_path):
    """Tests that stood before, and rows that change nothing, are not told again."""
    bring(reg, tmp_path, readings())
    again = [*readings(), readings("B", test="T9", loss_db=1.0)[0]]
    report = bring(reg, tmp_path, again)
    assert [t["test"] for t in report.said.tests] == ["T9"]
    assert report.said.words[0].endswith(": 1 pass")
    assert bring(reg, tmp_path, again).said.words == ()  # nothing to change


def test_what_is_refused_is_not_judged(reg, tmp_path):
    """A file that does not come in has its problems told, and nothing of what it would have brought."""
    wrong = readings(wavelength_nm="blue")
    report = bring(reg, tmp_path, wrong, dry_run=True)
    assert report.problems and report.said.words == ()
    with pytest.raises(FibrebookError) as caught:
        bring(reg, tmp_path, wrong)
    assert caught.value.report.said.words == ()


@pytest.mark.parametrize("one_by_one", [40, 1])
def test_a_site_that_is_new_is_judged_with_its_plant(tmp_path, monkeypatch, one_by_one):
    """Two sites in one folder, one of them new: tests of both, each on its own plant; many sites are all looked at."""
    monkeypatch.setattr("fibrebook.readers.bring_in.worth_a_look.ONE_BY_ONE", one_by_one)
    reg = register(duplex("1000BASE-SX", "OM3", 600.0), tmp_path / "register")
    other = register(duplex("1000BASE-SX", "OM3", 300.0), tmp_path / "other")
    folder = tmp_path / "book"
    folder.mkdir()
    for kind in ("sites", "enclosures", "ports", "cables", "terminations", "equipment", "interfaces", "patches"):
        other.table(kind).assign(site="S2").to_csv(folder / f"{kind}.csv", index=False)
    sheet(folder, [*readings(), *readings(site="S2")])
    heard = []
    for dry_run in (True, False):
        report = fibrebook.bring_in(reg, folder, by="ts", why="two sites", dry_run=dry_run)
        limits = {(t["site"], t["test"]): round(t["limit_db"], 2) for t in report.said.tests}
        assert limits["S1", "T1"] == 3.70
        assert limits["S2", "T1"] == 2.65  # 0.3 x 3.5 + 2 x 0.3 + 2 x 0.5
        heard.append(report.said.words)
    assert heard[0] == heard[1]


def test_the_command_prints_it_and_gives_it_as_json(reg, tmp_path):
    """`bring-in` says it in text, and as JSON that any reader takes."""
    asked = ["bring-in", str(sheet(tmp_path, readings())), "--by", "ts", "--why", "day", "--dry-run"]
    asked += ["-r", str(tmp_path / "register")]
    assert "9.50 dB against 3.70 dB is fail" in CliRunner().invoke(cli, asked, catch_exceptions=False).output
    (told,) = json.loads(CliRunner().invoke(cli, [*asked, "--json"], catch_exceptions=False).output)
    assert [t["verdict"] for t in told["tests"]] == ["pass", "marginal, over the limit", "fail", "not known"]
    assert told["advice"]


def test_what_a_copy_brings_back_is_judged_as_a_file_is(reg, tmp_path):
    """By the command and by the screen: the words that a file with the same tests would have."""
    expected = bring(reg, tmp_path, readings(), dry_run=True).said
    where = str(reg.where)
    for n, way in enumerate(("command", "screen")):
        van = reg.take_away(tmp_path / f"van {n}")
        bring(van, tmp_path, readings(site="S1"))
        if way == "command":
            words = ["-r", where, "bring-back", str(van.where), "--by", "ts", "--why", "back"]
            told = CliRunner().invoke(cli, words).output
            assert all(line in told for line in expected.words)
            undone = reg.undo(reg.commit, "ts", "again, by the screen")
            assert undone
            found = json.loads(CliRunner().invoke(cli, [*words, "--json"]).output)
            assert found == {"commits": []}  # the copy's commit is here, though undone
        else:
            screen = screens.bring_back(reg, van.where)
            screen.by.value = "ts"
            screen.bring_back()
            assert all(escape(line) in screen._worth.value for line in expected.words)
            screen.look()
            assert screen._worth.value == ""


def test_bring_back_tells_advice_and_tests_as_rows(reg, tmp_path):
    """With --json the same two lists that a report has."""
    van = reg.take_away(tmp_path / "van")
    report = bring(van, tmp_path, readings())
    words = ["-r", str(reg.where), "bring-back", str(van.where), "--by", "ts", "--why", "back", "--json"]
    found = json.loads(CliRunner().invoke(cli, words).output)
    assert [t["test"] for t in found["tests"]] == [t["test"] for t in report.said.tests]
    assert [a["check"] for a in found["advice"]] == [a["check"] for a in report.said.advice]
