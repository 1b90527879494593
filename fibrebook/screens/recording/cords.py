"""Panel and patch cords: a duplex cord in one action, with the polarity that it makes."""

from __future__ import annotations

from functools import partial
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.errors import FibrebookError
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.recording.add_form import Section, State, Visit
from fibrebook.screens.recording.rows.cords import CROSSED, USUAL, cord_rows, next_cord, polarity_words, sockets
from fibrebook.screens.recording.rows.losses import loss_of
from fibrebook.screens.widgets.controls import dropdown, text
from fibrebook.screens.widgets.picker import Picker, chosen_only

STATE = ("a", "b", "cord", "how", "length", "temporary")


class CordSection(Section):
    """Plug a cord: from, to, what sort; the light's way through it is told before it is added."""

    title, name = "Panel and cords", "cords"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self.a = Picker("From: port or interface", placeholder="type its label")
        self.b = Picker("To: port or interface; blank = loose", placeholder="type its label")
        self.a.add_class("fb-in-cord-a")
        self.b.add_class("fb-in-cord-b")
        for picker in (self.a, self.b):
            picker.observe(lambda _: self._changed(), ["value", "unmatched"])
        self.how = dropdown("Cord", self._changed, "cord-how", [USUAL, CROSSED])
        self.cord = text("Label of the cord", self._changed, "cord-label")
        self.length = text("Length (m)", self._changed, "cord-length")
        self.temporary = w.Checkbox(value=False, description="only meant for a while", indent=False)
        self.temporary.add_class("fb-in-cord-temporary")
        self.temporary.observe(lambda _: self._changed(), "value")
        self.shown = html("", "fb-polarity")
        self.children = [
            row(self.a, self.b, self.how, self.cord, self.length, self.temporary),
            self.shown,
            button("Add this cord to the visit", self._add, "fb-add", "fb-add-cord", once=True),
        ]

    def refresh(self) -> None:
        """Offer what is free at the site."""
        tables = self.visit.tables()
        free = [
            (name, name, f"free: {' and '.join(p or 'one fibre' for p in positions)}")
            for name, (_, positions) in sockets(tables).items()
            if positions
        ]
        self.a.offer(free)
        self.b.offer(free)
        if not self.cord.value and self.day.site:
            self._calm(lambda: setattr(self.cord, "value", next_cord(tables)))

    def _rows(self) -> list[dict[str, Any]]:
        chosen_only(self.a, self.b)
        about = {
            "fitted_on": self.day.on,
            "length_m": loss_of(self.length.value) or None,
            "temporary": True if self.temporary.value else None,
        }
        return cord_rows(
            self.visit.tables(), self.day.site, self.cord.value, self.a.value, self.b.value, self.how.value, about
        )

    def _changed(self) -> None:
        if self._quiet:
            return
        self.shown.value = ""
        astray = next((p.unmatched for p in (self.a, self.b) if p.unmatched), "")
        told = f"under {self.title}, {astray!r} matches no free port or interface: choose one, or clear the box"
        self.visit.waits(self.name, told if astray else "")
        if self.a.value and self.b.value:
            try:
                rows = self._rows()
                lines = polarity_words(self.day.seen_with("patches", rows).network, rows)
            except FibrebookError as error:
                lines = [str(error)]
            items = "".join(f"<li>{escape(x)}</li>" for x in lines)
            self.shown.value = f"<div class='fb-message'><b>Polarity:</b><ul>{items}</ul></div>"
        self.visit.typed()

    def _add(self) -> None:
        def act() -> None:
            rows = self._rows()
            label = self.cord.value.strip()
            self.visit.keep(f"cord {label}", f"cord {label}: {len(rows)} strand(s)", {"patches": rows})
            self._calm(self._clear)
            self.visit.say(f"cord {label} is in the visit; it is saved with everything else")
            self.visit.renew()

        self.visit.guard(self.visit.needs_site(act))

    def _clear(self) -> None:
        self.a.clear()
        self.b.clear()
        self.cord.value = self.length.value = self.shown.value = ""
        self.temporary.value = False
        self.visit.waits(self.name, "")

    def begun(self) -> bool:
        """Tell whether something was typed and not added; the proposed label alone is nothing."""
        typed = [n for picker in (self.a, self.b) for n in (picker.value, picker.unmatched)]
        return bool(any(typed) or self.length.value or self.temporary.value)

    def state(self) -> State:
        """Return what is typed and not added."""
        return {n: getattr(self, n).value for n in STATE} | {f"{n}_typed": getattr(self, n).unmatched for n in "ab"}

    def restore(self, state: State) -> None:
        """Show again what a draft kept."""
        for name in STATE:
            if name in state:
                self._calm(partial(setattr, getattr(self, name), "value", state[name]))
        for name in "ab":
            self._calm(partial(setattr, getattr(self, name), "unmatched", state.get(f"{name}_typed", "")))
        self._changed()
