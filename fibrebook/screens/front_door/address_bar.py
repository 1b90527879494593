"""The browser's address bar, seen from Python: what it says, and what it is to say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anywidget
import traitlets as t


class AddressBar(anywidget.AnyWidget):
    """Shows nothing. In a notebook's cell it leaves the address alone and only follows the page's own links.

    Attributes
    ----------
    asked, asks : the address that somebody went to (typed, Back, a link); rises each time, also for the same address
    shown : the address of what is shown; one that differs from the address bar's becomes a step that Back takes back
    title : what the browser's tab says
    """

    _esm = Path(__file__).with_name("address_bar.js")
    asked = t.Unicode("")
    asks = t.Int(0)
    shown = t.Unicode("").tag(sync=True)
    title = t.Unicode("").tag(sync=True)

    def __init__(self) -> None:
        super().__init__()
        self._heard_last = ""
        self.on_msg(lambda _, content, __: self._asked_by_page(content))

    def _asked_by_page(self, content: Any) -> None:
        ask, address = (content.get(key) for key in ("ask", "address")) if isinstance(content, dict) else ("", "")
        if not (ask and isinstance(ask, str) and isinstance(address, str)):
            return
        try:
            if ask != self._heard_last:  # the page asks again until it hears that it has gone there
                self._heard_last, self.asked = ask, address
                self.asks += 1
        finally:
            self.send({"gone": ask})
