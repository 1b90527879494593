"""Addresses within the page: which screen, which site, which thing; as they stand after # in the browser."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote, unquote

from fibrebook.snapshot.find import Start

HOME = ""
WHOLE = ("core",)  # kinds whose last label is a number


@dataclass(frozen=True)
class Address:
    """Where one is: screen (HOME or a room's name), site ("" = none), thing there (() = none)."""

    screen: str = HOME
    site: str = ""
    thing: Start = ()

    @property
    def text(self) -> str:
        """The address as text: ``/return-visit/Harbour/core/HO-FM%2F1/9``; slashes within a label are written %2F."""
        parts = [self.screen, self.site, *map(str, self.thing)]
        while parts and not parts[-1] and not self.thing:
            parts.pop()
        return "/" + "/".join(quote(p, safe="") for p in parts)

    @property
    def link(self) -> str:
        """The address as a link within the page."""
        return f"#{self.text}"


def read_address(text: str) -> Address:
    """Read an address; what is no address of ours is taken as far as it goes."""
    parts = [unquote(p) for p in text.strip().lstrip("#").removeprefix("/").split("/")]
    screen, site, *labels = [*parts, "", ""][: max(2, len(parts))]
    thing: Start = tuple(labels) if len(labels) > 1 else ()
    if thing and thing[0] in WHOLE and str(thing[-1]).isdecimal():
        thing = (*thing[:-1], int(thing[-1]))
    return Address(screen, site, thing)
