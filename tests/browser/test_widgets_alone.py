"""What each control does in the page, by itself: no kernel, no notebook, an object in the place of its model.

`test_widgets_broken.py` breaks the controls and looks whether these tests notice.
"""

from __future__ import annotations

from typing import Any

from alone import Alone, Control
from playwright.sync_api import expect

from fibrebook.screens.front_door.find_box import FindBox
from fibrebook.screens.widgets.grid import Grid, col
from fibrebook.screens.widgets.picker import Picker
from fibrebook.screens.widgets.table import Table

# --- picker --------------------------------------------------------------------------------------------------------
PLACES = [
    ["QA", "Old Harbour", "quay"], ["HA", "Harbour", ""], ["MI", "Mill", "Åsa Street"], ["HB", "Halls", ""],
]  # fmt: skip


def picker(alone: Alone, **more: Any) -> Control:
    """A picker of four places, with the keyboard in it."""
    made = alone.put(Picker, "site", label="Site", options=PLACES, **more)
    made.see("input").focus()
    return made


def offered(made: Control) -> list[str]:
    """What its list shows, in order."""
    return made.see(".fb-picker-option > span:first-child").all_inner_texts()


def test_picker_what_is_typed_narrows_the_list_and_enter_takes_the_first(alone: Alone) -> None:
    """What begins with it stands before what holds it elsewhere; value and text reach Python in one change."""
    made = picker(alone)
    assert offered(made) == ["Old Harbour", "Harbour", "Mill", "Halls"]
    alone.type("ha")
    assert offered(made) == ["Harbour", "Halls", "Old Harbour"]
    box = made.see("input")
    expect(box).to_have_attribute("aria-expanded", "true")
    first = made.see("[aria-selected=true]")
    expect(first).to_have_text("Harbour")
    assert box.get_attribute("aria-activedescendant") == first.get_attribute("id")
    alone.keys("Enter")
    expect(box).to_have_value("Harbour")
    expect(made.see("ul")).to_be_hidden()
    expect(box).to_have_attribute("aria-expanded", "false")
    assert made.saved[-1].get("value") == "HA" and made.get("unmatched") == ""


def test_picker_accents_and_capitals_do_not_matter(alone: Alone) -> None:
    """`asa` finds Åsa, which stands in the hint."""
    made = picker(alone)
    alone.type("ASA")
    assert offered(made) == ["Mill"]


def test_picker_arrows_go_round_and_enter_takes_where_they_are(alone: Alone) -> None:
    """Down from the last is the first, up from the first the last."""
    made = picker(alone)
    alone.type("ha")
    alone.keys("ArrowDown", "ArrowDown")
    expect(made.see("[aria-selected=true]")).to_have_text("Old Harbour – quay")
    alone.keys("ArrowDown")
    expect(made.see("[aria-selected=true]")).to_have_text("Harbour")
    alone.keys("ArrowUp", "ArrowUp", "Enter")
    assert made.get("value") == "HB"


def test_picker_a_click_in_the_list_chooses(alone: Alone) -> None:
    """The keyboard stays in the box."""
    made = picker(alone)
    made.see(".fb-picker-option").nth(2).click()
    assert made.get("value") == "MI" and alone.on("#site input")


def test_picker_escape_shuts_the_list_and_chooses_nothing(alone: Alone) -> None:
    """Escape is not the page's either; an arrow opens the list again."""
    made = picker(alone)
    alone.page.evaluate("document.addEventListener('keydown', (e) => { document.title = e.key; })")
    alone.type("ha")
    alone.keys("Escape")
    expect(made.see("ul")).to_be_hidden()
    alone.keys("Enter")
    assert made.get("value") == "" and alone.page.title() == "Alone"
    alone.keys("ArrowDown")
    expect(made.see("ul")).to_be_visible()


