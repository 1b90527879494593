"""What dead channels share that no working one uses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as w

from fibrebook.analyses.paths.common_points import shared_by_dead
from fibrebook.register import Register
from fibrebook.screens.frame.screen import html, table_html
from fibrebook.screens.testing.part import Part
from fibrebook.words.labels import natural

MOST = 12


class Shared(Part):
    """Tick the channels that are dark; what they have in common stands below at once."""

    name, title, one_site = "shared", "What do dead channels share?", True

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self.boxes: dict[str, w.Checkbox] = {}
        self.ticks = w.HBox([]).add_class("fb-row")
        self.ticks.add_class("fb-dead")
        self.answer = html("", "fb-shared")
        self.children = [html("<p>Tick the channels that have no light; the others count as working.</p>"), self.ticks,
                         self.answer]  # fmt: skip
        self._site = ""

    def show(self, site: str) -> None:
        """Offer the channels of the site; ticks of channels that are still there stay."""
        was = {name for name, box in self.boxes.items() if box.value} if site == self._site else set()
        self._site = site
        rows = self.reg.tables(site, ["channels"])["channels"].to_pylist() if site else []
        self.boxes = {}
        for r in sorted(rows, key=lambda r: natural(r["channel"])):
            words = f"{r['channel']}{': ' + r['purpose'] if r['purpose'] else ''}"
            box = w.Checkbox(description=words, indent=False, value=r["channel"] in was)
            box.observe(lambda _: self.guard(self.ask, self._nothing), "value")
            self.boxes[r["channel"]] = box
        self.ticks.children = list(self.boxes.values())
        self.ask()

    def _nothing(self) -> None:
        self.answer.value = ""

    def ask(self) -> None:
        """Tell what the channels ticked have in common."""
        dead = [name for name, box in self.boxes.items() if box.value]
        if not dead:
            self.answer.value = "" if self.boxes else "<p>No channel is recorded at this site.</p>"
            return
        found = shared_by_dead(self.reg, self._site, dead)
        more = f", the first {MOST} of {len(found)}" if len(found) > MOST else ""
        self.answer.value = table_html(found.head(MOST), f"Look here first{more}")
