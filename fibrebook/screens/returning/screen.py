"""The return visit: pick the site, ask for anything at it, see the whole path, the open panel, and what goes dark."""

from __future__ import annotations

import json
from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.drawings import panel_picture, path_picture, tray_picture
from fibrebook.errors import NotFoundError
from fibrebook.screens.frame.in_view import InView
from fibrebook.screens.frame.screen import EYES, Picker, Screen, SitePicker, html, row, section, table_html, words_of
from fibrebook.screens.returning.model import SiteView
from fibrebook.screens.returning.told import colour_text, heading_of, name_of, on_path, path_table, port_text, swatch_of
from fibrebook.screens.widgets.photo_strip import PhotoStrip
from fibrebook.screens.widgets.pictures import picture_html, picture_view
from fibrebook.screens.widgets.row_picker import picking_table
from fibrebook.snapshot.find import Finder, Start, start_of

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

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
        self.answer, self.look = w.VBox([]), InView()
        self.photos: PhotoStrip | None = None
        self._open = html("", "fb-door-open")
        self._filling = False
        self.body = [row(self.site, self.search), self.look, self.answer]
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
        self.search.offer([(value, name_of(start))])
        self.search.value = value

    def turn_to(self, site: str, thing: Start = ()) -> None:
        """Show a site, or a thing at it; without one, what is known of the site itself."""
        same = site == self.site.value
        super().turn_to(site)
        if thing and thing != self.start:
            self.ask(thing)
        elif site and not thing and same and self.start is not None:
            self._site_chosen(site)

    def _picked(self, start: Start) -> None:
        """Show what was chosen by a row far down the page."""
        self.ask(start)
        self.look.call()

    def _site_chosen(self, site: str) -> None:
        self.say("")
        self.view, self.start = None, None
        self.search.clear()
        self.search.offer([])
        self._clear()
        if site:
            self.guard(lambda: self._begin(site), self._nothing)
        self.search.disabled = self.view is None

    def _begin(self, site: str) -> None:
        self.view = SiteView(self.reg, site)
        self._about_site()

    def _nothing(self) -> None:
        """What is chosen cannot be read: nothing that belongs to something else stays shown."""
        self.view, self.start = None, None
        self._clear()

    def _about_site(self) -> None:
        """What is known of the site before anything is asked for: how to get in, what is open."""
        assert self.view is not None
        about = self.reg.table("sites", self.view.site).iloc[0]
        lines = [
            f"<div><b>{c.capitalize()}:</b> {escape(about[c])}</div>"
            for c in ("name", "customer", "access", "hazards", "notes")
            if isinstance(about[c], str) and about[c]
        ]
        snags = self.view.snags(("site",), None).drop(columns="here")
        parts = [html("".join(lines), "fb-about-site")]
        if len(snags):
            parts.append(html(table_html(snags, "Open snags at this site"), "fb-snags"))
        photos = self._photos(None)
        self._show_parts([*parts, photos] if self.photos is not None else parts)
        self._searched("")

    def _searched(self, typed: str) -> None:
        if self.view is None or self.view.site != self.site.value:
            return
        hits = self.guard(lambda: self._finder().find(typed), lambda: self.search.offer([]))
        if hits is None:
            return
        with self.search.hold_sync():
            self.search.offer((h.value, h.shown, h.hint) for h in hits)
            self.search.answered = typed

    def _finder(self) -> Finder:
        assert self.view is not None
        return self.view.finder

    def _chosen(self, value: str) -> None:
        if value and self.view is not None:
            self.guard(lambda: self._ask(value), self._clear)

    def _ask(self, value: str) -> None:
        assert self.view is not None
        if self.view.commit != self.reg.commit:  # somebody saved since the last look of the watch
            self.view = SiteView(self.reg, self.view.site)
        self._show(start_of(value))

    def _newer(self, commit: int) -> None:
        """Another commit came: show the same thing as it is now, where anything of this site is another."""
        self.guard(lambda: self._as_now(commit))

    def _as_now(self, commit: int) -> None:
        if self.view is None:
            return
        if not len(self.reg.differences(self.view.commit, site=self.view.site)):
            self.view.commit = commit
            return
        self.view = SiteView(self.reg, self.view.site)
        if self.start is None:
            self._about_site()
            return
        try:
            self._show(self.start)
        except NotFoundError as error:
            self._clear()
            self.say(f"It is not there any more: {words_of(error)}", "wrong")

    def _clear(self) -> None:
        self.path, self.photos = None, None
        self.answer.children = []

    def _show(self, start: Start) -> None:
        view = self.view
        assert view is not None
        self.say("")
        door = self.door.value if start == self.start else None
        self.path = view.path(start)
        dark = view.dark(start)
        self.start = start
        parts = [html(heading_of(start, self.path), "fb-asked")]
        if self.path is not None:
            picture = path_picture(self.path, f"{view.site}: {name_of(start)}, from end to end")
            parts.append(picture_view(picture, "fb-path"))
        parts.append(self._dark(start, dark))
        if self.path is not None:
            parts.append(section("Path from end to end", html(path_table(self.path), "fb-steps")))
        elif start[0] == "equipment":
            parts.append(self._interfaces(start[1]))
        doors = view.doors(start, self.path)
        if doors:
            self._offer_doors(doors, door)
            parts.append(section("With the door open", self.door, self._open))
        cable = view.cable_of(start, self.path)
        if cable:
            parts.append(self._cable(cable))
        parts += [self._photos(start), self._lists(start)]
        self._show_parts(parts)
        self.moved(view.site, start)

    def _offer_doors(self, doors: list[str], open_now: str | None) -> None:
        """Offer doors to open; one that is open already stays so."""
        self._filling = True
        self.door.options = doors
        self.door.value = open_now if open_now in doors else doors[0]
        self._filling = False
        self._opened()

    def _photos(self, start: Start | None) -> w.VBox:
        """Photos of a thing, or all of the site; their pictures are read once the rest is shown."""
        assert self.view is not None
        rows = self.view.photos(start, self.path if start is not None else None)
        title = "Photos" if start is not None else "Photos of this site, newest first"
        if not rows:
            self.photos = None
            return section(title, html("<div>No photo is kept of it, or of where it is.</div>", "fb-photos-none"))
        self.photos = PhotoStrip(self.reg, rows)
        self.photos.add_class("fb-photos")
        return section(title, self.photos)

    def _show_parts(self, parts: list[w.Widget]) -> None:
        self.answer.children = parts
        if self.photos is not None:
            self.photos.show_more()

    def _dark(self, start: Start, dark: pd.DataFrame) -> w.VBox:
        words = f"What goes dark if {name_of(start)} is unplugged, cut or opened"
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
            self._picked(("interface", equipment, frame["interface"].iloc[i], frame["position"].iloc[i]))

        return section(f"Interfaces of {equipment}", picking_table(frame, "Choose one to see its path", pick))

    def _opened(self) -> None:
        if self._filling or self.view is None or self.door.value is None or self.start is None:
            return
        self._open.value = ""
        self.guard(self._open_door)

    def _open_door(self) -> None:
        assert self.view is not None
        name, parts = self.door.value, []
        ports, splices = self.view.panel(name), self.view.trays(name)
        on = on_path(self.path)
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
            tube=[colour_text(c, t) for c, t in zip(cores["tube_colour"], cores["tube_tracer"], strict=True)],
            colour=[colour_text(c, t) for c, t in zip(cores["core_colour"], cores["core_tracer"], strict=True)],
            at_end_A=[port_text(p, q) for p, q in zip(cores["a_port"], cores["a_position"], strict=True)],
            at_end_B=[port_text(p, q) for p, q in zip(cores["b_port"], cores["b_position"], strict=True)],
        )[["core", "tube", "colour", "state", "at_end_A", "at_end_B", "channel"]]
        drawn = {"tube": swatch_of, "colour": swatch_of}
        ends = self.view.net.ends.table("cables").to_pylist()
        about = next(r for r in ends if r["cable"] == cable)
        caption = (
            f"End A at {about['a_enclosure'] or 'no enclosure'}, end B at {about['b_enclosure'] or 'no enclosure'}"
        )
        table = picking_table(
            frame, caption, lambda i: self._picked(("core", cable, int(frame["core"].iloc[i]))), drawn
        )
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
