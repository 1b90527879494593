"""The site as a schematic: click a cable, an enclosure or equipment and read what is known of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import ipywidgets as w
import traitlets as t

from fibrebook.analyses.spare.site_schematic import site_cables, site_places
from fibrebook.drawings import Picture, site_schematic
from fibrebook.screens.frame.screen import EYES, Screen, SitePicker, row
from fibrebook.screens.returning.screen import ReturnVisit

if TYPE_CHECKING:
    from fibrebook.register import Register

HERE = Path(__file__).parents[1] / "widgets"


class Schematic(anywidget.AnyWidget):
    """A picture whose marked parts can be clicked.

    Attributes
    ----------
    svg, label : the picture and what it shows, in a few words
    picked : [kind, label] of the part clicked; picks : rises with every click
    full : shown with large letters instead of fitted to the page (which never makes them smaller than can be read)
    stand : which register it was drawn from, and when; stands under a printed picture
    """

    _esm = HERE / "schematic.js"
    _css = HERE / "schematic.css"
    svg = t.Unicode("").tag(sync=True)
    label = t.Unicode("").tag(sync=True)
    picked = t.List(["", ""]).tag(sync=True)
    picks = t.Int(0).tag(sync=True)
    full = t.Bool(False).tag(sync=True)
    stand = t.Unicode("").tag(sync=True)


def picture_of(reg: Register, site: str) -> Picture:
    """Return the schematic of a site, drawn from the records."""
    return site_schematic(site_places(reg, site), site_cables(reg, site), f"{site}: buildings and cables")


def site_picture(reg: Register | None = None, site: str = "") -> SitePicture:
    """Show the schematic of a site of a register (default: the one of `which_register`)."""
    return SitePicture(reg, site)


class SitePicture(Screen):
    """The screen: the picture, and below it what the return visit tells of the part clicked."""

    def __init__(self, reg: Register | None = None, site: str = "") -> None:
        super().__init__(reg, "Site picture", caution=EYES, name="site-picture")
        self.site = SitePicker(self.reg)
        self.picture = Schematic()
        self.visit = ReturnVisit(self.reg)
        self._below, self._drawn_at = w.VBox([]), self.reg.commit
        self.body = [row(self.site), self._below]
        self.site.observe(lambda _: self.guard(self._show, self._nothing), "value")
        self.picture.observe(lambda _: self._picked(), "picks")
        self.watch.subscribe(self._newer)
        if site:
            self.site.value = site

    def _show(self) -> None:
        self.say("")
        site = self.site.value
        if not site:
            self._below.children = []
            return
        drawn = picture_of(self.reg, site)
        self._drawn_at = self.reg.commit
        with self.picture.hold_sync():
            self.picture.svg, self.picture.label, self.picture.picked = drawn.svg, drawn.told[:300], ["", ""]
            self.picture.stand = f"{self.reg.name or 'Register'}, commit {self.reg.commit}"
        self.visit.site.value = site
        self._below.children = [self.picture, self.visit.look, self.visit.answer]
        if self.visit.said:  # its own message stands nowhere here
            self.say(self.visit.said, "wrong")

    def _nothing(self) -> None:
        """Show nothing: what stood there belongs to another site."""
        self._below.children = []
        self.visit.site.clear()

    def _picked(self) -> None:
        kind, label = self.picture.picked
        if kind:
            self.guard(lambda: self._ask((kind, label)))

    def _ask(self, start: tuple[Any, ...]) -> None:
        self.visit.ask(start)
        if self.visit.said:
            self.say(self.visit.said, "wrong")
        self.visit.look.call()

    def _newer(self, commit: int) -> None:
        """Another commit came: the same picture as it is now, where anything of this site is another."""
        self.guard(self._as_now)

    def _as_now(self) -> None:
        site = self.site.value
        if not site or not len(self.reg.differences(self._drawn_at, site=site)):
            return
        picked = list(self.picture.picked)
        self._show()
        self.picture.picked = picked