def test_picker_what_matches_nothing_stays_and_is_said(alone: Alone) -> None:
    """Python is told what was typed and has no value; the box says so to eyes and readers until it is put right."""
    made = picker(alone, value="HA")
    alone.type("zebra")
    expect(made.see("ul")).to_be_hidden()
    alone.keys("Enter", "Tab")
    note, box = made.see(".fb-picker-note"), made.see("input")
    expect(note).to_be_visible()
    expect(note).to_have_text("Nothing here matches “zebra”")
    expect(box).to_have_value("zebra")
    expect(box).to_have_attribute("aria-invalid", "true")
    assert made.get("unmatched") == "zebra" and made.get("value") == ""
    assert made.saved[-1]["value"] == ""
    box.focus()
    alone.type("mi")
    expect(note).to_be_hidden()
    alone.keys("Enter", "Tab")
    expect(note).to_be_hidden()
    assert made.get("unmatched") == "" and made.get("value") == "MI"
    assert box.get_attribute("aria-invalid") is None


def test_picker_a_whole_label_needs_no_enter(alone: Alone) -> None:
    """Left by Tab, a label typed whole is chosen, blanks and capitals aside."""
    made = picker(alone)
    alone.type("hal ls")
    alone.keys("Tab")
    assert made.get("value") == "HB"
    expect(made.see("input")).to_have_value("Halls")


def test_picker_enter_before_the_answer_waits_for_it(alone: Alone) -> None:
    """The list of an older question is not chosen from; the answer's first is, and a press meanwhile knows to wait."""
    made = picker(alone, searching=True, answered="")
    alone.type("hb")
    alone.keys("Enter")
    assert made.get("value") == "" and made.saved[-1] == {"query": "hb"}
    expect(made.at).to_have_attribute("data-fb-waits", "true")
    made.python(options=[["P9", "port P9", ""]], answered="h")
    assert made.get("value") == ""
    made.python(options=[["HB", "Halls", ""], ["HC", "Halls C", ""]], answered="hb")
    assert made.get("value") == "HB" and made.saved[-1]["value"] == "HB"
    assert made.at.get_attribute("data-fb-waits") is None
    expect(made.see("input")).to_have_value("Halls")


def test_picker_typing_on_after_enter_waits_no_more(alone: Alone) -> None:
    """Whoever types on has not chosen."""
    made = picker(alone, searching=True)
    alone.type("h")
    alone.keys("Enter")
    alone.type("b")
    assert made.at.get_attribute("data-fb-waits") is None
    made.python(options=PLACES, answered="hb")
    assert made.get("value") == ""
    assert offered(made) == ["Old Harbour", "Harbour", "Mill", "Halls"]


def test_picker_python_chooses_too_but_not_over_what_is_being_typed(alone: Alone) -> None:
    """A value from Python is shown by its text; letters being typed are not written over by other options."""
    made = picker(alone)
    alone.page.locator("#after").focus()
    made.python(value="MI")
    expect(made.see("input")).to_have_value("Mill")
    made.see("input").focus()
    alone.type("ha")
    made.python(options=[*PLACES, ["HX", "Hatch", ""]])
    made.python(value="")
    expect(made.see("input")).to_have_value("ha")
    assert "Hatch" in offered(made)
    alone.page.locator("#after").focus()
    made.python(value="", query="", unmatched="")
    expect(made.see("input")).to_have_value("")


def test_picker_any_text_is_a_value_where_it_is_free(alone: Alone) -> None:
    """Each letter reaches Python, and nothing is said to match nothing."""
    made = picker(alone, free=True)
    alone.type("ne")
    assert [change.get("value") for change in made.saved] == ["n", "ne"]
    alone.keys("Tab")
    assert made.get("value") == "ne" and made.get("unmatched") == ""
    expect(made.see(".fb-picker-note")).to_be_hidden()


# --- grid ----------------------------------------------------------------------------------------------------------
COLUMNS = [
    col("core", "Core"), col("made", "Made", "tick"), col("to", "To", "entry", list=["1", "2"]),
    col("loss", "Loss (dB)", "entry", numeric=True), col("verdict", "Verdict", "choice", options=["pass", "fail"]),
]  # fmt: skip


