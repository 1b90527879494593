"""The tray: a cable in an enclosure, its cores in a row with the joint that each gets; tick, paste losses, mend one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import ipywidgets as w

from fibrebook.screens.frame.screen import html, row
from fibrebook.screens.frame.section import Event, Section, Shown, Standing
from fibrebook.screens.recording.core_rows import core_columns, core_row
from fibrebook.screens.recording.rows.joints import ORDERS, PIGTAILS
from fibrebook.screens.recording.rows.tray_typed import (
    SPLICE_METHODS,
    TrayTyped,
    follow,
    in_enclosure,
    of_cable,
    proposed,
    read,
    towards,
)
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.widgets.controls import dropdown, offer, text, told_by_watch
from fibrebook.screens.widgets.grid import Grid, col, late_words

CHOSEN = ("enclosure", "cable", "to", "tube", "order", "tray", "method", "all")
DECIDES = {
    "enclosure": in_enclosure, "cable": of_cable, "to": towards, "tube": proposed, "order": proposed, "all": proposed,
}  # fmt: skip


class TraySection(Section[TrayTyped, Day]):
    """Splices and terminations of one cable end in one enclosure."""

    title, name = "Tray", "tray"

    # --- what is typed, and what it means ----------------------------------------------------------------------------
    def begin(self) -> TrayTyped:
        """Nothing."""
        return TrayTyped()

    def after(self, state: TrayTyped, event: Event, seen: Day) -> TrayTyped:
        """A choice decides what the next may be; what is ticked and typed makes rows."""
        if event.of == "values":
            return read(state, seen, event.value)
        return DECIDES.get(event.of, read)(replace(state, **{event.of: event.value}), seen)

    def follow(self, state: TrayTyped, seen: Day) -> TrayTyped:
        """What is chosen stays as long as it is there; what is typed is laid over what is proposed now."""
        return follow(state, seen)

    def standing(self, state: TrayTyped) -> Standing | None:
        """The joints of the selection that was typed last."""
        return state.stands

    def head_changed(self, state: TrayTyped, seen: Day) -> TrayTyped:
        """Who and when changed: the rows say it."""
        return read(state, seen) if state.source in state.typed else state

    def blocks_saving(self, state: TrayTyped) -> tuple[str, ...]:
        """A joint that cannot be waits to be put right, whichever selection is shown."""
        return tuple(state.blocked.values())

    def begun(self, state: TrayTyped) -> bool:
        """Tell whether something was typed."""
        return any(cells for typed in state.typed.values() for cells in typed.values())

    def take_out(self, state: TrayTyped, source: str) -> TrayTyped:
        """Its ticks go with it, and what was wrong with it hinders nobody any more."""
        typed = {s: cells for s, cells in state.typed.items() if s != source}
        return replace(state, typed=typed, blocked={s: words for s, words in state.blocked.items() if s != source})

    def forget(self, state: TrayTyped) -> TrayTyped:
        """Begin afresh after a save."""
        return replace(state, typed={}, faults=(), blocked={}, stands=None)

    def to_json(self, state: TrayTyped) -> dict[str, Any]:
        """The selection and what stands in every grid."""
        typed = {s: {core: dict(cells) for core, cells in kept.items()} for s, kept in state.typed.items()}
        return {"chosen": {n: getattr(state, n) for n in CHOSEN}, "typed": typed}

    def from_json(self, kept: Mapping[str, Any]) -> TrayTyped:
        """Back again; what is chosen and not there any more gives way to what is."""
        chosen, typed = dict(kept.get("chosen", {})), kept.get("typed", {})
        found = {n: chosen[n] for n in CHOSEN if chosen.get(n)}
        sorts = {"tube": int, "all": bool}
        if not all(type(v) is sorts.get(n, str) for n, v in found.items()) or found.get("order") not in (None, *ORDERS):
            raise TypeError("no tray as it was kept")
        cells = [c for grid in typed.values() for c in grid.values()]
        if not all(isinstance(v, (str, bool)) for cell in cells for v in cell.values()):
            raise TypeError("no tray as it was kept")
        return TrayTyped(**found, typed={s: {core: dict(c) for core, c in grid.items()} for s, grid in typed.items()})

    # --- as it is shown ----------------------------------------------------------------------------------------------
    def build(self, page: Shown[TrayTyped, Day]) -> Sequence[w.Widget]:
        """What is chosen, and the grid."""
        self.controls: dict[str, Any] = {
            "enclosure": dropdown("Enclosure", told_by_watch, "enclosure"),
            "cable": dropdown("Cable", told_by_watch, "cable"),
            "to": dropdown("Join to", told_by_watch, "to"),
            "tube": dropdown("Tube", told_by_watch, "tube"),
            "order": dropdown("Order", told_by_watch, "order", ORDERS),
            "tray": text("Tray", told_by_watch, "tray", "1"),
            "method": dropdown("Method", told_by_watch, "method", SPLICE_METHODS),
            "all": w.Checkbox(value=False, description="cores joined already too", indent=False),
        }
        self.controls["all"].add_class("fb-in-joined")
        for of, control in self.controls.items():
            page.watch(control, of, typed=False)  # it is once it makes rows
        self.note = html("", "fb-tray-note")
        self.grid = Grid(
            lambda subject: page.say(late_words(subject), "wrong"),
            ticked_by={"loss_db": "made"}, all_needs={"made": "to"},
        )  # fmt: skip
        self.grid.add_class("fb-tray-grid")
        self.grid.observe(lambda _: page.tell(Event("values", self.grid.values), typed=False), "values")
        return [row(*self.controls.values()), self.note, self.grid]

    def show(self, state: TrayTyped, seen: Day) -> None:
        """Pigtails need no order and no tray; without a cable end there is no grid."""
        offers = {
            "enclosure": state.enclosures, "cable": state.cables, "to": state.ways, "tube": state.tubes,
            "method": state.methods,
        }  # fmt: skip
        for of, control in self.controls.items():
            if of in offers:
                offer(control, list(offers[of]))
            control.value = getattr(state, of)
            if of in ("order", "tray"):
                control.layout.display = "none" if state.to == PIGTAILS else None
        found = state.proposal
        if found is None:
            self.grid.show("", [], [], [])
            self.note.value = _why_nothing(seen)
            return
        target = "Port" if found.to == PIGTAILS else f"Core of {found.to}"
        columns = [
            *core_columns(found.rows),
            col("made", "Made", "tick"),
            col("to", target, "entry", list=list(found.targets), width="7em"),
            col("loss_db", "Loss (dB)", "entry", numeric=True, width="6em"),
            col("note", "Note on the core", "entry", width="14em"),
        ]
        shown, values = state.shown, state.values
        rows = [core_row(found.rows[i], ["made", "to"] if found.rows[i]["there"] else []) for i in shown]
        count, ready = len(found.rows), state.ready
        caption = f"{found.end} in {found.enclosure}: {count} cores, {count - ready} joined already"
        self.grid.show(caption, columns, rows, [values[i] for i in shown], state.about)
        place = {i: n for n, i in enumerate(shown)}
        self.grid.mark([(place[i], column, words) for i, column, words in state.faults if i in place])
        self.note.value = (
            "Tick what was made. A loss, or a column of losses from the splicer, is pasted into the Loss column."
            if ready
            else "Every core is joined here; only losses and notes can be put right."
        )


def _why_nothing(seen: Day) -> str:
    if not seen.site:
        return "Choose the site first."
    return "No cable ends in an enclosure here yet: add the enclosure and the cable first."
