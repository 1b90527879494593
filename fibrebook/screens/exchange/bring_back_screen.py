"""Bring back: name a copy, see what was done in it, choose where both changed the same, merge it. And take one away."""

from __future__ import annotations

import os
from functools import partial
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import FibrebookError
from fibrebook.screens.exchange.bring_back_model import CHOOSE_AGAIN, MINE, THEIRS, BringingBack, copies_near, take_away
from fibrebook.screens.frame.changes_told import cell_by_cell
from fibrebook.screens.frame.conflicts import ConflictGrid
from fibrebook.screens.frame.later import Later
from fibrebook.screens.frame.screen import Picker, Screen, SitePicker, button, html, row, section
from fibrebook.screens.widgets.controls import Steps
from fibrebook.screens.widgets.row_picker import picking_table
from fibrebook.screens.widgets.table import exact_text

if TYPE_CHECKING:
    from fibrebook.register import Register

BACK, AWAY = "Bring a copy back", "Take a copy away"
MANY = 4  # more sites than that are told by their number
HELP = "Mine is the copy's, theirs is what is here. Choose for each value which one stands."


def bring_back(reg: Register | None = None, folder: str | os.PathLike[str] = "") -> BringBack:
    """Show the screen that takes copies away and brings them back (default: the register of `which_register`)."""
    return BringBack(reg, folder)


class BringBack(Screen):
    """The screen; `model` holds what it does."""

    def __init__(self, reg: Register | None = None, folder: str | os.PathLike[str] = "") -> None:
        super().__init__(reg, "Take away, bring back", name="bring-back")
        self.model = BringingBack(self.reg)
        self.folder = Picker("Folder of the copy: type its path, or choose", self._near(), free=True)
        self.folder.add_class("fb-copy")
        self._what, self._both, self._changes = w.VBox([]), w.VBox([]), w.VBox([])
        self._worth = html("", "fb-worth-a-look")
        self.grid = ConflictGrid("Theirs (here)", "Mine (the copy's)")
        self.grid.observe(lambda _: self._chosen(), "values")
        self._every = w.Accordion([w.VBox([])], titles=["Change by change"])  # one for all: what is open stays open
        self._every.add_class("fb-every-change")
        self._silent = False
        self._sum_up = Later(lambda: self.guard(self._chosen_now, self._unknown), 0.3)
        self.by, self.why = _text("Initials (needed)", "fb-by"), _text("What for", "fb-why")
        act = button("Bring back", lambda: self.guard(self.bring_back), "fb-main", "fb-bring-back-now")
        self._saving = section("Bring it back", row(self.by, self.why, act), self.said_here())
        self._saving.add_class("fb-save-area")
        look = button("Look at it", lambda: self.guard(self.look), "fb-look")
        back = w.VBox([row(self.folder, look), self._what, self._both, self._changes, self._saving, self._worth])
        self.away = TakeAway(self)
        self.steps = Steps({BACK: back, AWAY: self.away}, BACK, "way")
        self.body = [self.steps]
        self._clear()
        self.watch.subscribe(self._news)
        if folder:
            self.folder.value = str(folder)
            self.guard(self.look)

    def _near(self) -> list[str]:
        beside = [] if "://" in self.reg.where else [Path(self.reg.where).absolute().parent]
        return copies_near(self.reg, *beside, Path.cwd())

    def _clear(self) -> None:
        self._what.children = self._both.children = self._changes.children = []
        self._saving.layout.display = "none"
        self._worth.value = ""

    # --- looking -----------------------------------------------------------------------------------------------------
    def look(self) -> None:
        """Look at the copy named; nothing is written."""
        self._clear()
        self.folder.offer(self._near())  # a stick may have been plugged in since
        self.model.look(self.folder.value)
        self.say("")
        self._show()

    def _news(self, commit: int) -> None:
        """Somebody saved: show what bringing back would come to now; choices stay where the values did."""
        self.folder.offer(self._near())
        if self.model.seen is not None:
            self.guard(self._again, self._unknown)

    def _unknown(self) -> None:
        """It cannot be told what bringing back would change: what was told before is not so any more."""
        self._changes.children = []
        self._saving.layout.display = "none"

    def _again(self) -> None:
        self._take_choices()  # one may be made since they were taken over
        before = sum(map(bool, self.model.chosen))
        self.model.look_again()
        if sum(map(bool, self.model.chosen)) < before:
            self.say(CHOOSE_AGAIN, "wrong")
        self._show()

    def _take_choices(self) -> None:
        if self.model.seen is not None and len(self.model.seen.conflicts):
            self.model.choose(self.grid.choices)

    def _show(self) -> None:
        seen = self.model.seen
        assert seen is not None
        lines = "".join(f"<div>{escape(line)}</div>" for line in self.model.about())
        parts: list[w.Widget] = [html(lines, "fb-about-copy"), html(f"<b>{escape(self.model.to_bring())}</b>")]
        frame = self.model.commits()
        if len(frame):
            sites = [s if s.count(",") < MANY else f"{s.count(',') + 1} sites" for s in frame["sites"]]
            parts.append(picking_table(frame.assign(sites=sites), "What was done in it, newest first"))
            parts[-1].add_class("fb-copy-commits")
        self._what.children = [section("What it is", *parts)]
        self._both.children = self._conflicts() if len(seen.conflicts) else []
        self._show_changes()

    def _conflicts(self) -> list[w.Widget]:
        assert self.model.seen is not None
        self._silent = True
        self.grid.put(self.model.seen.conflicts, self.model.chosen)
        self._silent = False
        if self._both.children:
            return list(self._both.children)
        every = row(
            button("All mine (the copy's)", partial(self.grid.choose_all, MINE), "fb-all-mine"),
            button("All theirs (what is here)", partial(self.grid.choose_all, THEIRS), "fb-all-theirs"),
        )
        return [section("Changed both in the copy and here", html(f"<div>{HELP}</div>"), every, self.grid)]

    def _chosen(self) -> None:
        if not self._silent:
            self._sum_up.ask()

    def _chosen_now(self) -> None:
        """Take the choices over and show what comes of them."""
        if self.model.seen is None:
            return
        before = self.model.seen
        self._take_choices()
        now = self.model.look_again()
        same = before.conflicts.equals(now.conflicts) and len(before.commits) == len(now.commits)
        self._show_changes() if same else self._show()

    def _show_changes(self) -> None:
        seen = self.model.seen
        assert seen is not None
        if not seen.to_bring:
            self._changes.children = []
            self._saving.layout.display = "none"
            return
        parts: list[w.Widget] = []
        if seen.undecided:
            open_ = f"{len(seen.undecided)} value(s) above have no choice yet; until then, what is here stands."
            parts.append(html(f"<div class='fb-message'>{open_}</div>", "fb-open-choices"))
        for line in self.model.broken()[:1]:
            told = "".join(f"<li>{escape(x)}</li>" for x in self.model.broken()[1:])
            parts.append(html(f"<div class='fb-message fb-wrong'>{escape(line)}<ul>{told}</ul></div>", "fb-broken"))
        told = "".join(f"<li>{escape(line)}</li>" for line in self.model.changes())
        none = "<div>Nothing: all of it stands here already. The commits are kept in the history all the same.</div>"
        parts.append(html(f"<b>Changes:</b><ul>{told}</ul>" if told else none, "fb-summary"))
        if told:
            exact = {"before": exact_text, "after": exact_text}
            cells = cell_by_cell(seen.changes)
            table = picking_table(cells, "Before: as it is here. After: as it will be", None, exact)
            self._every.children[0].children = [table]
            parts.append(self._every)
        self._changes.children = [section("What bringing it back would change", *parts)]
        self._saving.layout.display = None

    # --- bringing back -----------------------------------------------------------------------------------------------
    def bring_back(self) -> None:
        """Merge the copy as it is shown."""
        self._sum_up.leave()
        self._take_choices()
        try:
            done = self.model.bring_back(self.by.value, self.why.value)
        except FibrebookError:  # told by whoever called; shown is what stands now
            if self.model.seen is not None:
                self._show()
                self.grid.missing()
            raise
        self.watch.refresh()
        self.why.value = ""
        self._show()
        told = "".join(f"<li>{escape(line)}</li>" for line in done.said)
        self._worth.value = f"<b>Worth a look in what came:</b><ul>{told}</ul>" if told else ""
        self.say(done.in_words(), "done")