def grid(alone: Alone, rows: int = 4, locked: int = -1, **more: Any) -> Control:
    """A grid of cores; one of them perhaps locked."""
    shown = [
        {
            "label": f"core {n + 1}",
            "cells": {"core": str(n + 1)},
            "locked": ["made", "to", "loss"] if n == locked else [],
        }
        for n in range(rows)
    ]
    values = [{"made": False, "to": str(n + 1), "loss": "", "verdict": ""} for n in range(rows)]
    given: dict[str, Any] = {"caption": "C1", "subject": "C1", "columns": COLUMNS, "rows": shown, "values": values}
    return alone.put(Grid, "tray", **given | more)


def cells(made: Control, column: str) -> list[str]:
    """What stands in a column's boxes."""
    return list(made.see(f".fb-cell-{column}").evaluate_all("all => all.map((i) => i.value)"))


TYPED = """(box, text) => {
  box.value = text;
  box.dispatchEvent(new Event("input", { bubbles: true }));
}"""
PASTE = """(box, text) => {
  box.focus();
  const data = new DataTransfer();
  data.setData("text/plain", text);
  const paste = new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true });
  return box.dispatchEvent(paste); // false: it was taken in already
}"""


def test_grid_a_run_of_letters_is_one_message(alone: Alone) -> None:
    """What is typed is sent by its row's label once the run has ended, with the tick that filling in sets."""
    made = grid(alone, ticked_by={"loss": "made"})
    made.see(".fb-cell-loss").nth(1).focus()
    alone.type("0.05")
    expect(made.see(".fb-cell-made").nth(1)).to_be_checked()
    made.comes("m.sent.length > 0")
    sent = made.sent
    assert sent == [{"subject": "C1", "number": 1, "cells": [["core 2", "loss", "0.05"], ["core 2", "made", True]]}]
    alone.keys("Tab")
    made.see(".fb-cell-made").nth(0).click()
    assert made.sent[-1]["cells"] == [["core 1", "made", True]] and made.sent[-1]["number"] == len(made.sent)


def test_grid_a_pasted_column_fills_down_past_locked_rows(alone: Alone) -> None:
    """One line a free row; what finds no row is told; all of it is one message."""
    made = grid(alone, locked=1)
    assert made.see(".fb-cell-loss").nth(0).evaluate(PASTE, "0.1\r\n0.2\r\n0.3\r\n0.4\r\n") is False
    assert cells(made, "loss") == ["0.1", "", "0.2", "0.3"]
    expect(made.see(".fb-grid-told")).to_have_text("3 rows filled; 1 pasted lines had no row left")
    assert [c[:2] for c in made.sent[0]["cells"]] == [["core 1", "loss"], ["core 3", "loss"], ["core 4", "loss"]]
    assert len(made.sent) == 1


def test_grid_a_pasted_block_fills_columns_and_choices_by_their_word(alone: Alone) -> None:
    """Columns go by their order; a choice is taken whatever its capitals, and an unknown one is none."""
    made = grid(alone)
    assert made.see(".fb-cell-loss").nth(1).evaluate(PASTE, "0.1\tPASS\n0.2\tperhaps") is False
    assert cells(made, "loss") == ["", "0.1", "0.2", ""] and cells(made, "verdict") == ["", "pass", "", ""]
    assert cells(made, "to") == ["1", "2", "3", "4"]


def test_grid_a_single_word_is_pasted_by_the_browser(alone: Alone) -> None:
    """One value with a line's end is no block: it goes where the cursor is."""
    made = grid(alone)
    assert made.see(".fb-cell-loss").nth(0).evaluate(PASTE, "0.1\n") is True


def test_grid_enter_and_arrows_go_from_row_to_row(alone: Alone) -> None:
    """Down over a locked row, up again; at the end they stay; in a choice only Enter goes on."""
    made = grid(alone, locked=1)
    made.see(".fb-cell-loss").nth(0).focus()
    alone.keys("Enter")
    assert alone.on(".fb-cell-loss[data-row='2']")
    alone.keys("ArrowDown", "ArrowDown")
    assert alone.on(".fb-cell-loss[data-row='3']")
    alone.keys("ArrowUp", "ArrowUp")
    assert alone.on(".fb-cell-loss[data-row='0']")
    made.see(".fb-cell-verdict").nth(0).focus()
    alone.keys("ArrowDown")
    assert alone.on(".fb-cell-verdict[data-row='0']") and cells(made, "verdict")[0] == "pass"
    alone.keys("Enter")
    assert alone.on(".fb-cell-verdict[data-row='1']")


