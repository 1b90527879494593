"""An engineer's hands: everything done on a screen, counted. A click, a text typed, a key pressed, a choice made is one."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Locator


def _begins(label: str) -> re.Pattern[str]:
    """Begins with a label; the widgets write hard spaces."""
    return re.compile(r"^\s*" + r"\s".join(re.escape(word) for word in label.split(" ")))


class Hands:
    """Acts on the notebook in front and counts."""

    def __init__(self, lab: Any) -> None:
        self.lab, self.count = lab, 0

    def see(self, selector: str) -> Locator:
        """Return what of the front notebook matches; looking is not counted."""
        found: Locator = self.lab.shown(selector)
        return found

    def click(self, selector: str) -> None:
        """Click once."""
        self.count += 1
        self.see(selector).first.click()

    def choose(self, name: str, label: str) -> None:
        """Choose an entry of a drop-down by what it begins with."""
        self.count += 1
        box = self.see(f".fb-in-{name} select")
        entry = box.locator("option", has_text=_begins(label)).first
        entry.wait_for(state="attached")
        box.select_option(value=entry.get_attribute("value"))

    def type(self, selector: str, words: str) -> None:
        """Type into a box, key by key, and leave it by Tab."""
        self.count += 1
        box = self.see(selector).first
        box.click()
        box.fill("")
        box.press_sequentially(words)
        box.press("Tab")

    def pick(self, selector: str, letters: str) -> None:
        """Type some letters into a picker and take the first offer with Enter."""
        self.count += 2
        box = self.see(f"{selector} input")
        box.click()
        box.press("ControlOrMeta+a")  # what stands there is typed over
        box.press_sequentially(letters)
        self.see(f"{selector} .fb-picker-option").first.wait_for()
        box.press("Enter")

    def paste(self, selector: str, words: str) -> None:
        """Paste a text into a box, as Ctrl+V does."""
        self.count += 1
        self.see(selector).first.evaluate(
            """(el, text) => {
              el.focus();
              const data = new DataTransfer(); data.setData('text/plain', text);
              const event = new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true});
              if (el.dispatchEvent(event)) { el.value = text; el.dispatchEvent(new Event('input', {bubbles: true})); }
            }""",
            words,
        )


def opened(lab: Any, code: str, name: str = "visit.ipynb") -> Hands:
    """Open a screen in a notebook of its own; return the hands in front of it."""
    lab.write(name, code)
    lab.open(name)
    return Hands(lab)
