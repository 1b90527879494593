"""The return visit: pick the site, ask for anything at it, see the whole path, the open panel, and what goes dark."""

from __future__ import annotations

import json
from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.drawings import panel_picture, path_picture, tray_picture
from fibrebook.errors import NotFoundError
from fibrebook.forms.base import (
    EYES,
    Picker,
    Screen,
    SitePicker,
    html,
    row,
    section,
    swatch,
    table_html,
    words_of,
)
from fibrebook.forms.finder import Start, start_of
from fibrebook.forms.picking import picking_table
from fibrebook.forms.pictures import picture_html, picture_view
from fibrebook.forms.visit_model import SiteView

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

PATH = ("kind", "at", "name", "colour", "location", "length_m", "loss_db", "basis")
BEFORE = "Reading only. Unplug, open or cut nothing before you know what goes dark."


def return_visit(reg: Register | None = None, site: str = "") -> ReturnVisit:
    """Show the screen of the return visit for a register (default: the one of `which_register`)."""
    return ReturnVisit(reg, site)


class ReturnVisit(Screen):
    """The screen; `ask` does by program what typing does."""

    def __init__(self, reg: Register | None = None, site: str = "") -> None:
        super().__init__(reg, "Return visit", caution=f"{EYES} {BEFORE}", name="return-visit")
        self.view: SiteView | None = None
        self.start: Start | None = None
        self.path: pd.DataFrame | None = None
        self.site = SitePicker(self.reg)
        self.search = Picker(
            "Find a core, port, equipment, or any word on a label", placeholder="C1/7, P1/12/A, SW1, lock gates...",
            searching=True, disabled=True,
        )  # fmt: skip
        self.search.add_class("fb-find")
        self.door = w.Dropdown(description="Open the door of", options=[], style={"description_width": "initial"})
        self.door.add_class("fb-door")
        self.answer = w.VBox([])
        self._open = html("", "fb-door-open")
        self.body = [row(self.site, self.search), self.answer]
        self.site.observe(lambda c: self._site_chosen(c["new"]), "value")
        self.search.observe(lambda c: self._searched(c["new"]), "query")
        self.search.observe(lambda c: self._chosen(c["new"]), "value")
        self.door.observe(lambda c: self._opened(), "value")
        self.watch.subscribe(self._newer)
        if site:
            self.site.value = site

    def ask(self, start: Start) -> None:
        """Show a thing at the site chosen."""
        value = json.dumps(start)
        self.search.offer([(value, _name(start))])
        self.search.value = value

    def _site_chosen(self, site: str) -> None:
        self.say("")
        self.view = SiteView(self.reg, site) if site else None
        self.search.disabled = self.view is None
        self.start, self.search.value, self.search.query = None, "", ""
        self._clear()
        if self.view is not None:
            self.guard(lambda: self._about_site())

    def _about_site(self) -> None:
        """What is known of the site before anything is asked for: how to get in, what is open."""
        assert self.view is not None
        about = self.reg.table("sites", self.view.site).iloc[0]
        told = [
            ("Name", "name"),
            ("Customer", "customer"),
            ("Access", "access"),
            ("Hazards", "hazards"),
            ("Notes", "notes"),
        ]
        lines = [
            f"<div><b>{name}:</b> {escape(str(about[c]))}</div>"
            for name, c in told
            if isinstance(about[c], str) and about[c]
        ]
        snags = self.view.snags(("site",), None).drop(columns="here")
        parts = [html("".join(lines), "fb-about-site")]
        if len(snags):
            parts.append(html(table_html(snags, "Open snags at this site"), "fb-snags"))
        self.answer.children = parts
        self._searched("")

    def _searched(self, typed: str) -> None:
        if self.view is None or self.view.site != self.site.value:
            return
        hits = self.view.finder.find(typed)
        with self.search.hold_sync():
            self.search.offer((h.value, h.shown, h.hint) for h in hits)
            self.search.answered = typed

    def _chosen(self, value: str) -> None:
        if value and self.view is not None:
            if self.view.commit != self.reg.commit:  # somebody saved since the last look of the watch
                self.view = SiteView(self.reg, self.view.site)
            self.guard(lambda: self._show(start_of(value)))

    def _newer(self, commit: int) -> None:
        """Another commit came: show the same thing as it is now."""
        if self.view is None:
            return
        self.view = SiteView(self.reg, self.view.site)
        if self.start is None:
            self.guard(self._about_site)
            return
        try:
            self._show(self.start)
        except NotFoundError as error:
            self._clear()
            self.say(f"It is not there any more: {words_of(error)}", "wrong")

    def _clear(self) -> None:
        self.path, self._cores = None, None
        self.answer.children = []

    def _show(self, start: Start) -> None:
        view = self.view
        assert view is not None
        self.say("")
        self.path = view.path(start)
        dark = view.dark(start)
        self.start = start
        parts = [html(_heading(start, self.path), "fb-asked")]
        if self.path is not None:
            picture = path_picture(self.path, f"{view.site}: {_name(start)}, from end to end")
            parts.append(picture_view(picture, "fb-path"))
        parts.append(self._dark(start, dark))
        if self.path is not None:
            parts.append(section("Path from end to end", html(_path_table(self.path), "fb-steps")))
        elif start[0] == "equipment":
            parts.append(self._interfaces(start[1]))
        doors = view.doors(start, self.path)
        if doors:
            self.door.options = doors
            self.door.value = doors[0]
            self._opened()
            parts.append(section("With the door open", self.door, self._open))
        cable = view.cable_of(start, self.path)
        if cable:
            parts.append(self._cable(cable))
        parts.append(self._lists(start))
        self.answer.children = parts

    def _dark(self, start: Start, dark: pd.DataFrame) -> w.VBox:
        words = f"What goes dark if {_name(start)} is unplugged, cut or opened"
        if not len(dark):
            told = (
                "Nothing that the register knows of. What was never written down it cannot know: check for light first."
            )
            return section(words, html(f"<div class='fb-dark-none'>{told}</div>", "fb-dark"))
        frame = dark.drop(columns="site")
        return section(words, html(table_html(frame, f"{len(dark)} in all"), "fb-dark"))

    def _interfaces(self, equipment: str) -> w.VBox:
        assert self.view is not None
        frame = self.view.interfaces_of(equipment)

        def pick(i: int) -> None:
            self.ask(("interface", equipment, frame["interface"].iloc[i], frame["position"].iloc[i]))

        return section(f"Interfaces of {equipment}", picking_table(frame, "Choose one to see its path", pick))

    def _opened(self) -> None:
        if self.view is None or self.door.value is None or self.start is None:
            return
        name, parts = self.door.value, []
        ports, splices = self.view.panel(name), self.view.trays(name)
        on = _on_path(self.path)
        if len(ports):
            parts.append(panel_picture(ports, f"{self.view.site}: {name}", lambda r: self._is_asked(r, on)))
        if len(splices):
            title = f"{self.view.site}: trays of {name}"
            parts.append(
                tray_picture(splices, title, lambda r: ("splice", r["enclosure"], f"{r['tray']}/{r['slot']}") in on)
            )
        self._open.value = (
            picture_html(*parts) or f"<div>No ports and no splices are recorded in {escape(str(name))}.</div>"
        )

    def _is_asked(self, port: Mapping[str, Any], on: set[tuple[str, str, str]]) -> bool:
        name = "/".join(filter(None, (port["port"], port["position"])))
        return ("port", port["enclosure"], name) in on

    def _cable(self, cable: str) -> w.VBox:
        assert self.view is not None
        cores = self.view.cores_of(cable)
        frame = cores.assign(
            tube=[_colour(c, t) for c, t in zip(cores["tube_colour"], cores["tube_tracer"], strict=True)],
            colour=[_colour(c, t) for c, t in zip(cores["core_colour"], cores["core_tracer"], strict=True)],
            at_end_A=[_port(p, q) for p, q in zip(cores["a_port"], cores["a_position"], strict=True)],
            at_end_B=[_port(p, q) for p, q in zip(cores["b_port"], cores["b_position"], strict=True)],
        )[["core", "tube", "colour", "state", "at_end_A", "at_end_B", "channel"]]
        drawn = {"tube": _swatch_of, "colour": _swatch_of}
        ends = self.view.net.ends.table("cables").to_pylist()
        about = next(r for r in ends if r["cable"] == cable)
        caption = (
            f"End A at {about['a_enclosure'] or 'no enclosure'}, end B at {about['b_enclosure'] or 'no enclosure'}"
        )
        table = picking_table(frame, caption, lambda i: self.ask(("core", cable, int(frame["core"].iloc[i]))), drawn)
        table.add_class("fb-cores")
        return section(f"Cores of {cable}", table)

    def _lists(self, start: Start) -> w.VBox:
        assert self.view is not None
        parts = []
        snags, tests = self.view.snags(start, self.path), self.view.tests_on(start, self.path)
        advice = self.view.advice_on(start, self.path)
        for frame, caption, none in (
            (snags, "Open snags (here: named on this path)", "No snag is open at this site."),
            (advice, "Worth a second look on this path", "Nothing on this path wants a second look."),
            (tests, "Last tests of this path, newest first", "No test of this path is recorded."),
        ):
            parts.append(html(table_html(frame, caption) if len(frame) else f"<div>{none}</div>", "fb-lists"))
        return section("Snags, advice, tests", *parts)


