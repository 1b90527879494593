"""The find box: one line to type in, and below it what was found, grouped, with why; or in words that nothing was."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets as t

HERE = Path(__file__).parent


class FindBox(anywidget.AnyWidget):
    """A box with results below; Enter or a click goes to one.

    Attributes
    ----------
    query : what is typed; answered : the query that `found` answers, so that Enter waits for the answer to all letters
    found : groups, each {"title", "items": [{"label", "hint", "link"}]}
    words : what is said where nothing was found, or beside what was
    went : the link that was chosen; goes : rises with every choice
    """

    _esm = HERE / "find_box.js"
    _css = HERE / "find_box.css"
    label = t.Unicode("").tag(sync=True)
    placeholder = t.Unicode("").tag(sync=True)
    query = t.Unicode("").tag(sync=True)
    answered = t.Unicode("").tag(sync=True)
    found = t.List([]).tag(sync=True)
    words = t.Unicode("").tag(sync=True)
    went = t.Unicode("").tag(sync=True)
    goes = t.Int(0).tag(sync=True)
