"""A part of the screen of tests and faults: one question, shown when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as w

from fibrebook.register import Register


class Part(w.VBox):
    """One question. `show` works out its answer for a site; it is called when the part is in front and site or register
    are others than before.

    Attributes
    ----------
    name, title : as in the address; as people read it
    one_site : whether it can only be asked of one site
    """

    name, title, one_site = "", "", False

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        self.reg, self.guard = reg, guard
        self.seen: tuple[str, int] | None = None
        super().__init__([])
        self.add_class(f"fb-part-{self.name}")

    def look(self, site: str) -> None:
        """Show the answer for a site ("" = all), unless it stands there already."""
        now = (site, self.reg.commit)
        if now != self.seen:
            self.seen = None
            self.show(site)
            self.seen = now

    def show(self, site: str) -> None:
        """Work the answer out."""
        raise NotImplementedError
