"""The reader that takes a file: a plugin's before ours; what it gives is judged and committed as a workbook's rows are."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from ducts import door

import fibrebook
from fibrebook import plugins
from fibrebook.errors import BringInError, FibrebookError, PluginError
from fibrebook.readers.bring_in import any_file


@pytest.fixture
def reg(tmp_path: Path) -> Iterator[fibrebook.Register]:
    """A register with two cables, the example plugin at the door."""
    with door("example"):
        found = fibrebook.create(tmp_path / "register")
        with found.edit("ab", "set up") as edit:
            edit.put("sites", [{"site": "Mill"}])
            edit.put("cables", [{"site": "Mill", "cable": c, "core_count": 4, "notes": "old"} for c in ("C1", "C2")])
        yield found


def written(folder: Path, text: str) -> Path:
    """A file of the store's drum list."""
    path = folder / "store.txt"
    path.write_text(text, encoding="utf-8")
    return path


def plug(answer: Any) -> None:
    """Put a plugin that answers of every file to the door, after the example."""
    give = plugins.hookimpl(lambda name, head: answer(name, head))
    give.__name__ = "file_reader"
    plugins.manager().register(type("Firm", (), {"file_reader": staticmethod(give)})(), name="firm")


def test_a_plugin_reads_a_file_of_its_own(reg: fibrebook.Register, tmp_path: Path) -> None:
    """Its rows become one commit with a report; columns that it does not give keep their values."""
    path = written(tmp_path, "drums of Mill\nC1 T7\nC2 T8\n")
    assert fibrebook.bring_in(reg, path, by="ef", why="drums", dry_run=True).commit is None
    report = fibrebook.bring_in(reg, path, by="ef", why="drums")
    assert report.commit == 2 and [line.fate for line in report.lines] == ["changed", "changed"]
    frame = reg.table("cables")
    assert frame["drum"].tolist() == ["T7", "T8"] and frame["notes"].tolist() == ["old", "old"]


def test_what_it_gives_wrongly_is_named_with_its_line(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A row that lacks what it must have is told as a workbook's is; nothing is committed."""
    with pytest.raises(BringInError) as error:
        fibrebook.bring_in(reg, written(tmp_path, "drums of Nowhere\nC1 T7\n"), by="ef", why="drums")
    assert error.value.problems and reg.commit == 1


def test_ours_comes_by_the_hook_and_takes_the_rest(reg: fibrebook.Register, tmp_path: Path) -> None:
    """A workbook goes to ours; a file that nobody knows is refused in the words that ours has."""
    assert plugins.reader_of("out.xlsx", b"PK") == ("fibrebook.readers.door", f"{any_file.__name__}:take_workbook")
    path = fibrebook.send_out(reg, tmp_path / "out.xlsx")
    assert fibrebook.bring_in(reg, path, by="ef", why="x").commit is None
    with pytest.raises(FibrebookError, match="is not a kind of file that can be brought in"):
        fibrebook.bring_in(reg, written(tmp_path, "cables of Mill"), by="ef", why="x")


ANSWERS: dict[str, tuple[Any, str]] = {
    "breaks": (lambda name, head: 1 / 0, "broke at store.txt: ZeroDivisionError"),
    "names no function": (lambda name, head: "fibrebook", "names no function"),
    "gives no text": (lambda name, head: 5, "names no function"),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_a_faulty_answer_is_passed_over_and_named(name: str, reg: fibrebook.Register, tmp_path: Path) -> None:
    """The next that takes the file has it; the plugin is named; saves go on."""
    answer, told = ANSWERS[name]
    plug(answer)
    assert fibrebook.bring_in(reg, written(tmp_path, "drums of Mill\nC1 T7\n"), by="ef", why="x").commit == 2
    assert "'firm'" in plugins.in_words() and told in plugins.in_words()


@pytest.mark.parametrize(("rows", "told"), [
    (lambda path, reg: 1 / 0, "ZeroDivisionError"), (lambda path, reg: [1], "no rows by kind"),
    (lambda path, reg: {"cable": [{}]}, "no kind of record"), (lambda path, reg: {"cables": [{"depth": 1}]}, "'depth'"),
])  # fmt: skip
def test_a_reader_that_breaks_is_told_and_nothing_is_committed(
    rows: Any, told: str, reg: fibrebook.Register, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever asked is told which plugin broke at which file, and how."""
    import fibrebook_example

    monkeypatch.setattr(fibrebook_example, "drum_list", rows)
    with pytest.raises(PluginError, match=rf"'example'.*store\.txt.*{told}"):
        fibrebook.bring_in(reg, written(tmp_path, "drums of Mill\n"), by="ef", why="x")
    assert reg.commit == 1
