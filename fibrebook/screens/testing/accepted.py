"""Did it pass: every loss test against the limit of its stretch, and what was never tested."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as w
import pandas as pd

from fibrebook.analyses.tested.acceptance import acceptance
from fibrebook.analyses.tested.untested import untested
from fibrebook.register import Register
from fibrebook.screens.frame.screen import Table, html, row
from fibrebook.screens.testing.part import Part

PAGE = 12
NOT_PASSED, ALL = "not passed", "all"
SHOWN = (
    "site", "test", "from", "to", "wavelength_nm", "direction", "loss_db", "limit_db", "margin_db", "verdict",
    "tested_on", "tested_by", "drift_db", "why",
)  # fmt: skip


def judged(reg: Register, site: str = "") -> pd.DataFrame:
    """Return every loss test with its verdict, the worst first: the columns of SHOWN."""
    found = acceptance(reg, site or None)
    for end in ("from", "to"):
        parts = [found[f"{end}_{c}"].fillna("").tolist() for c in ("at", "port", "position")]
        found[end] = ["/".join(filter(None, names)) for names in zip(*parts, strict=True)]
    cable = found["cable"].notna()
    found.loc[cable, "from"] = found.loc[cable, "cable"].astype(str) + " core " + found.loc[cable, "core"].astype(str)
    found = found.sort_values("margin_db", kind="stable", na_position="last")
    return found[[*SHOWN]].round({"loss_db": 2, "limit_db": 2, "margin_db": 2, "drift_db": 2}).reset_index(drop=True)


class Accepted(Part):
    """Tests that did not pass first; all on demand."""

    name, title = "accepted", "Did it pass?"

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self.which = w.Dropdown(description="Show", options=[NOT_PASSED, ALL], style={"description_width": "auto"})
        self.which.add_class("fb-which-tests")
        self.lead = html("", "fb-lead")
        self.tests: Table | None = None
        self.frame = pd.DataFrame(columns=[*SHOWN])
        self.which.observe(lambda _: self.guard(self._fill), "value")

    def show(self, site: str) -> None:
        """Show the tests of a site, or of all."""
        self.frame = judged(self.reg, site)
        counts = self.frame["verdict"].value_counts()
        told = ", ".join(f"{counts.get(v, 0)} {word}" for v, word in
                         (("pass", "pass"), ("marginal", "marginal"), ("fail", "fail")))  # fmt: skip
        self.lead.value = (
            f"<p><b>{len(self.frame)} loss tests: {escape(told)}.</b> Each against the limit of its own stretch; "
            "marginal: nearer to the limit than the uncertainty.</p>"
        )
        lacking = untested(self.reg, site or None)
        self._fill()
        assert self.tests is not None
        open_ones = Table(lacking, page_rows=PAGE, caption=f"In use and not tested as it is now: {len(lacking)}")
        open_ones.add_class("fb-untested")
        self.children = [self.lead, row(self.which), self.tests, open_ones]

    def _fill(self) -> None:
        bad = self.frame[self.frame["verdict"] != "pass"].reset_index(drop=True)
        frame = self.frame if self.which.value == ALL else bad
        if self.tests is None:
            self.tests = Table(frame, page_rows=PAGE, caption="Tests, the worst first")
            self.tests.add_class("fb-tests")
        else:
            self.tests.show(frame)

    def find(self, test: str) -> None:
        """Show one test alone."""
        self.which.value = ALL
        if self.tests is not None:
            self.tests.find = test
