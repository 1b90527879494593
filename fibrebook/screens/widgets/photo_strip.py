"""Photos on a reading screen: small ones in a row, newest first; the one chosen whole below them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import traitlets as t

from fibrebook.errors import FibrebookError
from fibrebook.screens.widgets.photo_pictures import kept_photo
from fibrebook.screens.widgets.table import plain_text

if TYPE_CHECKING:
    from fibrebook.register import Register

HERE = Path(__file__).parent
FEW = 4  # shown at first
A_PAGE = 12  # more of them with each press
SMALL_SIDE, WHOLE_SIDE = 360, 2000  # pixels: sharp at 200 % zoom; labels can be read
UNREADABLE = "the file is there, but it is no picture that can be shown"


class PhotoStrip(anywidget.AnyWidget):
    """Shows rows of the table `photos`, in the order given.

    Attributes
    ----------
    photos : of each shown: caption, source (a data address, "" where there is none) and fault (in words)
    more : how many are not shown yet
    opened : position of the one shown whole, -1 none; whole : its caption, source and fault
    """

    _esm = HERE / "photo_strip.js"
    _css = HERE / "photo_strip.css"
    photos = t.List([]).tag(sync=True)
    more = t.Int(0).tag(sync=True)
    opened = t.Int(-1).tag(sync=True)
    whole = t.Dict({}).tag(sync=True)

    def __init__(self, reg: Register, rows: Sequence[Mapping[str, Any]]) -> None:
        super().__init__(more=len(rows))
        self._reg, self._rows = reg, list(rows)
        self.on_msg(self._asked)

    def _asked(self, _: Any, content: Any, __: Any) -> None:
        if content == "more":
            self.show_more()
        elif content == "shut":
            self.shut()
        elif isinstance(content, dict) and isinstance(content.get("open"), int):
            self.show_whole(content["open"])

    def show_more(self) -> None:
        """Show some more of them, a few to begin with."""
        shown = len(self.photos)
        now = self._rows[shown : shown + (A_PAGE if shown else FEW)]
        with self.hold_sync():
            self.photos = [*self.photos, *(self._picture(row, SMALL_SIDE) for row in now)]
            self.more = len(self._rows) - len(self.photos)

    def show_whole(self, at: int) -> None:
        """Show one whole."""
        if 0 <= at < len(self.photos):
            with self.hold_sync():
                self.whole, self.opened = self._picture(self._rows[at], WHOLE_SIDE), at

    def shut(self) -> None:
        """Show none whole."""
        with self.hold_sync():
            self.whole, self.opened = {}, -1

    def _picture(self, row: Mapping[str, Any], side: int) -> dict[str, str]:
        told = {"caption": caption(row), "source": "", "fault": ""}
        try:
            told["source"] = kept_photo(self._reg, row["file"], side)
        except FibrebookError as error:
            told["fault"] = str(error)
        else:
            told["fault"] = "" if told["source"] else UNREADABLE
        return told


def caption(row: Mapping[str, Any]) -> str:
    """Say what a photo shows: what and where, its label, the day and who took it."""
    what = ", ".join(filter(None, (plain_text(row.get(n)) for n in ("what", "where"))))
    taken = " ".join(filter(None, (plain_text(row.get(n)) for n in ("taken_on", "taken_by"))))
    return f"{what or 'no words to it'} (photo {plain_text(row['photo'])}{', ' + taken if taken else ', no date'})"
