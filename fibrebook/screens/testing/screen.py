"""Tests and faults: one screen, five questions, each shown when it is asked."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.screens.frame.screen import EYES, Screen, SitePicker, button, html, row
from fibrebook.screens.testing.accepted import Accepted
from fibrebook.screens.testing.broken import Broken
from fibrebook.screens.testing.faster import Faster
from fibrebook.screens.testing.part import Part
from fibrebook.screens.testing.shared import Shared
from fibrebook.screens.testing.spliced import Spliced

if TYPE_CHECKING:
    from fibrebook.register import Register

PARTS: tuple[type[Part], ...] = (Accepted, Broken, Shared, Spliced, Faster)
RED = "A visible red source can harm too: keep it out of everybody's eyes. A microscope only with filter or camera."


def tests_and_faults(reg: Register | None = None, site: str = "") -> TestsAndFaults:
    """Show the screen of tests and faults for a register (default: the one of `which_register`)."""
    return TestsAndFaults(reg, site)


class TestsAndFaults(Screen):
    """The screen.

    Attributes
    ----------
    parts : its questions by name; on : the name of the one in front
    """

    __test__ = False  # no class of tests

    def __init__(self, reg: Register | None = None, site: str = "") -> None:
        super().__init__(reg, "Tests and faults", caution=f"{EYES} {RED}", name="tests-and-faults")
        self.site = SitePicker(self.reg, "Site: blank = all")
        self.parts = {kind.name: kind(self.reg, self.guard) for kind in PARTS}
        self.buttons = {
            name: button(part.title, partial(self.turn_to_part, name), f"fb-to-{name}")
            for name, part in self.parts.items()
        }
        self.on = Accepted.name
        self._needs = html("<p>Choose a site first.</p>", "fb-needs-site")
        self._front = w.VBox([])
        self.body = [row(self.site), row(*self.buttons.values()), self._front]
        self.site.observe(lambda _: self._show(), ["value", "unmatched"])
        self.watch.subscribe(lambda _: self._show())
        if site:
            self.site.value = site
        else:
            self._show()

    def turn_to(self, site: str, thing: tuple[Any, ...] = ()) -> None:
        """Show a site; of ("part", name) that question, of ("test", label) that test."""
        super().turn_to(site)
        if thing[:1] == ("part",) and thing[1] in self.parts:
            self.turn_to_part(str(thing[1]))
        elif thing[:1] == ("test",):
            self.turn_to_part(Accepted.name)
            accepted = self.parts[Accepted.name]
            assert isinstance(accepted, Accepted)
            accepted.find(str(thing[1]))

    def turn_to_part(self, name: str) -> None:
        """Bring a question to the front."""
        self.on = name
        self._show()
        self.moved(self.site.value, ("part", name))

    def _show(self) -> None:
        for name, one in self.buttons.items():
            (one.add_class if name == self.on else one.remove_class)("fb-on")
        part = self.parts[self.on]
        if part.one_site and not self.site.value:
            self._front.children = [self._needs]
            return
        self.say("")
        self._front.children = [part]
        self.guard(partial(self._look, part), partial(setattr, self._front, "children", []))

    def _look(self, part: Part) -> None:
        self.site.chosen_only()
        part.look(self.site.value)
