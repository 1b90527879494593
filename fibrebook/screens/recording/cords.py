"""Panel and patch cords: a duplex cord in one action, with the polarity that it makes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.errors import FibrebookError, InputError
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.frame.section import Event, Made, Section, Shown
from fibrebook.screens.recording.rows.cords import CROSSED, USUAL, cord_rows, next_cord, polarity_words, sockets
from fibrebook.screens.recording.rows.losses import loss_of
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.widgets.controls import dropdown, text, told_by_watch
from fibrebook.screens.widgets.picker import Picker

TYPED = ("a", "b", "a_typed", "b_typed", "cord", "how", "length")
ENDS = {"a": "From: port or interface", "b": "To: port or interface; blank = loose"}


@dataclass(frozen=True)
class CordTyped:
    """What is typed of a cord.

    Attributes
    ----------
    a, b : where it is plugged, as `sockets` names it; a_typed, b_typed : what is typed there and is no such place
    cord, how, length, temporary : its label, sort, length as typed, whether it is meant for a while
    polarity : the light's way through it, once both ends are chosen; or what is wrong with it
    free : the places with a free position: value, text, hint
    """

    a: str = ""
    b: str = ""
    a_typed: str = ""
    b_typed: str = ""
    cord: str = ""
    how: str = USUAL
    length: str = ""
    temporary: bool = False
    polarity: tuple[str, ...] = ()
    free: tuple[tuple[str, str, str], ...] = ()


class CordSection(Section[CordTyped, Day]):
    """Plug a cord: from, to, what sort; the light's way through it is told before it is added."""

    title, name = "Panel and cords", "cords"

    # --- what is typed, and what it means ----------------------------------------------------------------------------
    def begin(self) -> CordTyped:
        """Nothing."""
        return CordTyped()

    def after(self, state: CordTyped, event: Event, seen: Day) -> CordTyped:
        """A place is told as what is chosen there and what is typed there; all else as it stands in its control."""
        if event.of in ENDS:
            chosen, typed = event.value
            now = replace(state, **{event.of: chosen, f"{event.of}_typed": typed})
        else:
            now = replace(state, **{event.of: event.value})
        return replace(now, polarity=_polarity(now, seen))

    def follow(self, state: CordTyped, seen: Day) -> CordTyped:
        """What is free is offered; where no label is typed, the next one is proposed."""
        tables = seen.tables()
        free = tuple(
            (name, name, f"free: {' and '.join(p or 'one fibre' for p in positions)}")
            for name, (_, positions) in sockets(tables).items()
            if positions
        )
        label = state.cord or (next_cord(tables) if seen.site else "")
        return replace(state, cord=label, free=free, polarity=_polarity(state, seen))

    def made(self, state: CordTyped, seen: Day, of: str = "") -> Made[CordTyped]:
        """The strands of one cord."""
        for end, title in ENDS.items():
            if typed := getattr(state, f"{end}_typed"):
                name = title.partition(":")[0]
                raise InputError(f"{name}: nothing matches {typed!r}; choose from the list, or clear the box")
        rows = _rows(state, seen)
        label = state.cord.strip()
        left = CordTyped(how=state.how, free=state.free)
        said = f"cord {label} is in the visit; it is saved with everything else"
        return Made(left, said, f"cord {label}", f"cord {label}: {len(rows)} strand(s)", {"patches": rows})

    def blocks_saving(self, state: CordTyped) -> tuple[str, ...]:
        """A place that is none waits to be put right."""
        astray = state.a_typed or state.b_typed
        words = f"under {self.title}, {astray!r} matches no free port or interface: choose one, or clear the box"
        return (words,) if astray else ()

    def begun(self, state: CordTyped) -> bool:
        """Tell whether something was typed and not added; the proposed label alone is nothing."""
        return bool(state.a or state.b or state.a_typed or state.b_typed or state.length or state.temporary)

    def to_json(self, state: CordTyped) -> dict[str, Any]:
        """What is typed, without what is told of it."""
        return {n: getattr(state, n) for n in (*TYPED, "temporary")}

    def from_json(self, kept: Mapping[str, Any]) -> CordTyped:
        """Back again; a sort of cord that is none is no draft of ours."""
        typed = {n: kept[n] for n in TYPED if n in kept}
        if not all(isinstance(v, str) for v in typed.values()) or typed.get("how", USUAL) not in (USUAL, CROSSED):
            raise TypeError("no cord as it was kept")
        return CordTyped(**typed, temporary=kept.get("temporary") is True)

    # --- as it is shown ----------------------------------------------------------------------------------------------
    def build(self, page: Shown[CordTyped, Day]) -> Sequence[w.Widget]:
        """Two places, the cord, and the button."""
        self.ends = {end: Picker(title, placeholder="type its label") for end, title in ENDS.items()}
        self.how, self.cord, self.length = (
            dropdown("Cord", told_by_watch, "cord-how", [USUAL, CROSSED]),
            text("Label of the cord", told_by_watch, "cord-label"),
            text("Length (m)", told_by_watch, "cord-length"),
        )
        self.temporary = w.Checkbox(value=False, description="only meant for a while", indent=False)
        self.temporary.add_class("fb-in-cord-temporary")
        self.shown = html("", "fb-polarity")
        for end, picker in self.ends.items():
            picker.add_class(f"fb-in-cord-{end}")
            page.watch(picker, end, "value", "unmatched")
        for of, control in self._plain().items():
            page.watch(control, of)
        return [
            row(*self.ends.values(), self.how, self.cord, self.length, self.temporary),
            self.shown,
            button("Add this cord to the visit", page.add, "fb-add", "fb-add-cord", once=True),
        ]

    def _plain(self) -> dict[str, Any]:
        return {"how": self.how, "cord": self.cord, "length": self.length, "temporary": self.temporary}

    def show(self, state: CordTyped, seen: Day) -> None:
        """Places by their free positions; the polarity below."""
        for end, picker in self.ends.items():
            picker.offer(state.free)
            chosen, typed = getattr(state, end), getattr(state, f"{end}_typed")
            if (picker.value, picker.unmatched) != (chosen, typed):
                if not chosen and not typed:
                    picker.clear()
                picker.value, picker.unmatched = chosen, typed
        for of, control in self._plain().items():
            control.value = getattr(state, of)
        items = "".join(f"<li>{escape(x)}</li>" for x in state.polarity)
        self.shown.value = f"<div class='fb-message'><b>Polarity:</b><ul>{items}</ul></div>" if items else ""


def _rows(state: CordTyped, seen: Day) -> list[dict[str, Any]]:
    about = {
        "fitted_on": seen.on,
        "length_m": loss_of(state.length) or None,
        "temporary": True if state.temporary else None,
    }
    return cord_rows(seen.tables(), seen.site, state.cord, state.a, state.b, state.how, about)


def _polarity(state: CordTyped, seen: Day) -> tuple[str, ...]:
    """The light's way through a cord of which both ends are chosen, or in words why there is none."""
    if not (state.a and state.b) or state.a_typed or state.b_typed:
        return ()
    try:
        rows = _rows(state, seen)
        return tuple(polarity_words(seen.seen_with("patches", rows).network, rows))
    except FibrebookError as error:
        return (str(error),)
