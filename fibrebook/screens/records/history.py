"""History: who changed what at a site, the site as it was on a day, undo."""

from __future__ import annotations

import datetime as dt
from html import escape

import ipywidgets as w
import pandas as pd

from fibrebook.errors import InputError
from fibrebook.records.kinds.built_in import site_kinds
from fibrebook.records.values.to_columns import kind_of
from fibrebook.records.values.to_frame import to_frame
from fibrebook.register import Register
from fibrebook.register import open as open_register
from fibrebook.screens.frame.changes_told import cell_by_cell, in_words
from fibrebook.screens.frame.conflicts import Conflicts
from fibrebook.screens.frame.screen import Screen, SitePicker, Table, button, html, row, section
from fibrebook.screens.widgets.controls import dropdown
from fibrebook.screens.widgets.table import exact_text
from fibrebook.words.labels import natural

MANY = 4  # more sites than that are told by their number
PAGE = 12  # rows of a page: what stands below the table stays in sight
WHO = ("commit", "time_utc", "by", "why", "what", "sites", "changes")


def titles() -> dict[str, str]:
    """Return the kinds of record of a site: as they are read -> table."""
    return {k.name.replace("_", " ").capitalize(): k.name for k in site_kinds()}


def commits_at(reg: Register, site: str = "") -> pd.DataFrame:
    """Return the commits that touched a site ("" = all), newest first: who, when, why, how many changes."""
    log = reg.log().iloc[::-1]
    if site:
        log = log[[site in s.split(", ") for s in log["sites"]]]
    many = [s if s.count(",") < MANY else f"{s.count(',') + 1} sites" for s in log["sites"]]
    return log.assign(sites=many)[list(WHO)].reset_index(drop=True)


def changes_of(reg: Register, commit: int, site: str = "") -> pd.DataFrame:
    """Return what one commit changed (at a site), cell by cell: table, record, column, before, after, what."""
    return cell_by_cell(reg.differences(commit - 1, commit, site or None))


def as_it_was(reg: Register, day: dt.date, kind: str, site: str) -> pd.DataFrame:
    """Return the records of one kind as they were at the end of a day."""
    then = open_register(reg.where, at=day)
    if site and not then.has_site(site):
        return to_frame(kind_of(kind).empty(), kind_of(kind))
    return then.table(kind, site or None)


