"""The front door: the find box, the sites lately used, what asks for attention, and every screen behind one address."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.screens.frame.later import Later
from fibrebook.screens.frame.screen import Screen, html, row
from fibrebook.screens.front_door import cards
from fibrebook.screens.front_door.address_bar import AddressBar
from fibrebook.screens.front_door.addresses import HOME, Address, read_address
from fibrebook.screens.front_door.attention import lines
from fibrebook.screens.front_door.find_box import FindBox
from fibrebook.screens.front_door.found import groups
from fibrebook.screens.front_door.lately import lately_used, look_at
from fibrebook.screens.front_door.rooms import made, rooms
from fibrebook.snapshot.find_in_firm import FirmFinder

if TYPE_CHECKING:
    from fibrebook.register import Register

IDLE_S = 0.05  # between two things that are made ready while nobody waits
READY = ("record-visit",)  # what is long in building, and often the first thing wanted


class Home(Screen):
    """The page. Each screen is built when it is first shown, and kept with what was typed in it.

    Attributes
    ----------
    at : the address of what is shown
    built : the screens built so far, by name
    """

    def __init__(self, reg: Register | None = None) -> None:
        super().__init__(reg, "", name="home")
        self._head.value = self._head.value.partition("<h2")[0] + cards.STYLE  # the register's name is its title
        self._head.add_class("fb-home-style")
        self.at = Address()
        self.built: dict[str, Screen] = {}
        self._slots: dict[str, w.VBox] = {}
        self._moving = False
        self._finder = FirmFinder(self.reg)
        self.bar, self.find = AddressBar(), FindBox()
        self.find.label = "Find in the whole firm"
        self.find.placeholder = "Find: a label, orange 7, a site, a customer…"
        self._top, self._links = html("", "fb-home-name"), html("", "fb-home-links")
        self._lately, self._attention = html("", "fb-lately"), html("", "fb-attention")
        self._ways, about = html("", "fb-ways"), html(cards.what_screens_are_for(), "fb-about-screens")
        self._home = w.VBox([self._ways, w.HBox([self._lately, self._attention]).add_class("fb-home-two"), about])
        self._home.add_class("fb-home-page")
        self._rooms = w.VBox([])
        self.body = [
            self.bar, row(self._top, self.find).add_class("fb-home-head"), self._links, self._home, self._rooms,
        ]  # fmt: skip
        self.find.observe(lambda _: self._search(), "query")
        self.find.observe(lambda _: self.go(read_address(self.find.went)), "goes")
        self.bar.observe(lambda _: self.go(read_address(self.bar.asked)), "asks")
        self._ready: list[Callable[[], Any]] = []
        self._idle = Later(self._make_ready, IDLE_S)
        self._show_firm()
        self._mark()
        self.watch.subscribe(self._news)

    # --- going somewhere ---------------------------------------------------------------------------------------------
    def go(self, address: Address) -> None:
        """Show what an address says; where there is no such screen, say so on the front page."""
        self.say("")
        if address.screen not in rooms() and address.screen != HOME:
            self.say(f"There is no screen “{address.screen}”. Choose one below.", "wrong")
            address = Address()
        self._moving = True
        try:
            self.guard(partial(self._show, address))
        finally:
            self._moving = False
        self._mark()

    def _show(self, address: Address) -> None:
        if address.screen == HOME:
            self._front(HOME)
            self._show_lately()
        else:
            screen = self._screen(address.screen)
            self._front(address.screen)
            screen.turn_to(address.site, address.thing)
        self.at = address
        self._note(address.site)

    def _screen(self, name: str) -> Screen:
        if name not in self.built:
            self.built[name] = screen = made(rooms()[name], self.reg)
            screen.moved = partial(self._moved, name)
            self._slots[name] = w.VBox([screen]).add_class("fb-slot")
            self._slots[name].layout.display = "none"
            self._rooms.children = [*self._rooms.children, self._slots[name]]
        return self.built[name]

    def _front(self, name: str) -> None:
        """Bring the front page or a screen to the front; the others stay as they are, out of sight."""
        for other, slot in self._slots.items():
            slot.layout.display = None if other == name else "none"
        self._home.layout.display = None if name == HOME else "none"

    def _moved(self, name: str, site: str, thing: tuple[Any, ...]) -> None:
        """A screen shows another site or thing by itself: the address follows."""
        if not self._moving and self.at.screen == name:
            self.at = Address(name, site, thing)
            self._note(site)
            self._mark()

    def _note(self, site: str) -> None:
        if site and self.reg.has_site(site):
            look_at(self.reg, site)

    def _mark(self) -> None:
        """Say in the address bar, the tab's title and the links where one is."""
        self._links.value = cards.links(self.at)
        room = rooms().get(self.at.screen)
        firm = self.reg.name or "fibrebook"
        thing = " ".join(str(x) for x in self.at.thing if x not in ("", None))
        parts = [thing, self.at.site, room.title if room else "", firm]
        with self.bar.hold_sync():
            self.bar.title = " – ".join(filter(None, parts))
            self.bar.shown = self.at.text

    # --- the front page ----------------------------------------------------------------------------------------------
    def _news(self, commit: int) -> None:
        self.guard(self._show_firm)
        if self.find.query.strip():
            self._search()

    def _show_firm(self) -> None:
        """Show the register as it is now; what takes longer follows while nobody waits."""
        self._finder = FirmFinder(self.reg)
        self._show_lately()
        self._ways.value = "" if self._finder.sites else cards.ways_to_begin()
        self._ways.layout.display = None if self._ways.value else "none"
        if self._finder.sites and not self._attention.value:
            self._attention.value = cards.looking()
        self._ready = [self._look_at_all, *(partial(self._finder.finder, s) for s in self._finder.to_read())]
        self._ready += [partial(self._screen, name) for name in READY if name not in self.built]
        self._idle.leave()

    def _show_lately(self) -> None:
        self._top.value = cards.name_of_firm(self.reg.name)
        names = lately_used(self.reg)
        self._finder.lately = names
        self._lately.value = cards.sites_lately([self._finder.sites[s] for s in names if s in self._finder.sites],
                                                len(self._finder.sites))  # fmt: skip

    def _look_at_all(self) -> None:
        self._attention.value = cards.attention(lines(self.reg)) if self._finder.sites else ""

    def page_heard(self) -> None:
        """The page is there: what takes longer is made ready, a piece at a time, so that no key waits for it."""
        if self._ready and not self._idle.asked:
            self._idle.ask()

    def _make_ready(self) -> None:
        if self._ready:
            self.guard(self._ready.pop(0))
        if self._ready and _in_a_page():
            self._idle.ask()

    def make_ready(self) -> None:
        """Do all that is otherwise done while nobody waits (for scripts and tests)."""
        while self._ready:
            self.guard(self._ready.pop(0))

    # --- finding -----------------------------------------------------------------------------------------------------
    def _search(self) -> None:
        typed = self.find.query
        answer = self.guard(lambda: self._finder.find(typed, self.at.site))
        if answer is None:
            return
        with self.find.hold_sync():
            self.find.found = groups(answer, typed, list(self._finder.sites))
            self.find.words = answer.words
            self.find.answered = typed

    def shown(self) -> Sequence[str]:
        """Return the names of the screens that are in sight; none on the front page."""
        return [name for name, slot in self._slots.items() if slot.layout.display != "none"]


def _in_a_page() -> bool:
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return False
    return True


def home(reg: Register | None = None) -> Home:
    """Show the front door of a register (default: the one of `which_register`): find, attention, every screen."""
    return Home(reg)
