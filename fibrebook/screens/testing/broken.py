"""Where is it broken: a distance read on an instrument, from either end, to a place on the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as w
import pandas as pd

from fibrebook.analyses.paths.trace import trace
from fibrebook.analyses.tested.locate import locate
from fibrebook.drawings import path_picture
from fibrebook.errors import InputError
from fibrebook.register import Register
from fibrebook.screens.frame.screen import Picker, button, html, row, table_html
from fibrebook.screens.testing.part import Part
from fibrebook.screens.widgets.pictures import picture_html
from fibrebook.snapshot.find import Finder, start_of
from fibrebook.snapshot.snapshot import PlantSnapshot

KINDS = ("port", "core")
TOLD = ("kind", "at", "name", "from_enclosure", "along_m", "nearest_enclosure", "nearest_m", "error_m", "route")


def with_place(path: pd.DataFrame, place: Mapping[Any, Any]) -> pd.DataFrame:
    """Return a path with a column `here`: how far along its element the place lies, 0 to 1; nowhere else a figure.

    Parameters
    ----------
    path : as `trace` gives it; place : the first row of `locate`
    """
    here: list[float | None] = [None] * len(path)
    for i, (kind, at, name) in enumerate(zip(path["kind"], path["at"], path["name"], strict=True)):
        if (kind, str(at)) != (place["kind"], str(place["at"])) or str(name) not in (str(place["name"]), "", "None"):
            continue
        length = path["length_m"].iloc[i]
        share = min(1.0, place["along_m"] / length) if length and length == length else 0.5
        after = path["at"].iloc[i + 1] if i + 1 < len(path) else None
        before = path["at"].iloc[i - 1] if i else None
        backwards = after == place["from_enclosure"] and before != place["from_enclosure"]
        here[i] = 1 - share if backwards else share
    return path.assign(here=pd.Series(here, index=path.index, dtype="float64"))


class Broken(Part):
    """Choose where the light went in, type the distance, see the place on the picture of the way."""

    name, title, one_site = "broken", "Where is it broken?", True

    def __init__(self, reg: Register, guard: Callable[..., Any]) -> None:
        super().__init__(reg, guard)
        self._site = ""
        self._finder: Finder | None = None
        self.start = Picker("Light went in at: a port, or a core", placeholder="P1/4/A, or C1/7", searching=True)
        self.start.add_class("fb-shot-from")
        self.end = w.Dropdown(description="A bare core's end", options=["A", "B"], style={"description_width": "auto"})
        self.distance, self.launch = (
            w.FloatText(description=words, value=0.0, style={"description_width": "auto"})
            for words in ("Distance read (m)", "Launch cord (m)")
        )
        self.distance.add_class("fb-distance")
        self.launch.add_class("fb-launch")
        self.answer = html("", "fb-place")
        self.children = [
            row(self.start, self.end, self.distance, self.launch,
                button("Where is that?", lambda: self.guard(self.ask, self._nothing), "fb-main", "fb-locate")),
            self.answer,
        ]  # fmt: skip
        self.start.observe(lambda c: self._searched(c["new"]), "query")

    def show(self, site: str) -> None:
        """Offer what is at the site."""
        if site != self._site:
            self.start.clear()
            self.answer.value = ""
        self._site, self._finder = site, None
        self._searched(self.start.query)

    def _nothing(self) -> None:
        self.answer.value = ""

    def _searched(self, typed: str) -> None:
        if not self._site:
            return
        if self._finder is None:
            self._finder = Finder(PlantSnapshot.of(self.reg, self._site))
        hits = [hit for hit in self._finder.find(typed, 400) if hit.kind in KINDS][:40]
        with self.start.hold_sync():
            self.start.offer((h.value, h.shown, h.hint) for h in hits)
            self.start.answered = typed

    def ask(self) -> None:
        """Name the place, and draw the way with the place on it."""
        self.start.chosen_only()
        if not self.start.value:
            raise InputError("it is not said where the light went in: choose a port, or a core whose end is bare")
        start = start_of(self.start.value)
        shot = (*start, self.end.value) if start[0] == "core" else start
        found = locate(self.reg, self._site, shot, self.distance.value, launch_m=self.launch.value)
        place = found.iloc[0].to_dict()
        picture = path_picture(
            with_place(trace(self.reg, self._site, start), place),
            f"{self.distance.value:g} m from {'/'.join(str(x) for x in start[1:] if x != '')}",
        )
        self.answer.value = (
            f"<p role='status'><b>{escape(_words(place))}</b></p>"
            f"{picture_html(picture)}{table_html(found[[*TOLD]].round(1), 'The likeliest first')}"
        )


def _words(place: Mapping[Any, Any]) -> str:
    what = f"{place['kind']} {place['at']}{'/' + str(place['name']) if place['name'] else ''}"
    if place["kind"] == "beyond the end":
        return f"That is beyond the end of what is recorded, by {place['off_m']:.0f} m."
    near = ""
    if place["nearest_enclosure"]:
        near = f"; the nearest enclosure is {place['nearest_enclosure']}, {place['nearest_m']:.0f} m of cable away"
    return (
        f"In {what}, {place['along_m']:.0f} m from {place['from_enclosure'] or 'its end'}, "
        f"give or take {place['error_m']:.0f} m{near}."
    )