class History(Screen):
    """The screen; follows the register."""

    def __init__(self, reg: Register | None = None) -> None:
        super().__init__(reg, "History", name="history")
        self.site = SitePicker(self.reg, "Site: blank = all")
        self.commits = Table(
            commits_at(self.reg), page_rows=PAGE, caption="Who changed what, newest first", clickable=True
        )
        self.commits.observe(lambda _: self._picked(self.commits.picked), "picks")
        self.commits.add_class("fb-commits")
        self.chosen: int | None = None
        self.detail = w.VBox([])
        self.by = w.Text(description="Initials (needed)", style={"description_width": "auto"})
        self.by.add_class("fb-by")
        self.undoer = button("Undo this commit", lambda: self.guard(self.ask), "fb-undo")
        self.sure = w.VBox([])
        self.day = w.DatePicker(description="As it was at the end of", style={"description_width": "auto"})
        self.day.add_class("fb-day")
        self.kind = dropdown("Records", self._show_then, "then-kind", list(titles()))
        self.kind.value = "Cables"
        self.then = w.VBox([])
        self.conflicts = Conflicts(self, lambda: self._news(0))
        self.body = [
            self.conflicts,
            row(self.site),
            self.commits,
            self.detail,
            section("The site as it was on a day", row(self.day, self.kind), self.then),
        ]
        self.site.observe(lambda _: self._site_chosen(), ["value", "unmatched"])
        self.day.observe(lambda _: self._show_then(), "value")
        self.watch.subscribe(self._news)

    def _news(self, commit: int) -> None:
        self.guard(self._show_commits, self._no_commits)

    def _show_commits(self) -> None:
        self.site.chosen_only()
        self.commits.show(commits_at(self.reg, self.site.value))
        self.conflicts.look(self.conflicts.name)

    def _no_commits(self) -> None:
        """Show none: those that stood there are another site's."""
        self.commits.show(pd.DataFrame(columns=[*WHO]))

    def _site_chosen(self) -> None:
        self.chosen, self.detail.children = None, []
        self.commits.picked = -1
        self.say("")
        self._news(0)
        self._show_then()

    # --- one commit --------------------------------------------------------------------------------------------------
    def _picked(self, at: int) -> None:
        self.chosen, self.detail.children, self.sure.children = None, [], []
        self.guard(lambda: self._choose(at))

    def _choose(self, at: int) -> None:
        self.chosen = int(commits_at(self.reg, self.site.value)["commit"].iloc[at])
        self._show_commit()

    def _show_commit(self) -> None:
        assert self.chosen is not None
        found = changes_of(self.reg, self.chosen, self.site.value)
        exact = {"before": exact_text, "after": exact_text}
        table = Table(found, exact, PAGE, caption=f"Commit {self.chosen}, change by change")
        table.add_class("fb-changes")
        self.undoer.description = f"Undo commit {self.chosen}"
        self.detail.children = [row(self.by, self.undoer), self.sure, table]

    def ask(self) -> None:
        """Say what an undo would take back, and ask whether it is meant."""
        if self.chosen is None:
            raise InputError("no commit is chosen: choose one in the list")
        if not self.by.value.strip():
            raise InputError("who undoes it is not said: give your initials")
        self.say("")
        changes = self.reg.differences(self.chosen, self.chosen - 1)
        lines = "".join(f"<li>{escape(x)}</li>" for x in in_words(changes))
        why = w.Text(description="Why", value=f"undo of commit {self.chosen}", style={"description_width": "auto"})
        why.add_class("fb-why")
        self.sure.children = [
            html(
                f"<div class='fb-message'>Undoing commit {self.chosen} is a new commit; nothing is lost. It makes:"
                f"<ul>{lines}</ul>What others changed since stays.</div>"
            ),
            row(
                why,
                button(
                    f"Yes, undo commit {self.chosen}",
                    lambda: self.guard(lambda: self.undo(why.value)),
                    "fb-main",
                    "fb-sure",
                ),
                button("No", lambda: setattr(self.sure, "children", []), "fb-no"),
            ),
        ]

    def undo(self, why: str) -> None:
        """Take the chosen commit back by a new one; a later commit in the way is named in words."""
        assert self.chosen is not None
        self.sure.children = []
        number = self.reg.undo(self.chosen, self.by.value, why)
        self.watch.refresh()
        self.say(f"commit {self.chosen} is undone by commit {number}", "done")

    # --- the site on a day -------------------------------------------------------------------------------------------
    def _show_then(self) -> None:
        if not hasattr(self, "then") or self.day.value is None:
            return
        self.then.children = []
        self.guard(self._fill_then)

    def _fill_then(self) -> None:
        self.site.chosen_only()
        kind = titles()[self.kind.value]
        frame = as_it_was(self.reg, self.day.value, kind, self.site.value)
        names = [k for k in kind_of(kind).key if k in frame.columns]
        order = sorted(range(len(frame)), key=lambda i: [natural(str(frame[n].iloc[i] or "")) for n in names])
        where = self.site.value or "all sites"
        title = f"{self.kind.value} of {where} at the end of {self.day.value}"
        table = Table(frame.iloc[order].reset_index(drop=True), page_rows=PAGE, caption=title)
        table.add_class("fb-then")
        self.then.children = [table]


def history(reg: Register | None = None) -> History:
    """Show the screen of who changed what; `reg` None = the register that `which_register` finds."""
    return History(reg)