class TakeAway(w.VBox):
    """Taking a copy away: which sites, to which folder, with or without personal data."""

    def __init__(self, screen: BringBack) -> None:
        self.screen = screen
        self.sites: list[str] = []
        self.site = SitePicker(screen.reg, "Sites to take, one after another: none = all")
        self.site.observe(lambda c: self._add(c["new"]), "value")
        self._list = w.VBox([])
        self.folder = _text("Folder to take it to: new or empty", "fb-away-folder")
        self.without = w.Checkbox(description="Leave contacts, addresses and access notes out", indent=False)
        self.without.add_class("fb-without")
        act = button("Take away", lambda: screen.guard(self.take), "fb-main", "fb-take-away")
        lies = html(f"<div class='fb-help'>A name without a path lies in {escape(str(Path.cwd()))}</div>")
        parts = [row(self.site), self._list, row(self.folder), lies, row(self.without), row(act), screen.said_here()]
        super().__init__(parts)
        self._show()

    def _add(self, site: str) -> None:
        if site:
            if site not in self.sites:
                self.sites.append(site)
            self.site.clear()
            self._show()

    def _drop(self, site: str) -> None:
        self.sites.remove(site)
        self._show()

    def _show(self) -> None:
        told = f"To take: {', '.join(self.sites)}" if self.sites else "To take: all sites"
        out = [button(f"Take out: {s}", partial(self._drop, s), "fb-take-out") for s in self.sites]
        self._list.children = [html(f"<div>{escape(told)}</div>", "fb-to-take"), row(*out)]

    def take(self) -> None:
        """Make the copy, and name it for the way back."""
        self.site.chosen_only()
        told = take_away(self.screen.reg, self.folder.value, self.sites, personal=not self.without.value)
        self.screen.folder.value, self.folder.value = self.folder.value, ""
        self.screen.say(told, "done")


def _text(title: str, name: str) -> Any:
    made = w.Text(description=title, style={"description_width": "auto"}, continuous_update=False)
    made.add_class(name)
    return made
