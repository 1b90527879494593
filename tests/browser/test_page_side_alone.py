"""A screen's own side in the page, by itself: presses in order, keys that stay inside, and whether anybody answers."""

from __future__ import annotations

from alone import Alone, Control
from playwright.sync_api import expect

from fibrebook.screens.widgets.page_side import PageSide
from fibrebook.screens.widgets.picker import Picker

MANAGER = """() => {
  const box = { _msg_buffer: null, _pending_msgs: 0, heard: [] };
  box._handle_status = (message) => {
    box.heard.push(message.content.execution_state);
    box._msg_buffer = null;
  };
  window.box = box;
  window.manager = {
    kernel: { status: "idle", connectionStatus: "connected", info: Promise.resolve(), isDisposed: false },
    _models: { box: Promise.resolve(box) },
  };
  window.presses = [];
}"""
BUTTONS = """() => {
  const screen = document.querySelector("main");
  for (const name of ["add", "save"]) {
    const b = document.createElement("button");
    Object.assign(b, { id: name, textContent: name });
    b.addEventListener("click", () => window.presses.push(name));
    screen.append(b);
  }
}"""


def screen(alone: Alone) -> Control:
    """A screen with its side in the page, and two buttons, open."""
    alone.page.evaluate(MANAGER)
    made = alone.put(PageSide, "side", kept="12:00:00")
    alone.page.evaluate(BUTTONS)
    alone.page.wait_for_selector("main[data-takes-in]")
    return made


def presses(alone: Alone) -> list[str]:
    """The presses that reached their buttons."""
    return list(alone.page.evaluate("window.presses"))


def hold(alone: Alone, held: bool) -> None:
    """Let a box hold a change back, as it does while an earlier one is under way; or let it go."""
    alone.page.evaluate("held => { window.box._msg_buffer = held ? { value: 'typed' } : null; }", held)


def test_page_side_a_screen_takes_nothing_in_until_its_messages_are_in_order(alone: Alone) -> None:
    """Before the kernel answers nothing can be pressed; then Python hears that it is drawn, once."""
    alone.page.evaluate(MANAGER)
    alone.page.evaluate("() => { window.manager.kernel.createComm = () => null; }")
    alone.page.evaluate("() => { window.manager.kernel.info = new Promise((go) => { window.answer = go; }); }")
    made = alone.put(PageSide, "side")
    assert alone.page.evaluate("document.querySelector('main').inert") is True and made.sent == []
    alone.page.evaluate("window.answer()")
    alone.page.wait_for_selector("main[data-takes-in]", state="attached")
    assert alone.page.evaluate("document.querySelector('main').inert") is False
    assert made.sent.count("drawn") == 1 and made.sent[0] == "drawn"


def test_page_side_a_press_waits_for_what_is_held_back(alone: Alone) -> None:
    """It comes after what was typed before it; two presses come in their order, each once."""
    screen(alone)
    alone.page.click("#add")
    assert presses(alone) == ["add"]
    hold(alone, True)
    alone.page.click("#save")
    alone.page.click("#add")
    alone.page.wait_for_timeout(60)
    assert presses(alone) == ["add"]
    hold(alone, False)
    alone.page.wait_for_function("window.presses.length >= 3")
    alone.page.wait_for_timeout(30)
    assert presses(alone) == ["add", "save", "add"]


def test_page_side_presses_in_line_are_made_one_after_another(alone: Alone) -> None:
    """What the first press itself holds back is waited for by the second, also by one made just then."""
    screen(alone)
    alone.page.evaluate(
        """() => {
          const again = () => setTimeout(() => { window.presses.push("heard"); window.box._msg_buffer = null; }, 60);
          document.querySelector("#add").addEventListener("click", () => { window.box._msg_buffer = { value: 1 }; again(); });
        }"""
    )
    hold(alone, True)
    alone.page.evaluate(
        """() => {
          document.querySelector("#add").click();
          document.querySelector("#save").click();
          window.box._msg_buffer = null;
          document.querySelector("#save").click();
        }"""
    )
    alone.page.wait_for_function("window.presses.length === 4")
    assert presses(alone) == ["add", "heard", "save", "save"]


def test_page_side_a_press_waits_for_a_choice_that_waits_for_its_answer(alone: Alone) -> None:
    """Enter in a picker and a press at once: Python hears the choice first."""
    screen(alone)
    made = alone.put(Picker, "site", label="Site", searching=True)
    alone.page.evaluate(
        "() => document.querySelector('#save').addEventListener('click', () => window.happened.push(['save', window.models.site.get('value')]))"
    )
    made.see("input").focus()
    alone.type("ha")
    alone.keys("Enter")
    alone.page.click("#save")
    assert presses(alone) == []
    made.python(options=[["HA", "Harbour", ""]], answered="ha")
    alone.page.wait_for_function("window.presses.length === 1")
    told = [what for what in alone.happened() if what[0] in ("site", "save")]
    assert told[-1] == ["save", "HA"] and told[-2][1]["value"] == "HA"


