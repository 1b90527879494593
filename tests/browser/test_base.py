"""The harness itself and what every screen stands on."""

from __future__ import annotations

from typing import Any

from driver import axe_violations
from playwright.sync_api import expect


def test_site_picker_by_two_letters(lab: Any, demo: Any, axe: Any) -> None:
    """Two letters and Enter choose a site; the choice reaches Python."""
    lab.write(
        "picker.ipynb",
        "from fibrebook.screens.frame.screen import *\n"
        "s = Screen(None, 'Try', caution=EYES); p = SitePicker(s.reg)\n"
        "p.observe(lambda c: s.say('chosen ' + c['new']), 'value'); s.body = [p]\n"
        "s.body = [p, table_view(s.reg.table('cables'), 'Cables', on_pick=lambda i: s.say(f'row {i}'))]\ns",
    )
    lab.open("picker.ipynb")
    box = lab.shown(".fb-site input")
    box.click()
    box.press_sequentially("ha")
    expect(lab.shown(".fb-picker-option").first).to_contain_text("Halls", timeout=10_000)
    box.press("ArrowDown")
    box.press("Enter")
    expect(lab.shown(".fb-message")).to_have_text("chosen Harbour")
    lab.shown(".fb-pick").nth(3).click()
    expect(lab.shown(".fb-message")).to_have_text("row 3")
    assert axe_violations(lab.page, axe) == []


ONE_THREAD = """
import threading
import ipywidgets as w
from fibrebook.screens.frame.screen import *
s = Screen(None, 'Try'); seen = []
def note(what):
    seen.append(what)
    threads.add(threading.current_thread().name)
    s.say(f"{len(threads)} thread(s): {' '.join(seen)}")
threads = set()
boxes = [w.Text(description=n) for n in 'ab']
for n, box in zip('ab', boxes):
    box.observe(lambda c, n=n: note(n + c['new']), 'value')
s.watch.subscribe(lambda commit: note(f'commit{commit}'))
s.body = [*boxes, button('Press', lambda: note('pressed'), 'fb-press')]
s
"""


def test_all_that_is_done_on_a_screen_is_heard_in_one_thread_and_in_order(lab: Any, demo: Any) -> None:
    """Typing, pressing and others' commits are handled one after another, however the page sends them."""
    import fibrebook

    lab.write("order.ipynb", ONE_THREAD)
    lab.open("order.ipynb")
    a, b = lab.shown("input").nth(0), lab.shown("input").nth(1)
    a.click()
    lab.page.keyboard.type("1")
    b.click()
    lab.page.keyboard.type("2")
    lab.shown(".fb-press").click()
    said = lab.shown(".fb-message")
    expect(said).to_have_text("1 thread(s): a1 b2 pressed")
    reg = fibrebook.open(demo)
    with reg.edit(by="TB", why="another") as edit:
        edit.put("snags", {"site": "Harbour", "snag": "S78", "what": "lid off", "found_on": "2026-11-20"})
    expect(said).to_have_text(f"1 thread(s): a1 b2 pressed commit{reg.commit}", timeout=10_000)
    lab.shown(".fb-press").click()
    expect(said).to_have_text(f"1 thread(s): a1 b2 pressed commit{reg.commit} pressed")


OVERTAKING = """
import time
import ipywidgets as w
from fibrebook.screens.frame.screen import *
s = Screen(None, 'Try'); inner = Screen(None, 'Within'); box = w.Text(description='a', continuous_update=True)
def slow(change):
    time.sleep(0.2)
box.observe(slow, 'value')
inner.body = [box, button('Press', lambda: s.say('pressed at ' + box.value), 'fb-press')]
s.body = [inner]
s
"""


def test_a_press_does_not_overtake_what_was_typed_before_it(lab: Any, demo: Any) -> None:
    """A form that is slow to take in letters holds some back; a press on the button beside it comes after the last."""
    lab.write("overtaking.ipynb", OVERTAKING)
    lab.open("overtaking.ipynb")
    lab.shown("input").click()
    lab.page.keyboard.type("abcdefgh")
    lab.shown(".fb-press").click()
    expect(lab.shown(".fb-message").first).to_have_text("pressed at abcdefgh", timeout=15_000)


CHOOSING = """
import time
from fibrebook.screens.frame.screen import *
from fibrebook.screens.widgets.picker import Picker
s = Screen(None, 'Try'); p = Picker(label='One', searching=True)
def look(change):
    time.sleep(0.3)
    p.options = [(n, n, '') for n in ('amber', 'azure') if n.startswith(p.query)]
    p.answered = p.query
p.observe(look, 'query')
s.body = [p, button('Press', lambda: s.say('pressed with ' + (p.value or 'nothing')), 'fb-press')]
s
"""


def test_a_choice_by_enter_comes_before_the_press_that_follows(lab: Any, demo: Any) -> None:
    """Enter is pressed before the list has come: the button that is pressed next waits for the choice."""
    lab.write("choosing.ipynb", CHOOSING)
    lab.open("choosing.ipynb")
    lab.shown(".fb-picker input").click()
    lab.page.keyboard.type("az")
    lab.page.keyboard.press("Enter")
    lab.shown(".fb-press").click()
    expect(lab.shown(".fb-message")).to_have_text("pressed with azure", timeout=15_000)