def test_grid_its_keys_are_not_the_pages(alone: Alone) -> None:
    """No shortcut of the page around hears what is typed."""
    made = grid(alone)
    alone.page.evaluate("document.addEventListener('keydown', (e) => { document.title = e.key; })")
    made.see(".fb-cell-loss").nth(0).focus()
    alone.type("x")
    assert cells(made, "loss")[0] == "x" and alone.page.title() == "Alone"


def test_grid_drawn_anew_it_keeps_what_was_not_heard_and_the_cursor(clocked: Alone) -> None:
    """Rows that Python drew before it heard what is typed lose none of it, sent or not; the keyboard stays in its cell."""
    made = grid(clocked)
    made.see(".fb-cell-to").nth(2).fill("7")
    clocked.keys("Tab")
    assert len(made.sent) == 1
    made.see(".fb-cell-to").nth(1).evaluate(TYPED, "8")  # not sent: it has not been left
    made.see(".fb-cell-loss").nth(1).focus()
    clocked.type("0.05")
    clocked.keys("ArrowLeft")
    rows = [{"label": f"core {n}", "cells": {"core": str(n)}, "locked": []} for n in (5, 3, 2)]
    values = [{"made": False, "to": "", "loss": "", "verdict": ""} for _ in rows]
    assert len(made.sent) == 1
    made.python(rows=rows, values=values, painted=1, heard=0)
    assert cells(made, "to") == ["", "7", "8"] and cells(made, "loss") == ["", "", "0.05"]
    assert clocked.on(".fb-cell-loss[data-row='2']")
    clocked.type("1")
    assert cells(made, "loss")[2] == "0.015"
    clocked.page.clock.run_for(200)
    assert made.sent[-1]["cells"] == [["core 2", "loss", "0.015"]]


def test_grid_what_was_not_sent_stands_in_rows_drawn_anew(clocked: Alone) -> None:
    """Also in a box that the browser says nothing of when it goes."""
    made = grid(clocked)
    made.see(".fb-cell-to").nth(1).evaluate(TYPED, "8")
    made.python(caption="C1 again", painted=1)
    assert cells(made, "to")[1] == "8" and made.sent == []


def test_grid_what_was_heard_is_pythons_to_say(alone: Alone) -> None:
    """Once Python has heard a cell, what it draws there stands."""
    made = grid(alone)
    made.see(".fb-cell-loss").nth(0).fill("0,05")
    alone.keys("Tab")
    made.comes("m.sent.length > 0")
    heard = made.sent[-1]["number"]
    values = [{"made": True, "to": str(n + 1), "loss": "0.05", "verdict": ""} for n in range(4)]
    made.python(values=values, painted=1, heard=heard)
    assert cells(made, "loss")[0] == "0.05"


def test_grid_other_rows_never_get_what_was_typed_into_the_ones_before(alone: Alone) -> None:
    """What was not sent yet is sent as what it was typed into; a row of the same label in another list stays empty."""
    made = grid(alone)
    made.see(".fb-cell-loss").nth(0).focus()
    alone.page.evaluate(
        """() => {
          const box = document.activeElement, model = window.models.tray;
          box.value = "0.9";
          box.dispatchEvent(new Event("input", { bubbles: true }));
          const values = model.get("values").map((v) => ({ ...v, loss: "" }));
          model.python({ subject: "C2", caption: "C2", values, painted: 1 });
        }"""
    )
    assert [(m["subject"], m["cells"]) for m in made.sent] == [("C1", [["core 1", "loss", "0.9"]])]
    assert cells(made, "loss") == ["", "", "", ""]


