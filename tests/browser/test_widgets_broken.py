"""Would the tests of the controls notice? Each control's script is broken in one place, and the named test must fail."""

from __future__ import annotations

import inspect
from typing import Any

import pytest
import test_address_bar_alone
import test_page_side_alone
import test_widgets_alone
from alone import Alone
from playwright.sync_api import Error

TESTS = {
    name: test
    for module in (test_widgets_alone, test_page_side_alone, test_address_bar_alone)
    for name, test in vars(module).items()
    if name.startswith("test_")
}
PATIENCE_MS = 400  # what does not come is what is waited for here
# the control, what stands there, what is put in its place, the test that is to fail
MISTAKES = [
    ("Picker", "if (text.startsWith(typed)) return 1;", "", "picker_what_is_typed_narrows"),
    ("Picker", 'model.set("value", o[0]);', "", "picker_what_is_typed_narrows"),
    ("Picker", 'input.setAttribute("aria-activedescendant", li.id);', "", "picker_what_is_typed_narrows"),
    ("Picker", '.normalize("NFD")', "", "picker_accents"),
    ("Picker", "mark((at + step + shown.length) % shown.length)", "mark(at + step)", "picker_arrows"),
    ("Picker", 'li.addEventListener("mousedown", (e) => { e.preventDefault(); choose(o); });', "", "picker_a_click"),
    ("Picker", "e.stopPropagation();\n      close();", "e.stopPropagation();", "picker_escape"),
    ("Picker", "(e) => e.stopPropagation()", "() => {}", "picker_escape"),
    ("Picker", 'if (!model.get("searching")) model.set("value", "");', "", "picker_what_matches_nothing"),
    ("Picker", "note.hidden = !typed;", "note.hidden = true;", "picker_what_matches_nothing"),
    ("Picker", "return choose(exact);", "return said(typed);", "picker_a_whole_label"),
    ("Picker", "if (!current()) wait(settled === null);\n      else ", "", "picker_enter_before"),
    ("Picker", 'el.dataset.fbWaits = "true"', "void 0", "picker_enter_before"),
    ("Picker", "if (waiting && current())", "if (waiting)", "picker_enter_before"),
    ("Picker", "settled = null;\n    wait(false);", "settled = null;", "picker_typing_on"),
    ("Picker", "document.activeElement !== input || settled === input.value", "true", "picker_python_chooses"),
    ("Picker", 'if (model.get("free")) model.set("value", input.value.trim());', "", "picker_any_text"),
    ("Grid", "timer = setTimeout(send, 120);", "send();", "grid_a_run"),
    ("Grid", 'ticks(r, col.name);\n    };', "};", "grid_a_run"),
    ("Grid", "number: ++number", "number", "grid_a_run"),
    ("Grid", 'input.addEventListener("change", () => { take(); send(); });', "", "grid_a_run"),
    ("Grid", "&& !inputs[n][columns()[c].name].disabled)) n += 1;", ")) n += 1;", "grid_a_pasted_column"),
    ("Grid", "if (n >= inputs.length) { left += 1; continue; }", "if (n >= inputs.length) continue;", "grid_a_pasted_column"),
    ("Grid", "o.toLowerCase() === typed.toLowerCase()", "o === typed", "grid_a_pasted_block"),
    ("Grid", "columns().slice(c).filter", "columns().filter", "grid_a_pasted_block"),
    ("Grid", 'text.replace(/[\\r\\n]+$/, "")', "text", "grid_a_single_word"),
    ("Grid", "if (input && !input.disabled) {\n        input.focus();", "if (input) {\n        input.focus();", "grid_enter"),
    ("Grid", "ArrowUp: -1 }", "}", "grid_enter"),
    ("Grid", 'if (step && !(col.kind === "choice" && e.key !== "Enter"))', "if (step)", "grid_enter"),
    ("Grid", '["keydown", "keypress", "keyup", "paste"]', "[]", "grid_its_keys"),
    ("Grid", "[...sent.flatMap((m) => m.cells), ...fresh.values()]", "[...fresh.values()]", "grid_drawn_anew"),
    ("Grid", "[...sent.flatMap((m) => m.cells), ...fresh.values()]", "sent.flatMap((m) => m.cells)", "grid_what_was_not_sent"),
    ("Grid", "if (same && was) focusAgain(was);", "", "grid_drawn_anew"),
    ("Grid", "input.setSelectionRange(start, end);", "input.select();", "grid_drawn_anew"),
    ("Grid", 'm.number > model.get("heard") && m.subject === subject', "m.subject === subject", "grid_what_was_heard"),
    ("Grid", ' && m.subject === subject', "", "grid_other_rows"),
    ("Grid", 'if (model.get("subject") !== subject) send();', "", "grid_other_rows"),
    ("Grid", "rows.filter((r) => !need || values[r][need])", "rows", "grid_all_ticks"),
    ("Grid", "!ready.every((r) => values[r][col.name])", "true", "grid_all_ticks"),
    ("Grid", "note.textContent = words;", "", "grid_a_fault"),
    ('Grid', 'else input.removeAttribute("aria-describedby");', "", "grid_a_fault"),
    ("FindBox", "mark((at + step + shown.length) % shown.length)", "mark(Math.max(0, at + step))", "find_box_what_is_found"),
    ("FindBox", 'model.set("goes", model.get("goes") + 1);', "", "find_box_what_is_found"),
    ("FindBox", "input.select(); // the next letter begins another question", "", "find_box_what_is_found"),
    ("FindBox", "if (!current()) return;", "", "find_box_enter_before"),
    ("FindBox", "if (!current()) { waiting = true; ask(); }\n      else ", "", "find_box_enter_before"),
    ("FindBox", "waiting = false;\n  }\n  model.on", "}\n  model.on", "find_box_enter_before"),
    ("FindBox", '() => { waiting = false; ask(); }', "ask", "find_box_typing_on"),
    ("FindBox", "list.hidden = !shown.length;", "", "find_box_says"),
    ("FindBox", '(shown.length || model.get("words"))', "shown.length", "find_box_says"),
    ("FindBox", "if (below.hidden) input.select(); else close();", "close();", "find_box_escape"),
    ("FindBox", "if (below.hidden) input.select(); else close();", "input.select();", "find_box_escape"),
    ("FindBox", 'input.addEventListener("blur", close);', "", "find_box_a_click"),
    ("FindBox", "e.preventDefault(); go(item.link);", "e.preventDefault();", "find_box_a_click"),
    ("Table", "by === i ? !down : false", "false", "table_a_heading"),
    ("Table", 'by === i ? (down ? "descending" : "ascending") : "none"', '"none"', "table_a_heading"),
    ("Table", 'model.get("total") > 1 && model.get("sortable")', 'model.get("sortable")', "table_one_row"),
    ("Table", 'model.set("find", find.value);', "", "table_what_is_typed"),
    ("Table", "pages < 2 && !find.value && total < 15", "pages < 2 && total < 15", "table_what_is_typed"),
    ("Table", "bar.hidden = pages < 2", "bar.hidden = false && pages < 2", "table_a_small_one"),
    ("Table", "after.disabled = model.get(\"page\") >= pages - 1;", "", "table_pages"),
    ("Table", "() => go(-1)", "() => go(1)", "table_pages"),
    ("Table", 'model.get("numbers")[n]);\n    model.set("picks"', 'n);\n    model.set("picks"', "table_a_row_is_chosen"),
    ("Table", "ArrowDown: 1, ArrowUp: -1", "", "table_a_row_is_chosen"),
    ("Table", 'tr.querySelector(".fb-pick") || pickButton(tr)', "pickButton(tr)", "table_drawn_anew"),
    ("Table", "if (held) return;", "", "table_it_is_not_changed"),
    ("Table", "if (late) setTimeout(paint, 0);", "", "table_it_is_not_changed"),
    ("Table", "if (n < 0) return;", "", "table_a_row_that_went"),
    ("PageSide", "oneLine(model.widget_manager).catch", "Promise.resolve().catch", "page_side_a_screen_takes"),
    ("PageSide", "screen.inert = !open;", "", "page_side_a_screen_takes"),
    ("PageSide", "!(inLine || waits())", "true", "page_side_a_press_waits_for_what"),
    ("PageSide", "e.stopImmediatePropagation();", "", "page_side_a_press_waits_for_what"),
    ("PageSide", "on.dispatchEvent(again);", "", "page_side_a_press_waits_for_what"),
    ("PageSide", "line = line.then(settled).then(() => {", "settled().then(() => {", "page_side_presses_in_line"),
    ("PageSide", "!(inLine || waits())", "!waits()", "page_side_presses_in_line"),
    ("PageSide", 'screen.querySelector("[data-fb-waits]") !== null', "false", "page_side_a_press_waits_for_a_choice"),
    ("PageSide", "setTimeout(() => pressed.on.click(), 0);", "", "page_side_a_press_on_what_moved"),
    ("PageSide", "> SAME_PLACE_PX) return;", "> 1e9) return;", "page_side_a_press_drawn_away"),
    ("PageSide", 'e.target.setAttribute(QUIET, "true")', "null", "page_side_keys"),
    ("PageSide", "now - answered > NO_ANSWER_MS &&", "false &&", "page_side_says_when"),
    ("PageSide", "part.inert = true;", "part.inert = false;", "page_side_says_when"),
    ("PageSide", 'model.on("msg:custom"', '(() => {})("msg:custom"', "page_side_says_when"),
    ("PageSide", '|| kernel.status === "busy") idle = now;', ") idle = now;", "page_side_a_busy"),
    ("PageSide", 'content !== "here" || lost', 'content !== "here"', "page_side_a_busy"),
    ("PageSide", "if (before.get(m) !== m._msg_buffer) continue;", "", "page_side_what_is_held"),
    ("PageSide", 'm._handle_status({ content: { execution_state: "idle" } });', "", "page_side_what_is_held"),
    ("AddressBar", "timer = setTimeout(send, ready", "void (ready", "address_bar_asks"),
    ("AddressBar", "wanted = null;\n    show(typed);", "show(typed);", "address_bar_asks"),
    ("AddressBar", "!shown || wanted || window", "!shown || window", "address_bar_a_late"),
    ("AddressBar", "content.gone !== wanted.ask) return;", "false) return;", "address_bar_a_late"),
    ("AddressBar", "bare || instead ?", "bare ?", "address_bar_a_link"),
    ("AddressBar", "const typed = here() === wanted.address;", "const typed = true;", "address_bar_a_link"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("control", "stands", "instead", "test"),
    [pytest.param(*m, id=f"{m[0]}-{n}", marks=() if n % 6 == 0 else pytest.mark.long) for n, m in enumerate(MISTAKES)],
)
def test_a_broken_control_is_noticed(chromium: Any, control: str, stands: str, instead: str, test: str) -> None:
    """The test that is named for it fails where the control does otherwise; a sixth of them in the ordinary run."""
    (noticing,) = (t for name, t in TESTS.items() if name.startswith(f"test_{test}"))
    alone = Alone(chromium, {control: (stands, instead)}, PATIENCE_MS)
    try:
        if "clocked" in inspect.signature(noticing).parameters:
            alone.stop_the_clock()
        with pytest.raises((AssertionError, Error)):
            noticing(alone)
            assert alone.errors == []
    finally:
        alone.close()


def test_every_test_of_a_control_notices_some_mistake() -> None:
    """No test of a control stands without a mistake that it notices."""
    assert [name for name in TESTS if not any(name.startswith(f"test_{m[3]}") for m in MISTAKES)] == []
