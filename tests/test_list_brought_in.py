"""A list of any shape into the register: by the command, by answers in a file, and with what is asked kept aside."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

import fibrebook
from fibrebook.cli import cli
from fibrebook.errors import BringInError

ROWS = ["Site: Tannery", "", "Cable|Core|Colour|Panel|Port|Remark", *(f"C1|{n}|{c}|P1|{n}|" for n, c in enumerate(
    ("blue", "orange", "green", "brown"), 1)), *(f"C2|{n}||P1|{n + 4}|" for n in range(1, 5))]  # fmt: skip


def list_file(folder: Path, rows: list[str]) -> Path:
    """A text with tabs."""
    path = folder / "old list.txt"
    path.write_text("\n".join(row.replace("|", "\t") for row in rows), encoding="utf-8")
    return path


def run(*words: str, typed: str = "") -> tuple[int, str]:
    """Run a command; its exit code and all that it printed."""
    done = CliRunner().invoke(cli, list(words), input=typed, standalone_mode=True)
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.output


def test_nothing_comes_in_before_its_sentence_is_confirmed(tmp_path: Path) -> None:
    """One open question refuses the list; after yes, all of it is one commit that names file and digest."""
    reg = fibrebook.create(tmp_path / "reg")
    reading = fibrebook.read_list(list_file(tmp_path, ROWS))
    with pytest.raises(BringInError, match="nothing was changed"):
        fibrebook.bring_in(reg, reading, by="ab", why="old list")
    trial = fibrebook.bring_in(reg, reading, by="ab", why="old list", dry_run=True)
    assert not trial.ok and reg.commit == 0
    (question,) = reading.asked
    reading.answer(question.key, "yes")
    report = fibrebook.bring_in(reg, reading, by="ab", why="old list")
    assert report.ok and report.commit == 1
    made = reg.table("terminations")
    assert {(t.enclosure, t.port, t.cable, t.core) for t in made.itertuples()} == {
        ("P1", str(n), "C1", n) for n in range(1, 5)
    } | {("P1", str(n + 4), "C2", n) for n in range(1, 5)}
    assert reading.book.digest[:12] in reg.log().iloc[-1]["why"]
    again = fibrebook.bring_in(reg, reading, by="ab", why="old list")
    assert again.commit is None and set(again.counts()) == {"unchanged"}
    assert any(line.sheet == "old list" and line.row == 4 for line in again.lines)


def test_what_is_sound_comes_in_and_the_rest_is_kept(tmp_path: Path) -> None:
    """An open question keeps its cells out; they are in a workbook with the reason beside each, and snags at the site."""
    reg = fibrebook.create(tmp_path / "reg")
    rows = [*ROWS[:4], "C1|2|red|P1|2|=1+1", *ROWS[5:]]
    reading = fibrebook.read_list(list_file(tmp_path, rows))
    sentence = next(q for q in reading.asked if q.key.startswith("sentence"))
    reading.answer(sentence.key, "yes")
    assert [q.key for q in reading.asked] == ["colour of core 2 of C1, red"]
    report = fibrebook.bring_in(reg, reading, by="ab", why="old list", keep_questions=True)
    assert report.commit == 1
    cores = {(t.cable, t.core) for t in reg.table("terminations").itertuples()}
    assert ("C1", 2) not in cores and len(cores) == 7
    snags = reg.table("snags")
    assert len(snags) == 1 and "red" in snags.iloc[0]["what"]
    kept = load_workbook(tmp_path / "old list questions.xlsx")["questions"]
    texts = list(kept.iter_rows(min_row=2, values_only=True))
    assert {t[3] for t in texts} >= {"red", "2", "=1+1"} and all("core 2" in t[4].casefold() for t in texts)
    assert "old list questions.xlsx" in str(report.notes)


def test_what_the_register_refuses_is_left_aside_with_what_rests_on_it(tmp_path: Path) -> None:
    """A port that holds another core already: its row is kept aside, the others come in."""
    reg = fibrebook.create(tmp_path / "reg")
    first = fibrebook.read_list(list_file(tmp_path, ROWS))
    fibrebook.bring_in(reg, first.answer(1, "yes"), by="ab", why="first")
    rows = ["Site: Tannery", "", "Cable|Core|Colour|Panel|Port|Remark", *(f"C3|{n}||P1|{n + 7}|" for n in range(1, 5))]
    second = fibrebook.read_list(list_file(tmp_path, rows), layout=first.layout())
    assert second.asked == []
    report = fibrebook.bring_in(reg, second, by="ab", why="second", keep_questions=True)
    assert report.commit == 2
    ports = {
        (t.port, t.cable, t.core) for t in reg.table("terminations").itertuples() if t.port in ("8", "9", "10", "11")
    }
    assert ports == {("8", "C2", 4), ("9", "C3", 2), ("10", "C3", 3), ("11", "C3", 4)}


def test_the_command_tells_asks_keeps_and_brings_in(tmp_path: Path) -> None:
    """read-list: what was understood; questions to a file and back; a layout kept; one commit."""
    path, folder = str(list_file(tmp_path, ROWS)), str(tmp_path / "reg")
    fibrebook.create(folder)
    code, told = run("read-list", path)
    assert code == 0 and "8 terminations" in told and "Are all 8 lines" in told and "0 a question" in told
    asked = tmp_path / "asked.toml"
    run("read-list", path, "--questions", str(asked))
    content = tomllib.loads(asked.read_text())
    assert len(content["question"]) == 1
    asked.write_text(asked.read_text().replace('answer = ""', 'answer = "yes"'))
    kept = tmp_path / "kept.toml"
    code, told = run("read-list", path, "--answers", str(asked), "--keep", str(kept))
    assert code == 0 and "Nothing is asked any more." in told
    code, told = run("-r", folder, "read-list", path, "--layout", str(kept), "--bring-in", "--by", "ab", "--why", "old")
    assert code == 0 and "commit 1" in told
    code, told = run("read-list", path, "--layout", str(kept), "--json")
    assert code == 0 and len(json.loads(told)["facts"]["terminations"]) == 8


def test_the_command_asks_in_the_terminal(tmp_path: Path) -> None:
    """--ask: the number of a proposal answers, nothing passes over."""
    path = str(list_file(tmp_path, ROWS[2:]))
    code, told = run("read-list", path, "--ask", typed="Tannery\n1\n")
    assert code == 0 and "which site is it?" in told and "Nothing is asked any more." in told
    code, told = run("read-list", path, "--ask", typed="\n1\n")
    assert code == 0 and "1. Nothing in the list says of which site it is" in told


@pytest.mark.parametrize("words", [("--bring-in",), ("--answers", "none.toml"), ("--layout", "none.toml")])
def test_the_command_says_what_it_lacks(words: tuple[str, ...], tmp_path: Path) -> None:
    """No initials, no such file: told in words."""
    from fibrebook.errors import FibrebookError

    with pytest.raises(FibrebookError):
        run("read-list", str(list_file(tmp_path, ROWS)), *words)