def _name(start: Start) -> str:
    kind, *labels = start
    return f"{kind} {'/'.join(str(x) for x in labels if x not in (None, ''))}"


def _heading(start: Start, path: pd.DataFrame | None) -> str:
    name = escape(_name(start))
    if path is None or not len(path):
        return f"<h3 class='fb-heading'>{name}</h3>"
    ends = [f"{path[c].iloc[i]}" for i in (0, -1) for c in ("at",)]
    names = [f"{a}/{n}" if n else a for a, n in zip(ends, (path["name"].iloc[0], path["name"].iloc[-1]), strict=True)]
    mine = path[path["start"]]
    colour = mine["colour"].iloc[0] if len(mine) and isinstance(mine["colour"].iloc[0], str) else ""
    shade = f" {_shades(colour)}" if colour else ""
    between = " to ".join(escape(n) for n in names)
    return f"<h3 class='fb-heading'>{name}{shade}</h3><div class='fb-between'>From {between}</div>"


def _shades(words: str) -> str:
    """Swatches for ``blue tube, orange core with one black stripe``, each with its word."""
    out = []
    for part in words.split(", "):
        colour, _, tracer = part.partition(" with ")
        base, _, what = colour.rpartition(" ")
        out.append(f"{swatch(base, tracer or None)} {escape(what)}")
    return ", ".join(out)


def _path_table(path: pd.DataFrame) -> str:
    drawn = {
        "colour": lambda c: _shades(c) if isinstance(c, str) and c else "",
        "length_m": lambda v: f"{v:.1f}" if v == v else "",
        "loss_db": lambda v: f"{v:.2f}" if v == v else "",
    }
    return table_html(path[[*PATH]], render=drawn)


def _on_path(path: pd.DataFrame | None) -> set[tuple[str, str, str]]:
    if path is None:
        return set()
    return set(zip(path["kind"], path["at"], path["name"], strict=True))


def _colour(colour: Any, tracer: Any) -> str:
    return "|".join(c if isinstance(c, str) else "" for c in (colour, tracer))


def _swatch_of(text: str) -> dict[str, str]:
    from fibrebook.forms.base import swatch_parts

    colour, _, tracer = text.partition("|")
    return swatch_parts(colour or None, tracer or None)


def _port(port: Any, position: Any) -> str:
    return "/".join(p for p in (port, position) if isinstance(p, str) and p)
