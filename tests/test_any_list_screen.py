"""The screen for a list of any shape, driven without a browser: nothing comes in unconfirmed, no cell is lost, all is told."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

import fibrebook
from fibrebook.screens.exchange.lists.any_list_screen import AnyListScreen
from fibrebook.screens.exchange.lists.into_register import BRING_ALL, BRING_SOUND
from fibrebook.screens.exchange.lists.pointing import AS_IT_IS

COLOURS = ("blue", "orange", "green", "brown", "slate", "white", "red", "black", "yellow", "violet", "rose", "aqua")


def table(count: int = 4, head: str = "Cable|Core|Panel|Port") -> str:
    """A pasted table: one cable, its cores on the ports of one panel."""
    return "\n".join([head, *(f"C1|{n}|P1|{n}" for n in range(1, count + 1))]).replace("|", "\t")


@pytest.fixture
def screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AnyListScreen:
    """The screen before an empty register, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    return AnyListScreen(fibrebook.create(tmp_path / "reg"))


def pasted(screen: AnyListScreen, text: str) -> AnyListScreen:
    """A list pasted and read."""
    screen.text.value = text
    screen.take_pasted()
    assert screen.said == ""
    return screen


def adds_up(screen: AnyListScreen) -> None:
    """What is told of the cells adds up to all that are not blank."""
    reading = screen.model.chosen
    counts, there = reading.counts(), sum(1 for s in reading.book.sheets for _ in s.cells())
    told = screen._counts.value
    assert sum(counts.values()) == there and f"<b>{there} cells</b>" in told
    assert f"{counts['used']} used + {counts['left out']} left out + {counts['question']} in question" in told


def point(screen: AnyListScreen, row: int, column: int) -> None:
    """Press a cell or a head."""
    screen.view.chosen = [row, column]
    screen.view.picks += 1


def test_a_list_is_confirmed_and_brought_in_as_one_commit(screen: AnyListScreen) -> None:
    """The site and one sentence are asked; before they are answered nothing comes in, after them all does."""
    pasted(screen, table())
    adds_up(screen)
    assert "which site is it?" in screen.questions._text.value and screen.into.button.description == BRING_SOUND
    screen.into.by.value, screen.into.why.value = "ab", "old list"
    screen.into.commit()
    assert "nothing was to change" in screen.said and screen.reg.sites() == []
    screen.questions.own.value = "Tannery"
    screen.questions._own_answer()
    assert "Are all 4 lines of this shape" in screen.questions._text.value
    assert [f.value for f in screen.questions._follows[:2]] == [
        "then they may come in", "then they wait until you say what their columns are"
    ]  # fmt: skip
    screen.questions._way(0)
    assert screen.into.button.description == BRING_ALL and "Nothing is asked" in screen.questions._none.value
    screen.into.look()
    assert screen.reg.commit == 1 or screen.reg.sites() == []
    before = screen.reg.commit
    screen.into.commit()
    assert screen.reg.commit == before + 1 and len(screen.reg.table("terminations")) == 4
    adds_up(screen)


def test_a_row_shows_its_records_and_a_record_its_cells(screen: AnyListScreen) -> None:
    """Row 3: core 2 on port 2; the record of the termination marks cable, core, panel and port in that row."""
    pasted(screen, table())
    point(screen, 3, 0)
    shown = {r.record: n for n, r in enumerate(screen._records)}
    assert {"core C1 2", "port P1 2", "termination P1 2"} <= set(shown)
    assert all(r.row == 3 for r in screen._records)
    screen._record_chosen(shown["termination P1 2"])
    assert screen.view.marked == ["3:1", "3:2", "3:3", "3:4"]
    screen._every_row()
    assert len(screen._records) > len(shown)


def test_a_column_said_once_holds_for_all_its_cells(screen: AnyListScreen) -> None:
    """A heading that means nothing: one choice, and every line has its port; taken back, it has none."""
    pasted(screen, table(6, "Cable|Core|Panel|Zork"))
    assert "terminations" not in dict(screen._shown_now().totals())
    point(screen, 0, 4)
    assert screen.pointing.column.value == AS_IT_IS
    screen.pointing.column.value = "port at end A"
    assert dict(screen._shown_now().totals())["terminations"] == 6
    assert screen.view.heads[3]["means"] == "port at end A"
    adds_up(screen)
    screen._take_back()
    assert "terminations" not in dict(screen._shown_now().totals())
    adds_up(screen)


