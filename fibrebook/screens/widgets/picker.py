"""A box to choose one of many by typing a letter or two; works by keyboard alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

from fibrebook.errors import InputError

HERE = Path(__file__).parent
Option = str | Sequence[str]


class Picker(anywidget.AnyWidget):
    """Choose one of `options`: type, arrows and Enter, or click.

    Attributes
    ----------
    options : [value, text shown, hint shown beside it] each; plain texts may be given to the constructor
    value : the value chosen, "" = none; observe it
    query : what is typed at the moment; with `searching` the options are the answer to it, given by Python
    unmatched : what was typed and left standing although it is none of the options; "" = nothing of the sort. It stays
        to be seen, is said to match nothing, and `chosen_only` refuses to go on with it
    answered : the query that the options answer: Enter waits for it, so that no older list is chosen from
    free : any other text may be taken as value too
    """

    _esm = HERE / "picker.js"
    _css = HERE / "picker.css"
    label = t.Unicode("").tag(sync=True)
    placeholder = t.Unicode("").tag(sync=True)
    options = t.List([]).tag(sync=True)
    value = t.Unicode("").tag(sync=True)
    query = t.Unicode("").tag(sync=True)
    unmatched = t.Unicode("").tag(sync=True)
    answered = t.Unicode("").tag(sync=True)
    searching = t.Bool(False).tag(sync=True)
    free = t.Bool(False).tag(sync=True)
    disabled = t.Bool(False).tag(sync=True)

    def __init__(self, label: str, options: Iterable[Option] = (), **more: Any) -> None:
        super().__init__(label=label, options=[_option(o) for o in options], **more)
        self.observe(self._set, "value")

    def _set(self, change: Any) -> None:
        if change["new"]:
            self.unmatched = ""

    def clear(self) -> None:
        """Choose nothing, and forget what is typed."""
        with self.hold_sync():
            self.value = self.query = self.unmatched = ""

    def chosen_only(self) -> None:
        """Raise InputError where something is typed that is none of the options."""
        if self.unmatched:
            name = self.label.partition(":")[0]
            raise InputError(f"{name}: nothing matches {self.unmatched!r}; choose from the list, or clear the box")

    def offer(self, options: Iterable[Option]) -> None:
        """Give other options; a value that is not among them stays until it is changed."""
        found = [_option(o) for o in options]
        if found != self.options:
            self.options = found


def chosen_only(*pickers: Picker) -> None:
    """Raise InputError where something is typed into one of them that is none of its options."""
    for picker in pickers:
        picker.chosen_only()


def _option(option: Option) -> list[str]:
    if isinstance(option, str):
        return [option, option, ""]
    value, text, *hint = [str(part) for part in option]
    return [value, text, hint[0] if hint else ""]
