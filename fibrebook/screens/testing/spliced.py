"""How well do we splice: by engineer, splicer, month or cable, and the chart of one of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as w
import pandas as pd

from fibrebook.analyses.tested.splice_quality import splice_chart, splice_quality
from fibrebook.drawings import control_chart
from fibrebook.register import Register
from fibrebook.screens.frame.screen import Table, html, row
from fibrebook.screens.testing.part import Part
from fibrebook.screens.widgets.pictures import picture_html

BY = ("engineer", "splicer", "month", "cable")
TOLD = ("group", "basis", "splices", "without_loss", "mean_db", "median_db", "point_95_db", "most_db", "over",
        "outside", "gainers")  # fmt: skip


class Spliced(Part):
    """A table of groups; choosing one draws its splices in the order of making."""

    name, title = "splices", "How well do we splice?"

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self.by = w.Dropdown(description="By", options=list(BY), style={"description_width": "auto"})
        self.by.add_class("fb-splices-by")
        self.chart = html("", "fb-splice-chart")
        self.groups: Table | None = None
        self.frame = pd.DataFrame()
        self._site = ""
        self.by.observe(lambda _: self.guard(self._fill), "value")

    def show(self, site: str) -> None:
        """Show the groups of a site, or of all."""
        self._site = site
        self._fill()

    def _fill(self) -> None:
        self.chart.value = ""
        self.frame = splice_quality(self.reg, self.by.value, self._site or None)[[*TOLD]].round(3)
        if self.groups is None:
            self.groups = Table(self.frame, page_rows=12, caption="Choose one for its chart", clickable=True)
            self.groups.add_class("fb-splice-groups")
            self.groups.observe(lambda _: self.guard(self._draw), "picks")
            self.children = [row(self.by), self.groups, self.chart]
        else:
            self.groups.picked = -1
            self.groups.show(self.frame)
        if len(self.frame):
            self.groups.picked = 0
            self._draw()

    def _draw(self) -> None:
        assert self.groups is not None
        group, basis = self.frame[["group", "basis"]].iloc[self.groups.picked]
        found = splice_chart(self.reg, self.by.value, group, self._site or None)
        where = self._site or "all sites"
        drawn = control_chart(found[found["basis"] == basis], f"{group}, {basis}, at {where}, in the order of making")
        self.chart.value = picture_html(drawn)
