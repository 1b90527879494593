"""Would a faster application run: every application tried on a channel's path, or on spare cores."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

from fibrebook.analyses.budgets.would_run import would_run
from fibrebook.errors import InputError
from fibrebook.register import Register
from fibrebook.screens.frame.screen import Picker, button, html, row, table_html
from fibrebook.screens.testing.part import Part
from fibrebook.snapshot.find import Finder, Start, start_of
from fibrebook.snapshot.snapshot import PlantSnapshot

KINDS = ("channel", "core", "port", "interface")
TOLD = ("application", "runs", "headroom_db", "binding", "loss_db", "limit_db", "length_m", "length_max_m",
        "attenuator_db", "adds")  # fmt: skip


class Faster(Part):
    """Choose a channel, or one or two cores; what would run stands below."""

    name, title, one_site = "faster", "Would a faster application run?", True

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self._site = ""
        self._finder: Finder | None = None
        self.first = Picker("On: a channel, core or port", placeholder="CH3, or M1/11", searching=True)
        self.second = Picker("And the pair's other core, where it is spare", placeholder="M1/12", searching=True)
        for picker, name in ((self.first, "fb-runs-on"), (self.second, "fb-runs-on-too")):
            picker.add_class(name)
            picker.observe(lambda c, p=picker: self._searched(p, c["new"]), "query")
        self.answer = html("", "fb-would-run")
        go = button("What would run?", lambda: self.guard(self.ask, self._nothing), "fb-main", "fb-try")
        self.children = [row(self.first, self.second, go), self.answer]

    def show(self, site: str) -> None:
        """Offer what is at the site."""
        if site != self._site:
            self.first.clear()
            self.second.clear()
            self.answer.value = ""
        self._site, self._finder = site, None

    def _nothing(self) -> None:
        self.answer.value = ""

    def _searched(self, picker: Picker, typed: str) -> None:
        if not self._site:
            return
        if self._finder is None:
            self._finder = Finder(PlantSnapshot.of(self.reg, self._site))
        hits = [hit for hit in self._finder.find(typed, 400) if hit.kind in KINDS][:40]
        with picker.hold_sync():
            picker.offer((h.value, h.shown, h.hint) for h in hits)
            picker.answered = typed

    def ask(self) -> None:
        """Try every application."""
        for picker in (self.first, self.second):
            picker.chosen_only()
        if not self.first.value:
            raise InputError("nothing is chosen: choose a channel, a core or a port")
        other: Start | None = start_of(self.second.value) if self.second.value else None
        found = would_run(self.reg, self._site, start_of(self.first.value), other)
        runs = found.loc[found["runs"].isin(["yes", "with an attenuator"]), "application"].tolist()
        told = f"{len(runs)} of {len(found)} would run: {', '.join(runs)}." if runs else "None that is known would run."
        self.answer.value = (
            f"<p role='status'><b>{escape(told)}</b> Nothing is stored.</p>{table_html(found[[*TOLD]].round(2))}"
        )
