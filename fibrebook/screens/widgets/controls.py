"""The plain controls of every screen: text, buttons, parts side by side or under a heading, choices, steps."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.screens.widgets.press import Press


def html(text: str, *classes: str) -> w.HTML:
    """Return an HTML widget of text that is escaped already."""
    return classed(w.HTML(text), *classes)


def button(
    text: str, act: Callable[[], Any] | None = None, *classes: str, tip: str = "", once: bool = False
) -> w.Button:
    """Return a big button.

    `fb-main` among the classes makes it the screen's main one. That, and each with `once`, is locked while it works,
    and a press that came too early to be another one is none.
    """
    made = classed(w.Button(description=text, tooltip=tip or text), *classes)
    if act is not None:
        press = Press(act, made) if once or "fb-main" in classes else act
        made.on_click(lambda _: press())
    return made


def row(*children: w.Widget) -> w.HBox:
    """Return widgets side by side, wrapping where the page is narrow."""
    return classed(w.HBox(list(children)), "fb-row")


def section(title: str, *children: w.Widget, caution: str = "") -> w.VBox:
    """Return a part of a screen under a heading."""
    head = [html(f"<h3 class='fb-heading'>{escape(title)}</h3>")]
    if caution:
        head.append(html(f"<div class='fb-caution'><b>Caution:</b> {escape(caution)}</div>"))
    return classed(w.VBox([*head, *children]), "fb-section")


def classed(widget: Any, *classes: str) -> Any:
    """Return the widget, with classes for the style sheet."""
    for name in classes:
        widget.add_class(name)
    return widget


class Steps(w.VBox):
    """Buttons of which one is on, and the part that belongs to it below them.

    told : called with the title of the part that was turned to
    """

    def __init__(
        self, parts: dict[str, w.Widget], first: str, name: str, told: Callable[[str], Any] = lambda title: None
    ) -> None:
        self._parts = parts
        self._told: Callable[[str], Any] = lambda title: None
        self._buttons = {t: button(t, partial(self.turn_to, t), f"fb-step-{name}", f"fb-to-{_word(t)}") for t in parts}
        self._place = w.VBox([])
        super().__init__([row(*self._buttons.values()), self._place])
        self.turn_to(first)
        self._told = told

    @property
    def titles(self) -> list[str]:
        """The parts that can be turned to."""
        return list(self._parts)

    def turn_to(self, title: str) -> None:
        """Show one part."""
        self.on = title
        self._place.children = [self._parts[title]]
        for t, b in self._buttons.items():
            b.description = f"● {t}" if t == title else t
            (b.add_class if t == title else b.remove_class)("fb-on")
        self._told(title)


def _word(title: str) -> str:
    return "-".join(title.lower().replace(",", "").split())


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


def told_by_watch() -> None:
    """A control of which whoever shows it is told otherwise (`Shown.watch`)."""
