"""Headroom: every channel, tightest first, what binds, which tests are missing; and what if it ran something else."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.analyses.budgets.headroom import headroom as headroom_rows
from fibrebook.analyses.budgets.what_if import what_if
from fibrebook.analyses.budgets.would_run import would_run
from fibrebook.drawings import headroom_bars
from fibrebook.losses.budget import falls_short
from fibrebook.screens.frame.in_view import InView
from fibrebook.screens.frame.screen import Screen, SitePicker, Table, html, row, section, table_html
from fibrebook.screens.owner import headroom_model as model
from fibrebook.screens.widgets.pictures import picture_html
from fibrebook.screens.widgets.row_picker import picking_table
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    from fibrebook.register import Register

BARS = 14
AS_RECORDED = "as recorded"
RUNS = (
    "application",
    "runs",
    "fibres",
    "strands",
    "headroom_db",
    "over_m",
    "binding",
    "loss_db",
    "loss_by_records_db",
    "loss_by_tests_db",
    "tests_binding",
    "limit_db",
    "length_m",
    "length_max_m",
    "adds",
)


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
        self.all_sites.on_click(lambda _: self.site.clear())
        # what stands there is never drawn anew, only what it shows changes: a click meant for a row finds it
        self._lead, self._bars = html("", "fb-lead"), html("", "fb-bars")
        self._table: Table | None = None
        self._channels, self._what_if, self._look = w.VBox([self._lead, self._bars]), w.VBox([]), InView()
        self._what_if.add_class("fb-what-if")
        self.chosen: tuple[str, str] | None = None
        self.application = w.Dropdown(
            description="Application",
            options=[AS_RECORDED, *PlantSnapshot.of(self.reg).values.applications()],
            style={"description_width": "initial"},
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
            widget.observe(lambda _: self._ask_again(), "value")
        self._verdict, self._losses = html("", "fb-verdict"), html("", "fb-if-table")
        self.body = [row(self.site, self.all_sites), self._look, self._what_if, self._channels]
        self.site.observe(lambda _: self._newer(0), ["value", "unmatched"])
        self.watch.subscribe(self._newer)
        if site:
            self.site.value = site
        else:
            self._newer(0)

    def turn_to(self, site: str, thing: tuple[Any, ...] = ()) -> None:
        """Show a site's channels; of ("channel", label) also what if."""
        super().turn_to(site)
        if thing[:1] == ("channel",) and (site, str(thing[1])) != self.chosen:
            self.choose(site, str(thing[1]))

    def _newer(self, commit: int) -> None:
        self.guard(self._show, self._nothing)
        if self.chosen is not None:
            self._ask_again()

    def _nothing(self) -> None:
        """Show nothing: what stood there belongs to another site."""
        self._lead.value = self._bars.value = ""
        if self._table is not None:
            self._table.show(self.frame.iloc[:0])
            self._table.picked = -1

    def _ask_again(self) -> None:
        self._verdict.value = self._losses.value = ""  # never one question's answer under another
        self.guard(self._answer)

    def _show(self) -> None:
        self.site.chosen_only()
        site = self.site.value or None
        self.frame = model.channels(self.reg, site)
        bars = headroom_bars(
            headroom_rows(self.reg, site), f"{site or 'All sites'}: loss against limit, tightest first", BARS
        )
        over = int(falls_short(self.frame["headroom_db"], self.frame["over_m"]).sum())
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
        self.moved(site, ("channel", channel))
        runs = w.Accordion([html("")], titles=["Every application on this path as it is"])
        runs.observe(lambda c: self._would_run(runs) if c["new"] == 0 else None, "selected_index")
        title = f"What if: channel {channel} at {site}"
        self._what_if.children = [
            section(title, row(self.application, self.splices, self.connections), self._verdict, self._losses, runs)
        ]
        self._ask_again()

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
        where.children[0].value = ""
        found = self.guard(lambda: would_run(self.reg, site, ("channel", channel)))
        if found is not None:
            where.children[0].value = table_html(found[[*RUNS]].round(2))
