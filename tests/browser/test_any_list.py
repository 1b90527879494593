"""Lists of three shapes brought in by pointing and answering, in a browser; what a person does is counted."""

from __future__ import annotations

from typing import Any

import pytest
from driver import axe_violations
from hands import Hands, opened
from playwright.sync_api import expect
from reach import unreadable

import fibrebook

OPEN = "from fibrebook.screens import any_list\nany_list()"
WAITS = 30_000  # ms: a reading on a machine that others use too


@pytest.fixture
def hands(lab: Any, small: fibrebook.Register) -> Hands:
    """The screen, open in a notebook."""
    return opened(lab, OPEN)


def rows(*lines: str) -> str:
    """A pasted table of lines whose cells stand between upright lines."""
    return "\n".join(lines).replace("|", "\t")


def paste(hands: Hands, text: str) -> None:
    """Paste a table and have it read: three doings."""
    hands.click(".fb-to-a-table-to-paste")
    hands.paste(".fb-paste textarea", text)
    hands.see(".fb-paste textarea").blur()
    hands.click(".fb-look-pasted")
    expect(hands.see(".fb-counts")).to_contain_text("cells", timeout=WAITS)


def question(hands: Hands, words: str) -> None:
    """Wait for a question."""
    expect(hands.see(".fb-question")).to_contain_text(words, timeout=WAITS)


def own(hands: Hands, words: str) -> None:
    """Answer in words of one's own: two doings."""
    hands.type(".fb-own-answer input", words)
    hands.click(".fb-answer-so")


def way(hands: Hands, words: str) -> None:
    """Press a proposed answer, once it may be pressed again."""
    hands.count += 1
    pressed = hands.see(".fb-way-to-answer").filter(has_text=words).first
    expect(pressed).to_be_enabled(timeout=WAITS)
    pressed.click()


def column(hands: Hands, letter: int, meaning: str) -> None:
    """Press a column's head and choose what it means: two doings."""
    hands.click(f".fb-sheet [data-row='0'][data-column='{letter}']")
    box = hands.see(".fb-column-means select")
    expect(hands.see(".fb-pointed")).to_contain_text(f"Column {'ABCDEFG'[letter - 1]}", timeout=WAITS)
    hands.count += 1
    box.select_option(label=meaning)
    expect(hands.see(f".fb-sheet [data-row='0'][data-column='{letter}']")).to_contain_text(meaning, timeout=WAITS)


def bring(hands: Hands) -> None:
    """Say who and bring it in: two doings."""
    expect(hands.see(".fb-no-question")).to_be_visible(timeout=WAITS)
    hands.type(".fb-by input", "AB")
    hands.click(".fb-commit")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("commit", timeout=WAITS)


def sound(hands: Hands, axe: Any) -> None:
    """No fault in the page's console, no serious accessibility violation, all to be read."""
    assert [e for e in hands.lab.errors if e != "Unhandled error"] == []
    assert axe_violations(hands.lab.page, axe) == []
    assert unreadable(hands.lab.page) == []


def made(reg: fibrebook.Register, cable: str) -> set[tuple[str, str, int]]:
    """Which port of which enclosure holds which core of a cable."""
    found = reg.table("terminations")
    return {(t.enclosure, t.port, t.core) for t in found[found["cable"] == cable].itertuples()}


def test_a_plain_table_in_eight_doings(hands: Hands, small: fibrebook.Register, axe: Any) -> None:
    """Headings that are known: the site, one sentence, initials; the cells of a record are marked on the sheet."""
    paste(hands, rows("Cable|Core|Panel|Port", *(f"C7|{n}|P7|{n}" for n in range(1, 5))))
    question(hands, "which site is it?")
    sound(hands, axe)
    own(hands, "Tannery")
    question(hands, "Are all 4 lines")
    way(hands, "yes")
    bring(hands)
    assert hands.count <= 9
    assert made(small, "C7") == {("P7", str(n), n) for n in range(1, 5)}
    hands.click(".fb-sheet [data-row='3'][data-column='0']")
    expect(hands.see(".fb-understood caption")).to_contain_text("row 3", timeout=WAITS)
    hands.see(".fb-understood tbody tr").filter(has_text="termination").locator(".fb-pick").click()
    expect(hands.see(".fb-sheet .fb-sheet-marked")).to_have_count(4, timeout=WAITS)
    sound(hands, axe)


def test_a_list_without_headings_in_fourteen_doings(hands: Hands, small: fibrebook.Register) -> None:
    """Three columns pointed at; what each means holds for every line."""
    paste(hands, rows(*(f"C8|{n}|P8/{n}" for n in range(1, 7))))
    column(hands, 1, "cable")
    column(hands, 2, "core number")
    column(hands, 3, "panel and port in one cell at end A")
    question(hands, "which site is it?")
    own(hands, "Tannery")
    question(hands, "Are all 6 lines")
    way(hands, "yes")
    bring(hands)
    assert hands.count <= 16
    assert made(small, "C8") == {("P8", str(n), n) for n in range(1, 7)}


def test_contradictions_are_kept_aside_and_the_rest_comes_in(hands: Hands, small: fibrebook.Register, axe: Any) -> None:
    """Titles, a port used twice, a strange word: what is sound comes in, by keyboard, on a page as narrow as a phone."""
    page = hands.lab.page
    page.set_viewport_size({"width": 390, "height": 844})
    lines = [f"{n}|P9|{n}|" for n in range(1, 13)]
    lines[4] = "5|P9|4|"
    paste(hands, rows("Site: Tannery", "Cable C9, 12 cores", "", "Core|Panel|Port|Remark", *lines))
    question(hands, "Question 1 of")
    assert unreadable(page) == []
    head = hands.see(".fb-sheet [data-row='0'][data-column='1']")
    head.focus()
    head.press("ArrowDown")
    expect(hands.see(".fb-sheet [data-row='1'][data-column='1']")).to_be_focused()
    page.keyboard.press("Enter")
    expect(hands.see(".fb-pointed")).to_contain_text("Cell A1", timeout=WAITS)
    for _ in range(8):
        if "Are all" in hands.see(".fb-question").inner_text():
            break
        hands.click(".fb-later")
        page.wait_for_timeout(400)
    way(hands, "yes")
    expect(hands.see(".fb-commit")).to_have_text("Bring in what is sound, keep the rest aside", timeout=WAITS)
    hands.type(".fb-by input", "AB")
    hands.click(".fb-commit")
    expect(hands.see(".fb-message.fb-done").first).to_contain_text("kept in", timeout=WAITS)
    assert made(small, "C9") <= {("P9", str(n), n) for n in range(1, 13)} - {("P9", "4", 5)}
    assert len(made(small, "C9")) >= 10
    assert axe_violations(page, axe) == []
