"""The browser's address bar, seen from Python: what it says, and what it is to say."""

from __future__ import annotations

from pathlib import Path

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
    asked = t.Unicode("").tag(sync=True)
    asks = t.Int(0).tag(sync=True)
    shown = t.Unicode("").tag(sync=True)
    title = t.Unicode("").tag(sync=True)
