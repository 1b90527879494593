"""Conflicts side by side with a choice for each; an edit that met some, then saved or thrown away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import ConflictError, FibrebookError
from fibrebook.records.values.to_columns import kind_of
from fibrebook.register.commits.decisions import SIDES
from fibrebook.screens.frame.screen import Screen, button, html, row
from fibrebook.screens.widgets.grid import Grid, col
from fibrebook.screens.widgets.table import exact_text, plain_text

if TYPE_CHECKING:
    import pandas as pd

MINE, THEIRS = SIDES
CHANGED_TOO = "others changed the same values since; both stand side by side below, choose for each"


class ConflictGrid(Grid):
    """Values that both sides changed, side by side, and a drop-down for each that says which stands."""

    def __init__(self, theirs: str, mine: str, **more: Any) -> None:
        super().__init__(**more)
        self._titles = theirs, mine
        self.add_class("fb-conflict-grid")

    def put(self, found: pd.DataFrame, chosen: Sequence[str] = (), of: str = "") -> None:
        """Show conflicts (columns as of `pending_conflicts`); chosen: what is chosen so far; of: what they stand in."""
        theirs, mine = self._titles
        columns = [
            col("what", "Record and value"),
            col("base", "Before"),
            col("theirs", theirs),
            col("mine", mine),
            col("choice", "Which stands", "choice", options=[THEIRS, MINE]),
        ]
        rows = []
        for c, what in zip(found.to_dict("records"), titles(found), strict=True):
            shown = {n: exact_text(c[n]) or "blank" for n in ("base", "theirs", "mine")}
            if not c["column"]:
                shown["base"] = "was there"  # of a whole record; the others say removed, changed
            rows.append({"label": what, "cells": {"what": what, **shown}})
        values = [{"choice": side} for side in chosen] or [{"choice": ""} for _ in rows]
        self.show("Changed by both", columns, rows, values, of)

    @property
    def choices(self) -> list[str]:
        """What is chosen for each conflict: mine, theirs, or "" where nothing is."""
        return [v["choice"] if v["choice"] in (MINE, THEIRS) else "" for v in self.values]

    def choose_all(self, side: str) -> None:
        """Choose one side for every conflict."""
        self.fill([{**v, "choice": side} for v in self.values])
        self.mark([])

    def missing(self) -> int:
        """Mark the conflicts without a choice; return how many there are."""
        open_ = [(i, "choice", "choose mine or theirs") for i, c in enumerate(self.choices) if not c]
        self.mark(open_)
        return len(open_)


class Conflicts(w.VBox):
    """The edits of a register that wait for a decision; empty where there is none."""

    def __init__(self, screen: Screen, on_done: Callable[[], Any]) -> None:
        super().__init__([])
        self.screen, self._on_done = screen, on_done
        self.add_class("fb-conflicts")
        self.name, self._waiting = "", 0
        self.found = screen.reg.pending().iloc[:0]  # none yet
        self.grid = ConflictGrid("Theirs (saved)", "Mine (not saved)")
        self.look()

    def look(self, name: str = "") -> None:
        """Show the edit of that name, else the oldest one that waits; what is chosen of it stays chosen."""
        waiting = self.screen.reg.pending()
        names = waiting["name"].tolist()
        if not names:
            self.name, self.children = "", []
            return
        before, self.name = self.name, name if name in names else names[0]
        about = waiting[waiting["name"] == self.name].iloc[0]
        found = self.screen.reg.pending_conflicts(self.name)
        if self.name == before and self.children and len(names) == self._waiting and found.equals(self.found):
            return  # nothing new: what somebody is about to click stays where it is
        same = self.name == before and len(self.found)
        chosen = dict(zip(_asked(self.found), self.grid.choices, strict=True)) if same else {}
        self.found, self._waiting = found, len(names)
        ask = "Others changed the same since. Choose for each value which one is to stand." if len(self.found) else ""
        head = (
            f"<h3 class='fb-heading'>An edit waits for a decision</h3>"
            f"<div class='fb-message'>{escape(str(about['by']))}: {escape(str(about['why']))}, "
            f"{int(about['rows'])} record(s), kept {escape(plain_text(about['kept_utc']))} UTC. "
            f"{ask}</div>"
        )
        parts: list[Any] = [html(head)]
        if len(self.found):
            self.grid.put(self.found, [chosen.get(asked, "") for asked in _asked(self.found)], self.name)
            parts.append(self.grid)
        else:
            reasons = escape(str(about["reasons"])).replace("\n", "<br>")
            parts.append(html(f"<div class='fb-message'>{reasons or 'Nothing stands in its way any more.'}</div>"))
        more = f"{len(names) - 1} more wait(s) after this one." if len(names) > 1 else ""
        parts.append(
            row(
                button("Save with these choices", lambda: self.screen.guard(self.resolve), "fb-main", "fb-resolve"),
                button("Throw this edit away", lambda: self.screen.guard(self.drop), "fb-drop", once=True),
                html(more),
            )
        )
        self.children = parts

    def resolve(self) -> None:
        """Save the edit with the choices made; every conflict needs one."""
        choices = self.grid.choices if len(self.found) else []
        if len(self.found) and (missing := self.grid.missing()):
            self.screen.say(f"{missing} value(s) have no choice yet", "wrong")
            return
        name, shown = self.name, self.found
        self.look(name)
        if not self.found.equals(shown):
            self.screen.say("the values were changed again meanwhile; look at them and choose", "wrong")
            return
        try:
            number = self.screen.reg.pending_resolve(name, choices)
        except ConflictError as error:
            self.look(name)
            self.screen.say(str(error), "wrong")
            return
        except FibrebookError as error:
            self.screen.say(str(error), "wrong")
            return
        self.screen.watch.refresh()
        self.screen.say(f"saved as commit {number}" if number else "nothing of it was left to change", "done")
        self.look()
        self._on_done()

    def drop(self) -> None:
        """Throw the edit away."""
        self.screen.reg.pending_drop(self.name)
        self.screen.say("the edit was thrown away; the register is as the others saved it", "done")
        self.look()
        self._on_done()


def titles(found: pd.DataFrame) -> list[str]:
    """Return what each conflict is about; no two alike, for the grid tells its rows by it."""
    seen: Counter[str] = Counter()
    out = []
    for conflict in found.to_dict("records"):
        what = conflict_title(conflict)
        seen[what] += 1
        out.append(f"{what} ({seen[what]})" if seen[what] > 1 else what)
    return out


def conflict_title(conflict: Mapping[Any, Any]) -> str:
    """Return what a conflict is about, as people read it: splice J1 / 1 / 4: Loss (dB)."""
    kind = kind_of(conflict["table"])
    key = " / ".join(str(v) for v in conflict["key"] if v not in (None, ""))
    column = conflict["column"]
    return f"{kind.singular} {key}: {kind.by_name[column].title if column else 'the whole record'}"


def _asked(found: pd.DataFrame) -> list[str]:
    """What each conflict asks, values and all: a choice holds for these only."""
    return [repr(r) for r in found.itertuples(index=False)]