def test_a_cell_and_a_row_are_said(screen: AnyListScreen) -> None:
    """One strange word read as another everywhere; a row left out is told to be left out by the person."""
    lines = [f"C1|{n}|P1|{n}|{'kept' if n > 2 else 'ok'}" for n in range(1, 5)]
    pasted(screen, "\n".join(["Cable|Core|Panel|Port|Status", *lines]).replace("|", "\t"))
    point(screen, 4, 5)
    screen.pointing.words.value = "faulty"
    screen.pointing._cell_said()
    cores = screen.model.chosen.facts["cores"].set_index("core")["condition"]
    assert cores.to_dict() == {1: "sound", 2: "sound", 3: "faulty", 4: "faulty"}
    point(screen, 2, 0)
    screen.pointing.line.value = "leave out"
    assert {c["fate"] for c in screen.view.rows[1]["cells"]} == {"left out"}
    assert "left out: you said so" in screen.view.rows[1]["cells"][0]["why"]
    adds_up(screen)


def test_what_is_sound_comes_in_and_the_rest_is_kept_with_reasons(screen: AnyListScreen, tmp_path: Path) -> None:
    """A colour that is not the core's: the others come in at once; the row, its question and a snag are kept."""
    rows = ["Site: Tannery", "", "Cable|Core|Colour|Panel|Port"]
    rows += [f"C1|{n}|{'red' if n == 2 else COLOURS[n - 1]}|P1|{n}" for n in range(1, 13)]
    pasted(screen, "\n".join(rows).replace("|", "\t"))
    while (question := screen.questions.question) and not question.key.startswith("sentence"):
        screen.questions.later()
    screen.questions._way(0)
    assert screen.into.button.description == BRING_SOUND
    assert any("number or the colour" in q.what for q in screen.model.chosen.asked)
    screen.into.by.value, screen.into.why.value = "ab", "old list"
    screen.into.commit()
    assert "kept in" in screen.said and (tmp_path / "pasted questions.xlsx").exists()
    assert set(screen.reg.table("terminations")["core"]) == set(range(1, 13)) - {2}
    assert len(screen.reg.table("snags")) == 1


def test_what_was_said_is_kept_for_the_next_list(screen: AnyListScreen) -> None:
    """A column said once is not asked of the next list of the shape; what is no layout is told."""
    pasted(screen, table(6, "Cable|Core|Panel|Zork"))
    point(screen, 0, 4)
    screen.pointing.column.value = "port at end A"
    screen.into.name.value = "firm of old"
    screen.into.keep()
    assert "Done" in screen.into.kept.value
    screen.into.keep()
    assert "already" in screen.into.kept.value
    pasted(screen, table(8, "Cable|Core|Panel|Zork"))
    screen.before.value = dict(screen.before.options)["firm of old"]
    assert dict(screen._shown_now().totals())["terminations"] == 8


def test_of_a_long_list_the_rows_in_view_follow_first(screen: AnyListScreen) -> None:
    """2,400 lines: what is looked at is read anew from a part of the list, as the whole reads it a moment later."""
    rows = ["Site: T", "Cable|Core|Panel|Zork"]
    rows += [f"C{n // 12}|{n % 12 + 1}|P{n // 12}|{n % 12 + 1}" for n in range(2400)]
    pasted(screen, "\n".join(rows).replace("|", "\t"))
    screen.view.first = 1000
    point(screen, 0, 4)
    begun = time.process_time()
    screen.model.say("pasted", None, 4, "port at end A", screen._seen)
    part, took = screen.model.part, time.process_time() - begun
    assert part is not None and took < screen.model._took_s
    screen._shown = None
    first = list(screen._shown_now().records("pasted", screen._seen))
    assert sum(r.record.startswith("termination") for r in first) == len(screen._seen)
    screen.model.read_all()
    screen._shown = None
    then = {r.record for r in screen._shown_now().records("pasted", screen._seen)}
    assert {r.record for r in first if r.record.startswith(("port", "termination"))} <= then


def test_what_cannot_be_read_is_told(screen: AnyListScreen, tmp_path: Path) -> None:
    """No file, no such file, nothing pasted, no initials: each in words, and nothing is shown of it."""
    screen.take()
    assert "no file is chosen" in screen.said
    screen.file.value = str(tmp_path / "none.csv")
    screen.take()
    assert "there is no file" in screen.said and screen.questions.layout.display == "none"
    screen.take_pasted()
    assert "nothing is pasted" in screen.said
    pasted(screen, table())
    screen.into.commit()
    assert screen.said
