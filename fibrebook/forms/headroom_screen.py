"""Headroom: every channel, tightest first, what binds, which tests are missing; and what if it ran something else."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as w

from fibrebook.analyses.headroom import headroom as headroom_rows
from fibrebook.analyses.what_if import what_if
from fibrebook.analyses.would_run import would_run
from fibrebook.drawings import headroom_bars
from fibrebook.forms import headroom_model as model
from fibrebook.forms.base import Screen, SitePicker, Table, html, row, section, table_html
from fibrebook.forms.in_view import InView
from fibrebook.forms.picking import picking_table
from fibrebook.forms.pictures import picture_html
from fibrebook.light.catalogue import applications

if TYPE_CHECKING:
    from fibrebook.register import Register

BARS = 14
AS_RECORDED = "as recorded"
RUNS = ("application", "runs", "headroom_db", "binding", "loss_db", "limit_db", "length_m", "length_max_m", "adds")


def headroom(reg: Register | None = None, site: str = "") -> Headroom:
    """Show the headroom of all channels of a register (default: the one of `which_register`)."""
    return Headroom(reg, site)


class Headroom(Screen):
    """The screen; leave the site blank for all."""

    def __init__(self, reg: Register | None = None, site: str = "") -> None:
        caution = "A figure here is worked out from records. Before you add a joint where little is left, measure."
        super().__init__(reg, "Headroom", caution=caution, name="headroom")
        self.site = SitePicker(self.reg)
        self.all_sites = w.Button(description="All sites")
        self.all_sites.add_class("fb-all-sites")
        self.all_sites.on_click(lambda _: setattr(self.site, "value", ""))
        # what stands there is never drawn anew, only what it shows changes: a click meant for a row finds it
        self._lead, self._bars = html("", "fb-lead"), html("", "fb-bars")
        self._table: Table | None = None
        self._channels, self._what_if, self._look = w.VBox([self._lead, self._bars]), w.VBox([]), InView()
        self._what_if.add_class("fb-what-if")
        self.chosen: tuple[str, str] | None = None
        self.application = w.Dropdown(
            description="Application", options=[AS_RECORDED, *applications()], style={"description_width": "initial"}
        )
        self.splices, self.connections = (
            w.BoundedIntText(description=f"More {what}", min=0, max=100, style={"description_width": "initial"})
            for what in ("splices", "connections")
        )
        for widget, name in (
            (self.application, "fb-if-application"),
            (self.splices, "fb-if-splices"),
            (self.connections, "fb-if-connections"),
        ):
            widget.add_class(name)
            widget.observe(lambda _: self.guard(self._answer), "value")
        self._verdict, self._losses = html("", "fb-verdict"), html("", "fb-if-table")
        self.body = [row(self.site, self.all_sites), self._look, self._what_if, self._channels]
        self.site.observe(lambda _: self._newer(self.reg.commit), "value")
        self.watch.subscribe(self._newer)
        if site:
            self.site.value = site
        else:
            self._newer(self.reg.commit)

    def _newer(self, commit: int) -> None:
        self.guard(self._show)
        if self.chosen is not None:
            self.guard(self._answer)

    def _show(self) -> None:
        site = self.site.value or None
        self.frame = model.channels(self.reg, site)
        bars = headroom_bars(
            headroom_rows(self.reg, site), f"{site or 'All sites'}: loss against limit, tightest first", BARS
        )
        over = int((self.frame["headroom_db"] < 0).sum())
        none = int(self.frame["headroom_db"].isna().sum())
        missing = int((self.frame["missing_tests"] != "").sum())
        told = (
            f"{len(self.frame)} channels: {over} over the limit, {none} without a figure, {missing} with tests missing."
        )
        self._lead.value, self._bars.value = f"<p><b>{escape(told)}</b></p>", picture_html(bars)
        if self._table is None:
            self._table = picking_table(self.frame, "Choose a channel to ask what if", self._picked)
            self._table.add_class("fb-channels")
            self._channels.children = [self._lead, self._bars, self._table]
        else:
            self._table.show(self.frame)
        self._mark()

    def _mark(self) -> None:
        """Mark the row of the channel chosen, wherever it stands by now."""
        pairs = list(zip(self.frame["site"], self.frame["channel"], strict=True))
        if self._table is not None:
            self._table.picked = pairs.index(self.chosen) if self.chosen in pairs else -1

    def _picked(self, i: int) -> None:
        self.choose(self.frame["site"].iloc[i], self.frame["channel"].iloc[i])
        self._look.call()

    def choose(self, site: str, channel: str) -> None:
        """Ask what if of one channel."""
        self.chosen = None  # set back without answering three times
        self.application.value, self.splices.value, self.connections.value = AS_RECORDED, 0, 0
        self.chosen = (site, channel)
        self._mark()
        runs = w.Accordion([html("")], titles=["Every application on this path as it is"])
        runs.observe(lambda c: self._would_run(runs) if c["new"] == 0 else None, "selected_index")
        title = f"What if: channel {channel} at {site}"
        self._what_if.children = [
            section(title, row(self.application, self.splices, self.connections), self._verdict, self._losses, runs)
        ]
        self.guard(self._answer)

    def _answer(self) -> None:
        if self.chosen is None:
            return
        application = None if self.application.value == AS_RECORDED else self.application.value
        frame = what_if(self.reg, *self.chosen, application, self.splices.value, self.connections.value)
        self.say("")
        told = (
            model.verdict({str(k): v for k, v in frame.iloc[0].items()})
            if len(frame)
            else "No interface sends on this channel: record its Tx rows."
        )
        self._verdict.value = f"<p role='status' aria-live='polite'><b>{escape(told)}</b> Nothing is stored.</p>"
        shown = frame.drop(columns=["site", "channel"]).dropna(axis=1, how="all").round(2)
        self._losses.value = table_html(shown) if len(frame) else ""

    def _would_run(self, where: w.Accordion) -> None:
        if self.chosen is None:
            return
        site, channel = self.chosen
        found = self.guard(lambda: would_run(self.reg, site, ("channel", channel)))
        if found is not None:
            where.children[0].value = table_html(found[[*RUNS]].round(2))