MOVE_AWAY = """() => document.querySelector("#save").addEventListener("pointerdown", () => {
  const note = document.createElement("div");
  note.style.height = "200px";
  document.querySelector("main").prepend(note);
}, { once: true })"""


def middle(alone: Alone, selector: str) -> tuple[float, float]:
    """Where the middle of something is."""
    box = alone.page.locator(selector).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_page_side_a_press_on_what_moved_away_counts(alone: Alone) -> None:
    """The button went from under the finger between press and release: whoever pressed it meant it, once."""
    screen(alone)
    alone.page.evaluate(MOVE_AWAY)
    alone.page.mouse.move(*middle(alone, "#save"))
    alone.page.mouse.down()
    alone.page.mouse.up()
    alone.page.wait_for_function("window.presses.length > 0")
    alone.page.wait_for_timeout(30)
    assert presses(alone) == ["save"]


def test_page_side_a_press_drawn_away_from_its_button_is_none(alone: Alone) -> None:
    """Pressed, thought better of, and let go elsewhere: nothing happens."""
    screen(alone)
    x, y = middle(alone, "#save")
    alone.page.mouse.move(x, y)
    alone.page.mouse.down()
    alone.page.mouse.move(x + 200, y + 150)
    alone.page.mouse.up()
    alone.page.wait_for_timeout(60)
    assert presses(alone) == []


def test_page_side_keys_stay_inside_the_screen(alone: Alone) -> None:
    """What gets the keyboard bears the mark that the notebook's shortcuts pass over."""
    screen(alone)
    alone.page.locator("#add").focus()
    expect(alone.page.locator("#add")).to_have_attribute("data-lm-suppress-shortcuts", "true")
    assert alone.page.locator("#save").get_attribute("data-lm-suppress-shortcuts") is None


def clocked_screen(alone: Alone) -> Control:
    """A screen on such a page: nothing there comes before the clock has gone on."""
    alone.page.evaluate(MANAGER)
    made = alone.put(PageSide, "side", kept="12:00:00")
    alone.page.evaluate(BUTTONS)
    alone.page.clock.run_for(100)
    expect(alone.page.locator("main")).to_have_attribute("data-takes-in", "true")
    return made


def test_page_side_says_when_nobody_answers_and_goes_on_when_somebody_does(clocked: Alone) -> None:
    """Asked every second; unanswered for some seconds it says so and what is kept, and shuts the screen until an answer."""
    made = clocked_screen(clocked)
    for _ in range(6):
        clocked.page.clock.run_for(1000)
        made.message("here")
    assert made.sent.count("here") >= 6 and clocked.page.locator(".fb-cut-off").count() == 0
    clocked.page.clock.run_for(7000)
    told = clocked.page.locator(".fb-cut-off")
    expect(told).to_contain_text("does not answer. Nothing on it can be saved")
    expect(told).to_contain_text("What was typed until 12:00:00 is kept on this machine")
    assert clocked.page.evaluate("document.querySelector('#save').inert") is True
    made.message("here")
    expect(told).to_have_count(0)
    assert clocked.page.evaluate("document.querySelector('#save').inert") is False


def test_page_side_a_busy_kernel_is_waited_for_and_a_dead_one_is_not(clocked: Alone) -> None:
    """At work it may take its time; ended, no answer brings it back."""
    made = clocked_screen(clocked)
    clocked.page.evaluate("() => { window.manager.kernel.status = 'busy'; }")
    clocked.page.clock.run_for(20_000)
    assert clocked.page.locator(".fb-cut-off").count() == 0
    clocked.page.evaluate("() => { window.manager.kernel.status = 'dead'; }")
    clocked.page.clock.run_for(1000)
    expect(clocked.page.locator(".fb-cut-off")).to_contain_text("has ended or was started anew")
    made.message("here")
    expect(clocked.page.locator(".fb-cut-off")).to_have_count(1)


def test_page_side_what_is_held_back_for_good_is_sent_on(clocked: Alone) -> None:
    """The kernel's word that it is done was lost: at rest from one beat to the next, what is held back goes."""
    clocked_screen(clocked)
    hold(clocked, True)
    clocked.page.clock.run_for(1000)
    assert clocked.page.evaluate("window.box.heard") == []
    clocked.page.clock.run_for(1500)
    assert clocked.page.evaluate("window.box.heard") == ["idle"]