def test_grid_all_ticks_the_rows_that_are_ready(alone: Alone) -> None:
    """Rows that lack what is needed are left and told; pressed again it takes the ticks away; locked ones stay."""
    made = grid(alone, locked=3, all_needs={"made": "to"})
    made.see(".fb-cell-to").nth(1).fill("")
    made.see(".fb-all").click()
    ticks = made.see(".fb-cell-made")
    assert ticks.evaluate_all("all => all.map((i) => i.checked)") == [True, False, True, False]
    expect(made.see(".fb-grid-told")).to_have_text("2 rows ticked; 1 left: nothing stands under To")
    assert sorted(c[0] for c in made.sent[-1]["cells"] if c[1] == "made") == ["core 1", "core 3"]
    made.see(".fb-all").click()
    assert ticks.evaluate_all("all => all.some((i) => i.checked)") is False


def test_grid_a_fault_is_told_in_its_cell(alone: Alone) -> None:
    """In words below the box, to readers too; put right, it is gone."""
    made = grid(alone)
    made.python(faults={"1:loss": "'x' is no number"})
    box, words = made.see(".fb-cell-loss").nth(1), made.see(".fb-fault:visible")
    expect(words).to_have_text("'x' is no number")
    expect(box).to_have_attribute("aria-invalid", "true")
    assert box.get_attribute("aria-describedby") == words.get_attribute("id")
    made.python(faults={})
    expect(words).to_have_count(0)
    assert box.get_attribute("aria-invalid") is None and box.get_attribute("aria-describedby") is None


# --- find box ------------------------------------------------------------------------------------------------------
FOUND = [
    {"title": "Sites", "items": [{"label": "Mill", "hint": "", "link": "/site/Mill"}]},
    {"title": "Cables", "items": [{"label": "C1", "hint": "at Mill", "link": "/c1"}, {"label": "C10", "hint": "", "link": "/c10"}]},
]  # fmt: skip


def find_box(alone: Alone) -> Control:
    """A find box with the keyboard in it."""
    made = alone.put(FindBox, "find", label="Find", placeholder="site, cable, port")
    made.see("input").focus()
    return made


def test_find_box_what_is_found_stands_below_in_groups_and_enter_goes(alone: Alone) -> None:
    """Each letter asks; arrows go through all groups, round the end; Enter goes where they are."""
    made = find_box(alone)
    alone.type("c1")
    assert made.saved == [{"query": "c"}, {"query": "c1"}]
    expect(made.see(".fb-find-below")).to_be_hidden()
    made.python(found=FOUND, answered="c1")
    assert made.see(".fb-find-group-title").all_inner_texts() == ["Sites", "Cables"]
    box = made.see("input")
    expect(box).to_have_attribute("aria-expanded", "true")
    expect(made.see("[aria-selected=true] .fb-find-name")).to_have_text("Mill")
    alone.keys("ArrowUp")
    expect(made.see("[aria-selected=true] .fb-find-name")).to_have_text("C10")
    alone.keys("ArrowDown", "ArrowDown", "Enter")
    assert made.saved[-1] == {"went": "/c1", "goes": 1}
    expect(made.see(".fb-find-below")).to_be_hidden()
    alone.type("m")
    expect(box).to_have_value("m")  # the next letter begins another question


def test_find_box_enter_before_the_answer_goes_once_it_is_there(alone: Alone) -> None:
    """To the answer's first, not to that of an older question; an answer without anything leads nowhere."""
    made = find_box(alone)
    alone.type("c9")
    alone.keys("Enter")
    made.python(found=FOUND[:1], answered="c")
    assert made.get("goes") == 0
    made.python(found=FOUND[1:], answered="c9")
    assert made.get("went") == "/c1" and made.get("goes") == 1
    alone.type("zz")
    alone.keys("Enter")
    made.python(found=[], words="Nothing is called zz", answered="zz")
    made.python(answered="")
    made.python(found=FOUND, words="", answered="zz")  # somebody has just recorded such a thing
    assert made.get("goes") == 1


