"""What the sections of a visit have in common, and a form whose records are added to the visit instead of saved."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as w
import pyarrow as pa

from fibrebook.forms.base import button, html, row
from fibrebook.forms.fields import FormBox
from fibrebook.forms.readings import next_labels
from fibrebook.records.keys import natural

if TYPE_CHECKING:
    from fibrebook.forms.day import Day
    from fibrebook.register import Register

State = dict[str, Any]


class Visit(Protocol):
    """What a section may ask of the visit that it is a part of."""

    reg: Register
    day: Day

    def tables(self) -> dict[str, pa.Table]:
        """Return the site's records as they would be with the day's work, cores in full."""

    def cores(self) -> pa.Table:
        """Return every core of the site."""

    def keep(self, source: str, title: str, put: Any) -> None:
        """Take a section's rows into the day."""

    def waits(self, source: str, words: str) -> None:
        """Note what of a section cannot be saved yet; "" = nothing."""

    def typed(self) -> None:
        """Something was typed."""

    def renew(self) -> None:
        """Let the other sections take notice of the day's records."""

    def say(self, text: str, how: str = "told") -> None:
        """Show a message."""

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do something; a fault of the user's is told in words."""

    def needs_site(self, act: Callable[[], Any]) -> Callable[[], Any]:
        """Return the act, which is refused in words while no site is chosen."""


class Section(w.VBox):
    """One part of the visit's screen. It reads the visit's tables and keeps its rows in the visit's day."""

    title = ""
    name = ""

    def __init__(self, visit: Visit) -> None:
        super().__init__([])
        self.visit = visit
        self._quiet = False
        self.add_class(f"fb-section-{self.name}")

    @property
    def day(self) -> Day:
        """The day's work so far."""
        return self.visit.day

    def refresh(self) -> None:
        """Take the site's records as they are now, with the day's work in them."""

    def state(self) -> State:
        """Return what is typed here and not in the day yet, for the draft."""
        return {}

    def restore(self, state: State) -> None:
        """Show again what a draft kept."""

    def begun(self) -> bool:
        """Tell whether something was typed here that would be lost."""
        return False

    def _calm(self, act: Callable[[], Any]) -> None:
        """Do something to the controls that is not the user's doing: what `_quiet` holds back stays still."""
        was, self._quiet = self._quiet, True
        try:
            act()
        finally:
            self._quiet = was

    def typed_late(self, subject: str) -> None:
        """Tell that something was typed into a list while another one took its place."""
        self.visit.say(
            f"what was typed last stood in the list of {subject}, which was just being replaced; it was not taken in: "
            "type or paste it again",
            "wrong",
        )


class Steps(w.VBox):
    """Buttons of which one is on, and the part that belongs to it below them."""

    def __init__(self, parts: dict[str, w.Widget], first: str, name: str) -> None:
        self._parts = parts
        self._buttons = {t: button(t, partial(self.turn_to, t), f"fb-step-{name}", f"fb-to-{_word(t)}") for t in parts}
        self._place = w.VBox([])
        super().__init__([row(*self._buttons.values()), self._place])
        self.turn_to(first)

    @property
    def titles(self) -> list[str]:
        """The parts that can be turned to."""
        return list(self._parts)

    def turn_to(self, title: str) -> None:
        """Show one part."""
        self.on = title
        for t, b in self._buttons.items():
            b.description = f"● {t}" if t == title else t
            (b.add_class if t == title else b.remove_class)("fb-on")
        self._place.children = [self._parts[title]]


def _word(title: str) -> str:
    return "-".join(title.lower().replace(",", "").split())


class AddForm(w.VBox):
    """A form of one kind of record; "Add to the visit" puts the record into the day."""

    def __init__(
        self, section: Section, kind: str, letter: str = "", leave_out: tuple[str, ...] = (), today: str = ""
    ) -> None:
        self.section, self._letter, self._today = section, letter, today
        self._suggested: set[str] = set()
        self.box = FormBox(kind, section.visit.tables, section.visit.typed, leave_out)
        kind_ = self.box.model.kind
        self.add = button(f"Add this {kind_.singular} to the visit", self._add, "fb-add", f"fb-add-{kind}")
        super().__init__([html(f"<div class='fb-help'>{escape(kind_.help)}</div>"), self.box, self.add])

    def refresh(self) -> None:
        """Take the site's records as they are now."""
        self.box.refresh(self.section.day.site)

    def begun(self) -> bool:
        """Tell whether something was typed; a proposed label alone is nothing."""
        return bool(self.box.state().keys() - self._suggested)

    def suggest(self) -> None:
        """Propose the next label in the site's own way of writing, and the visit's day, where none is typed."""
        own = self.box.model.kind.own_key[-1]
        if self._letter and self.section.day.site and not self.box.model.values.get(own):
            label = next_labels(self.section.visit.tables(), 1, self.box.model.kind.name, self._letter)[0]
            fresh = {own: label} | ({self._today: self.section.day.on} if self._today else {})
            self.box.restore({n: v for n, v in fresh.items() if not self.box.model.values.get(n)})
            self._suggested = set(fresh)

    def _add(self) -> None:
        visit, kind = self.section.visit, self.box.model.kind

        def act() -> None:
            typed = self.box.complete()
            label = " / ".join(str(typed[k]) for k in kind.own_key if typed.get(k))
            visit.keep(f"{kind.name} {label}", f"{kind.singular} {label}", {kind.name: [typed]})
            self.box.load(None)
            visit.say(f"{kind.singular} {label} is in the visit; it is saved with everything else")
            visit.renew()

        visit.guard(visit.needs_site(act))


def dropdown(title: str, changed: Callable[[], Any], name: str, options: Any = ()) -> w.Dropdown:
    """Return a labelled drop-down."""
    made = w.Dropdown(description=title, options=list(options), style={"description_width": "auto"})
    made.add_class(f"fb-in-{name}")
    made.observe(lambda _: changed(), "value")
    return made


def text(title: str, changed: Callable[[], Any], name: str, value: str = "") -> w.Text:
    """Return a labelled text box."""
    made = w.Text(description=title, value=value, style={"description_width": "auto"})
    made.add_class(f"fb-in-{name}")
    made.observe(lambda _: changed(), "value")
    return made


def offer(control: w.Dropdown, options: list[Any]) -> None:
    """Give a drop-down other options and keep what is chosen, if it is still among them; else the first."""
    values = [o[1] if isinstance(o, tuple) else o for o in options]
    kept = control.value
    if list(control.options) != options:
        control.options = options
    if kept in values:
        control.value = kept
    elif values:
        control.value = values[0]


def labels(table: Any, column: str) -> list[str]:
    """Return the labels in a column, 2 before 10."""
    return sorted({v for v in table[column].to_pylist() if v}, key=natural)
