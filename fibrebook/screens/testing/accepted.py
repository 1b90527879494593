"""Did it pass: every loss test against the limit of its stretch, and what was never tested."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as w
import pandas as pd

from fibrebook.analyses.tested.acceptance import acceptance, verdict_in_words
from fibrebook.analyses.tested.failed import failed_tests
from fibrebook.analyses.tested.untested import untested
from fibrebook.register import Register
from fibrebook.screens.frame.screen import Table, html, row
from fibrebook.screens.testing.part import Part

PAGE = 12
NOT_PASSED, ALL = "not passed", "all"
SHOWN = (
    "site",
    "test",
    "from",
    "to",
    "wavelength_nm",
    "direction",
    "loss_db",
    "limit_db",
    "margin_db",
    "verdict",
    "tested_on",
    "tested_by",
    "drift_db",
    "why",
    "edition",
    "known_from",
)
NOT_BELOW = (
    "<p>Test {test} is not among those below: it is no loss test and did not fail, or a later test of the same part "
    "passed, or it stands at another site.</p>"
)
OTHERS = ("site", "test", "method", "from", "to", "wavelength_nm", "direction", "tested_on", "tested_by", "why")


def judged(reg: Register, site: str = "") -> pd.DataFrame:
    """Return every loss test with its verdict, the worst first: the columns of SHOWN, and side."""
    found = with_ends(acceptance(reg, site or None))
    found = found.sort_values("margin_db", kind="stable", na_position="last")
    return (
        found[[*SHOWN, "side"]]
        .round({"loss_db": 2, "limit_db": 2, "margin_db": 2, "drift_db": 2})
        .reset_index(drop=True)
    )


def failed_otherwise(reg: Register, site: str = "") -> pd.DataFrame:
    """Return the tests of other methods that failed, and none since: the columns of OTHERS."""
    found = failed_tests(reg, site or None)
    return with_ends(found[found["method"] != "loss test"])[[*OTHERS]].reset_index(drop=True)


def with_ends(tests: pd.DataFrame) -> pd.DataFrame:
    """Return tests with columns from and to: the ports in words, or cable and core."""
    out = tests.copy()
    for end in ("from", "to"):
        parts = [out[f"{end}_{c}"].fillna("").tolist() for c in ("at", "port", "position")]
        out[end] = ["/".join(filter(None, names)) for names in zip(*parts, strict=True)]
    by_core = out["cable"].notna() & (out["from"] == "")
    out.loc[by_core, "from"] = out.loc[by_core, "cable"].astype(str) + " core " + out.loc[by_core, "core"].astype(str)
    return out


class Accepted(Part):
    """Tests that did not pass first; all on demand."""

    name, title = "accepted", "Did it pass?"

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self.which = w.Dropdown(description="Show", options=[NOT_PASSED, ALL], style={"description_width": "auto"})
        self.which.add_class("fb-which-tests")
        self.lead = html("", "fb-lead")
        self.sought = html("", "fb-sought-test")
        self.tests: Table | None = None
        self.failed: Table | None = None
        self.frame = pd.DataFrame(columns=[*SHOWN, "side"])
        self.others = pd.DataFrame(columns=[*OTHERS])
        self.which.observe(lambda _: self.guard(self._fill), "value")

    def show(self, site: str) -> None:
        """Show the tests of a site, or of all."""
        self.sought.value = ""
        self.frame = judged(self.reg, site)
        counts = self.frame["verdict"].value_counts()
        told = ", ".join(f"{counts.get(v, 0)} {v}" for v in ("pass", "marginal", "fail"))
        edition = next(iter(self.frame["edition"]), "")
        self.others = others = failed_otherwise(self.reg, site)
        self.lead.value = (
            f"<p><b>{len(self.frame)} loss tests: {escape(told)}.</b> Each against the limit of its own stretch"
            f"{f' by {escape(edition)}' if edition else ''}; marginal: nearer to the limit than the uncertainty.</p>"
        )
        if len(others):
            self.lead.value += f"<p><b>{len(others)} other tests failed, and none since.</b> They stand below.</p>"
        self.frame["verdict"] = [*map(verdict_in_words, self.frame["verdict"], self.frame["side"])]
        lacking = untested(self.reg, site or None)
        self._fill()
        assert self.tests is not None
        open_ones = Table(lacking, page_rows=PAGE, caption=f"In use and not tested as it is now: {len(lacking)}")
        open_ones.add_class("fb-untested")
        self.children = [self.lead, self.sought, row(self.which), self.tests, open_ones]
        if self.failed is None:
            self.failed = Table(others, page_rows=PAGE, caption="Other tests that failed, and none since")
            self.failed.add_class("fb-failed-otherwise")
        else:
            self.failed.show(others)
        if len(others):
            self.children = [*self.children[:4], self.failed, open_ones]

    def _fill(self) -> None:
        bad = self.frame[self.frame["verdict"] != "pass"].reset_index(drop=True)
        frame = (self.frame if self.which.value == ALL else bad)[[*SHOWN]]
        if self.tests is None:
            self.tests = Table(frame, page_rows=PAGE, caption="Tests, the worst first")
            self.tests.add_class("fb-tests")
        else:
            self.tests.show(frame)

    def find(self, test: str) -> None:
        """Show one test alone in the table it stands in; say so where it stands in none."""
        if self.tests is None or self.failed is None:
            return  # what stands in the way was told
        judged_too, failed_too = (test in set(frame["test"]) for frame in (self.frame, self.others))
        self.which.value = ALL
        self.tests.find = test if judged_too else ""
        self.failed.find = test if failed_too else ""
        self.sought.value = "" if judged_too or failed_too else NOT_BELOW.format(test=escape(test))