def test_find_box_typing_on_after_enter_goes_nowhere(alone: Alone) -> None:
    """Whoever types on has another question."""
    made = find_box(alone)
    alone.type("c")
    alone.keys("Enter")
    alone.type("1")
    made.python(found=FOUND, answered="c1")
    assert made.get("goes") == 0
    expect(made.see(".fb-find-below")).to_be_visible()


def test_find_box_says_in_words_that_nothing_was_found(alone: Alone) -> None:
    """Without a list, which a reader would look into in vain."""
    made = find_box(alone)
    alone.type("zebra")
    made.python(words="Nothing is called zebra", answered="zebra")
    expect(made.see("[role=status]")).to_be_visible()
    expect(made.see("[role=status]")).to_have_text("Nothing is called zebra")
    expect(made.see("[role=listbox]")).to_have_attribute("hidden", "")
    expect(made.see("input")).to_have_attribute("aria-expanded", "false")
    alone.keys("ArrowDown", "Enter")
    assert made.get("goes") == 0


def test_find_box_escape_shuts_and_then_selects(alone: Alone) -> None:
    """Once to shut the list; again, so that the next letter begins anew."""
    made = find_box(alone)
    alone.type("c1")
    made.python(found=FOUND, answered="c1")
    alone.keys("Escape")
    expect(made.see(".fb-find-below")).to_be_hidden()
    alone.type("0")
    expect(made.see("input")).to_have_value("c10")
    alone.keys("Escape")
    alone.type("m")
    expect(made.see("input")).to_have_value("m")


def test_find_box_a_click_goes_and_leaving_shuts(alone: Alone) -> None:
    """The list stands only as long as the box has the keyboard."""
    made = find_box(alone)
    alone.type("c1")
    made.python(found=FOUND, answered="c1")
    made.see(".fb-find-item").nth(2).click()
    assert made.get("went") == "/c10"
    alone.type("c1")
    made.python(answered="")
    made.python(answered="c1")
    expect(made.see(".fb-find-below")).to_be_visible()
    alone.keys("Tab")
    expect(made.see(".fb-find-below")).to_be_hidden()


# --- table ---------------------------------------------------------------------------------------------------------
def table(alone: Alone, rows: int = 3, **more: Any) -> Control:
    """A table of cables and lengths; Python shows a page of it."""
    given: dict[str, Any] = {
        "columns": [{"title": "Cable", "numeric": False}, {"title": "Length (m)", "numeric": True}],
        "rows": [[f"C{n}", 10 * n] for n in range(rows)], "numbers": list(range(rows)), "total": rows, "painted": 1,
    }  # fmt: skip
    return alone.put(Table, "cables", **given | more)


def test_table_a_heading_sorts_up_and_then_down(alone: Alone) -> None:
    """What is asked reaches Python; the heading says how it stands, to readers too."""
    made = table(alone)
    heads = made.see("th")
    made.see(".fb-sort").nth(1).click()
    assert made.saved == [{"order": [1, False]}]
    made.python(painted=2)
    expect(heads.nth(1)).to_have_text("Length (m) ▲")
    made.see(".fb-sort").nth(1).click()
    assert made.saved[-1] == {"order": [1, True]}
    made.python(painted=3)
    expect(heads.nth(1)).to_have_attribute("aria-sort", "descending")
    made.see(".fb-sort").nth(0).click()
    assert made.saved[-1] == {"order": [0, False]}
    made.python(painted=4)
    expect(heads.nth(1)).to_have_attribute("aria-sort", "none")
    expect(heads.nth(1)).to_have_text("Length (m)")


def test_table_one_row_has_nothing_to_sort(alone: Alone) -> None:
    """A heading that would do nothing is no button."""
    made = table(alone, rows=1)
    expect(made.see(".fb-sort")).to_have_count(0)
    expect(made.see("th").nth(0)).to_have_text("Cable")


