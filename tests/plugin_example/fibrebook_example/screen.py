"""A screen of our own: the ducts of the firm, or of the site that is chosen."""

from __future__ import annotations

from typing import Any

from fibrebook.screens.frame.screen import Screen, section, table_view


class Ducts(Screen):
    """A table of ducts that follows the register."""

    def __init__(self, reg: Any) -> None:
        super().__init__(reg, "Ducts", name="ducts")
        self.site = ""
        self.watch.subscribe(self.show)
        self.show()

    def turn_to(self, site: str = "", thing: tuple[Any, ...] = ()) -> None:
        """Show the ducts of a site; of all where none is named."""
        self.site = site
        self.show()

    def show(self, commit: int = 0) -> None:
        """Show what the register holds now."""
        ducts = self.reg.table("ducts", self.site or None)
        self.body = [section(f"{len(ducts)} ducts", table_view(ducts))]
