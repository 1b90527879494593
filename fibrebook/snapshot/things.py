"""The things of a plant that people name: by which labels, in which words, and how one that was found is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Said = str | Sequence[object]  # "C1/7", "core C1/7"; ("C1", "7"); ("core", "C1", 7)


@dataclass(frozen=True)
class Sort:
    """A sort of thing: the table that it stands in, the labels that name it, and how many of them must be said."""

    table: str
    columns: tuple[str, ...]
    least: int


# A core is named by its cable's label and its number.
SORTS = {
    "core": Sort("cables", ("cable",), 1),
    "port": Sort("ports", ("enclosure", "port", "position"), 2),
    "interface": Sort("interfaces", ("equipment", "interface", "position"), 2),
    "channel": Sort("channels", ("channel",), 1),
    "cable": Sort("cables", ("cable",), 1),
    "enclosure": Sort("enclosures", ("enclosure",), 1),
    "equipment": Sort("equipment", ("equipment",), 1),
    "cord": Sort("patches", ("cord",), 1),
    "tray": Sort("splices", ("enclosure", "tray"), 2),
    "location": Sort("locations", ("location",), 1),
}
ON_ONE_PATH = ("core", "port", "interface")
WHOLE = ("cable", "enclosure", "tray", "cord", "equipment")
FORM = {
    "core": "('core', cable, core)", "port": "('port', enclosure, port, position)",
    "interface": "('interface', equipment, interface, position)", "channel": "('channel', channel)",
}  # fmt: skip
# Words by which people say what sort of thing they mean, before its label or within it.
SPOKEN = {
    "core": "core", "cores": "core", "fibre": "core", "port": "port", "ports": "port", "cable": "cable",
    "cord": "cord", "channel": "channel", "interface": "interface", "panel": "enclosure", "enclosure": "enclosure",
    "closure": "enclosure",
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """A thing of the plant: its sort (of `SORTS`), site, labels as recorded, row in its table (core: its cable's)."""

    kind: str
    site: str
    key: tuple[str, ...]
    row: int

    @property
    def start(self) -> tuple[str, ...]:
        """The thing as `trace` takes it."""
        return (self.kind, *self.key)

    @property
    def text(self) -> str:
        """The thing in words: core C1 7."""
        return " ".join([self.kind, *filter(None, self.key)])