def test_table_what_is_typed_is_searched_for(alone: Alone) -> None:
    """Each letter asks; the box stays while a search is on, however little it found, and tells how many."""
    made = table(alone, rows=20)
    made.see(".fb-table-find").focus()
    alone.type("c7")
    assert made.saved == [{"find": "c"}, {"find": "c7"}]
    made.python(rows=[["C7", 70]], numbers=[7], total=1, painted=2)
    expect(made.see(".fb-table-where")).to_have_text("1 rows")
    expect(made.see(".fb-table-find")).to_be_visible()
    assert made.see("tbody tr").all_inner_texts() == ["C7\t70"]
    made.python(rows=[], numbers=[], total=0, painted=3)
    expect(made.see(".fb-table-where")).to_have_text("No rows")


def test_table_a_small_one_has_no_bar(alone: Alone) -> None:
    """Nothing to search, nothing to turn."""
    expect(table(alone).see(".fb-table-bar")).to_be_hidden()


def test_table_pages_are_turned_and_end(alone: Alone) -> None:
    """Previous at the first and next at the last are shut; where one is stands beside them."""
    made = table(alone, rows=2, pages=3, total=6)
    before, after = made.see(".fb-button").nth(0), made.see(".fb-button").nth(1)
    expect(before).to_be_disabled()
    expect(made.see(".fb-table-where")).to_have_text("Page 1 of 3, 6 rows")
    after.click()
    assert made.saved == [{"page": 1}]
    made.python(painted=2)
    expect(before).to_be_enabled()
    after.click()
    made.python(painted=3)
    expect(after).to_be_disabled()
    before.click()
    assert made.saved[-1] == {"page": 1}
    made.python(painted=4)
    expect(made.see(".fb-table-where")).to_have_text("Page 2 of 3, 6 rows")


def test_table_a_row_is_chosen_by_click_or_key(alone: Alone) -> None:
    """By its place in the whole, and again by another click; arrows go from row to row."""
    made = table(alone, clickable=True, numbers=[5, 6, 7])
    made.see("tbody tr").nth(1).locator("td").nth(1).click()
    assert made.saved == [{"picked": 6, "picks": 1}]
    expect(made.see("tr.fb-picked")).to_contain_text("C1")
    made.see(".fb-pick").nth(1).focus()
    alone.keys("ArrowDown", "Enter")
    assert made.saved[-1] == {"picked": 7, "picks": 2}
    made.see(".fb-pick").nth(2).click()
    assert made.saved[-1] == {"picks": 3}


def test_table_drawn_anew_the_keyboard_stays_on_its_row(alone: Alone) -> None:
    """News change rows in place: Enter meant for a row finds it."""
    made = table(alone, clickable=True)
    made.see(".fb-pick").nth(1).focus()
    made.python(rows=[["C0", 0], ["C1", 99], ["C2", 20]], painted=2)
    assert alone.on("tr:nth-child(2) .fb-pick")
    expect(made.see("tbody tr").nth(1)).to_contain_text("99")


def test_table_it_is_not_changed_under_the_finger(alone: Alone) -> None:
    """What comes while a row is pressed is drawn after the click; the row that was meant is the one chosen."""
    made = table(alone, clickable=True)
    box = made.see("tbody tr").nth(0).bounding_box()
    assert box is not None
    alone.page.mouse.move(box["x"] + 20, box["y"] + 5)
    alone.page.mouse.down()
    made.python(rows=[["C9", 90], ["C0", 0], ["C1", 10]], numbers=[9, 0, 1], painted=2)
    assert made.see("tbody tr").nth(0).inner_text().startswith("C0")
    alone.page.mouse.up()
    assert made.get("picked") == 0
    expect(made.see("tbody tr").nth(0)).to_contain_text("C9")


def test_table_a_row_that_went_under_the_finger_is_not_another(alone: Alone) -> None:
    """Another row in the pressed one's place was not meant: nothing is chosen."""
    made = table(alone, clickable=True)
    box = made.see("tbody tr").nth(0).bounding_box()
    assert box is not None
    alone.page.mouse.move(box["x"] + 20, box["y"] + 5)
    alone.page.mouse.down()
    made.python(rows=[["C8", 80], ["C9", 90]], numbers=[8, 9], painted=2)
    alone.page.mouse.up()
    expect(made.see("tbody tr").nth(0)).to_contain_text("C8")
    assert made.get("picks") == 0
