"""A screen's own side in the page: keys stay inside it; what is done on it reaches one thread, in order.

It also tells each side whether the other is there: the page is heard of every second, and answered. A page that gets no
answer says so over the screen and lets nothing be pressed, for a screen whose kernel is gone saves nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t


class PageSide(anywidget.AnyWidget):
    """Shows nothing as long as all is well.

    `drawn` is called each time the screen appears in a page, in the loop that hears its messages; `here` each second
    that the page is there, and `leaving` when it is about to go.

    Attributes
    ----------
    kept : until when what is typed is kept on this machine, in words; "" where there is nothing to keep
    """

    _esm = Path(__file__).parent / "page_side.js"
    kept = t.Unicode("").tag(sync=True)

    def __init__(
        self,
        drawn: Callable[[], Any],
        here: Callable[[], Any] = lambda: None,
        leaving: Callable[[], Any] = lambda: None,
    ) -> None:
        super().__init__()
        self._heard = {"drawn": drawn, "here": here, "leaving": leaving}
        self.on_msg(lambda _, content, __: self._heard_from_page(content))

    def _heard_from_page(self, content: Any) -> None:
        if content == "here":
            self.send("here")  # before anything that may take a while
        if isinstance(content, str) and content in self._heard:
            self._heard[content]()

    def __repr__(self) -> str:
        return "PageSide()"  # a screen's own text, kept in notebooks, names its parts: without places in memory
